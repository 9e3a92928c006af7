"""Every address of the API under generated input: it answers as the committed document says, and never with a crash.

The input is made by schemathesis from the document, right and wrong; ids are those of real things where an address
names one, so that answers and not only refusals are held to the document.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import requests
import schemathesis
import yaml
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.sight.world import World

pytestmark = pytest.mark.django_db
DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "openapi.yaml"
api = schemathesis.openapi.from_dict(yaml.safe_load(DOCUMENT.read_text()))
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
# The thing of the world that an address's {id} names.
NAMED = {
    "areas": "area", "certificates": "certificate", "climate": "climate", "gauges": "gauge", "hold-points": "point",
    "nonconformances": "nonconformance", "projects": "project", "reports": "report", "standards": "shim",
    "systems": "system", "thickness": "record", "verifications": "verification",
}  # fmt: skip


@pytest.fixture(scope="module")
def client(world: World) -> Client:
    client = Client()
    client.force_login(world.cast.quinn)
    client.raise_request_exception = False
    return client


@api.parametrize()
@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None)
def test_any_input_is_answered_as_the_document_says(case: Any, world: World, client: Client) -> None:
    room = case.path.split("/")[2]
    if "id" in (case.path_parameters or {}) and room in NAMED:
        case.path_parameters["id"] = str(world.own.things[NAMED[room]].pk)
    sent = requests.Request(**case.as_transport_kwargs(base_url="http://testserver")).prepare()
    body = sent.body or b""
    with transaction.atomic():
        answer = client.generic(
            sent.method, sent.path_url, body, sent.headers.get("Content-Type", "application/json"),
            headers={"Accept": "application/json"},
        )  # fmt: skip
        transaction.set_rollback(True)
    if answer.status_code >= 400:
        assert answer["Content-Type"] == "application/problem+json"
        assert json.loads(answer.content)["status"] == answer.status_code
    headers = {name: [value] for name, value in answer.headers.items()}
    seen = schemathesis.Response(answer.status_code, headers, answer.content, sent, elapsed=0.0, verify=False)
    case.validate_response(seen, checks=CHECKS)
