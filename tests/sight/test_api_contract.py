"""Every address of the API under generated input: it answers as the committed document says, and never with a crash.

The input is made by schemathesis from the document, right and wrong; ids are those of real things where an address
names one, so that answers and not only refusals are held to the document. Each request is sent as every role.
"""

from __future__ import annotations

import json
import os
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import requests
import schemathesis
import yaml
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from hypothesis import HealthCheck, Phase, seed, settings
from schemathesis.checks import not_a_server_error
from schemathesis.generation.meta import TestPhase
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from accounts.schema import METHODS
from tests.fieldwork.samples import SAMPLES
from tests.sight.rows import ADMIN, ANONYMOUS, AUDITOR, CLIENT, INSPECTOR, MANAGER
from tests.sight.world import World

pytestmark = pytest.mark.django_db
DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "openapi.yaml"
raw: dict[str, Any] = yaml.load(DOCUMENT.read_text(), Loader=yaml.CSafeLoader)
api = schemathesis.openapi.from_dict(raw)
# What is found is reported as it was sent: making it smaller would take longer than finding it.
PHASES = (Phase.explicit, Phase.generate)
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
# The thing of the world that an address's {id} names.
NAMED = {
    "batches": "batch", "batch-steps": "batch_step", "mixes": "mix", "recalls": "recall",
    "notices": "notice", "photos": "photo", "drawings": "drawing", "drawing-revisions": "drawing_revision",
    "drawing-notes": "drawing_note", "diary": "diary_entry", "day-signatures": "day_signature",
    "areas": "area", "certificates": "certificate", "climate": "climate", "dispositions": "rework",
    "stations": "station", "logger-files": "logger_file", "printed-sheets": "printed",
    "crew-people": "crew_person", "crews": "crew", "deviation-answers": "deviation_answer", "deviations": "deviation",
    "members": "membership", "gauges": "gauge", "hold-points": "point", "parties": "party",
    "plan-approvals": "plan_approval", "scopes": "scope", "shifts": "shift",
    "specification-revisions": "specification_revision", "specifications": "specification",
    "nonconformances": "nonconformance", "plan-revisions": "plan_revision", "profile": "profile", "projects": "project",
    "pulloff": "pulloff", "wetsponge": "wetsponge", "highvoltage": "highvoltage", "cuttest": "cuttest",
    "cure": "cure", "hardness": "hardness", "defects": "defects", "wetfilm": "wetfilm",
    "extent-spots": "extent_spot", "repaired-parts": "repaired_part", "rework": "rework_item",
    "rework-entries": "rework_entry",
    "reading-questions": "question",
    "reports": "report", "report-words": "word",
    "reportings": "reporting", "sections": "section", "standards": "shim", "systems": "system",
    "lots": "lot", "thickness": "record", "verifications": "verification", **{name: name for name in SAMPLES},
}  # fmt: skip


# A few examples of each operation in the suite; API_EXAMPLES=50 looks longer.
FEW = 2
EXAMPLES = int(os.environ.get("API_EXAMPLES", FEW))
ROLES = [ANONYMOUS, INSPECTOR, MANAGER, CLIENT, AUDITOR, ADMIN]
TURN = count()


@pytest.fixture(scope="module")
def clients(world: World) -> dict[str, Client]:
    cast = world.cast
    people = {
        ANONYMOUS: None, INSPECTOR: cast.ines, MANAGER: cast.quinn, CLIENT: cast.clara, AUDITOR: cast.audrey,
        ADMIN: cast.admin,
    }  # fmt: skip
    clients = {}
    for role, person in people.items():
        clients[role] = Client(raise_request_exception=False)
        if person:
            clients[role].force_login(person)
    return clients


@api.parametrize()
@seed(1)
@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck), phases=PHASES, database=None)
def test_any_input_of_any_role_is_answered_as_the_document_says(
    case: Any, world: World, clients: dict[str, Client]
) -> None:
    if case.path_parameters:
        case.path_parameters.update(named_by(case.path, world))
    sent = requests.Request(**case.as_transport_kwargs(base_url="http://testserver")).prepare()
    for role in roles_for(case):
        answer = ask(clients[role], sent)
        if role == ANONYMOUS:
            assert answer.status_code >= 400, f"a stranger is answered {answer.status_code}"
        if answer.status_code >= 400:
            assert answer["Content-Type"] == "application/problem+json"
            assert json.loads(answer.content)["status"] == answer.status_code
        headers = {name: [value] for name, value in answer.headers.items()}
        seen = schemathesis.Response(answer.status_code, headers, answer.content, sent, elapsed=0.0, verify=False)
        case.validate_response(seen, checks=CHECKS)


def named_by(path: str, world: World) -> dict[str, str]:
    """Ids of real things for the names in an address: its thing by the first word of it, a project by its own name."""
    room, things = path.split("/")[2], world.own.things
    ids = {"project": str(things["project"].pk)} if "{project}" in path else {}
    if "{id}" in path and room in NAMED:
        ids["id"] = str(things[NAMED[room]].pk)
    return ids


def roles_for(case: Any) -> list[str]:
    """All of them for what was generated. What is made of each bound and type, some seventy cases an operation, goes to
    the one who may do most, one case in four, each operation beginning elsewhere; API_EXAMPLES=50 sends all of it."""
    if EXAMPLES > FEW or case.meta is None or case.meta.phase.name is not TestPhase.COVERAGE:
        return ROLES
    return [] if next(TURN) % 4 else [MANAGER]


def ask(client: Client, sent: requests.PreparedRequest) -> HttpResponse:
    """The answer to one request, with all that it changed rolled back."""
    with transaction.atomic():
        answer = client.generic(
            str(sent.method), sent.path_url, sent.body or b"",
            str(sent.headers.get("Content-Type", "application/json")), headers={"Accept": "application/json"},
        )  # fmt: skip
        transaction.set_rollback(True)
    return HttpResponse(b"".join(answer), status=answer.status_code, headers=answer.headers)


TOO_LARGE = b"x" * 13_000_000


@pytest.mark.parametrize("path", sorted(raw["paths"]))
def test_forms_and_media_types_of_no_use_here_are_answered_as_documented(
    path: str, world: World, clients: dict[str, Client]
) -> None:
    named = {"name": "dew_point", "key": "x", "revision": 1, "digest": "0" * 64}
    address, documented = path.format(**named, **named_by(path, world)), raw["paths"][path]
    for method in [method for method in METHODS if method in documented]:
        for kind, accept, body in (
            ("application/json", "image/png", b"{}"), ("text/xml", "application/json", b"<a/>"),
            ("application/json", "application/json", b"[[[["),
            ("application/json", "application/json", TOO_LARGE),
        ):  # fmt: skip
            if method == "get" and body != b"{}":
                continue
            with transaction.atomic():
                answer = clients[MANAGER].generic(method.upper(), address, body, kind, headers={"Accept": accept})
                transaction.set_rollback(True)
            assert str(answer.status_code) in documented[method]["responses"], f"{method} {address}, {kind}, {accept}"


def test_every_operation_names_its_statuses_and_no_other_is_let_through() -> None:
    for path, operations in raw["paths"].items():
        for method in METHODS:
            answers = operations.get(method, {"responses": {"401": {}}})["responses"]
            assert "default" not in answers, f"{method} {path} would allow any answer"
            assert "401" in answers
            assert "500" not in answers
