"""Every address × every role × own and foreign project, from the table; and what holds of every answer."""

from __future__ import annotations

import json
import re
from uuid import UUID

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import Resolver404, resolve, reverse

from accounts.journal import plain
from accounts.models import Letter, Person
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.actions import report_incident
from inspection.recall.actions import recall
from inspection.trace.kinds import kinds
from tests.cast import MORNING
from tests.sight import markers
from tests.sight.reading import words_of
from tests.sight.rows import (
    ADMIN,
    ANONYMOUS,
    AUDITOR,
    CLIENT,
    CONTRACTOR,
    INSPECTOR,
    MANAGER,
    METHODS,
    NARROW,
    Route,
    Row,
    routes,
)
from tests.sight.table import ROWS
from tests.sight.table.trace import OF_PROJECT, SHARED
from tests.sight.world import HOUR, Place, World

pytestmark = pytest.mark.django_db
ROUTES = {route.name: route for route in routes()}
# What differs from one page to the next anyway: the form's token, and the id that was asked for.
TOKEN = re.compile(rb'name="csrfmiddlewaretoken" value="[^"]+"|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}')
LINK = re.compile(r'<a\b[^>]*\shref="(/[^"?#]*)')
CLOSED = {403, 404}
INLINE = re.compile(r"<style|<[^>]+\sstyle\s*=|<script(?![^>]+\bsrc=)|<[^>]+\son[a-z]+\s*=|javascript:", re.IGNORECASE)


@pytest.fixture(scope="module")
def people(world: World) -> dict[str, Person | None]:
    cast = world.cast
    return {
        ANONYMOUS: None, INSPECTOR: cast.ines, MANAGER: cast.quinn, CLIENT: cast.clara, CONTRACTOR: world.own.painter,
        AUDITOR: cast.audrey,
        ADMIN: cast.admin,
    }  # fmt: skip


@pytest.fixture(scope="module")
def clients(people: dict[str, Person | None]) -> dict[str, Client]:
    clients = {role: Client() for role in people}
    for role, person in people.items():
        if person:
            clients[role].force_login(person)
    return clients


def ask(client: Client, route: Route, method: str, row: Row, place: Place, *, unknown: bool = False) -> HttpResponse:
    """The answer to one request, with all that it changed rolled back; `unknown` asks for ids that nothing has."""
    cookies = client.cookies.output()
    with transaction.atomic():
        args, data = row.args(place), row.data(place)
        if unknown:
            args = {name: new_id() if isinstance(value, UUID) else value for name, value in args.items()}
        address = reverse(route.name, kwargs=args)
        if method == "GET":
            answer = client.get(address, data)
        elif route.api:
            answer = client.generic(method, address, json.dumps(plain(data)), "application/json")
        else:
            answer = getattr(client, method.lower())(address, data)
        if answer.streaming:
            answer = HttpResponse(b"".join(answer.streaming_content), status=answer.status_code, headers=answer.headers)
        transaction.set_rollback(True)
    if client.cookies.output() != cookies:
        client.cookies.load(cookies.replace("Set-Cookie: ", ""))
    return answer


def test_every_route_has_a_name_of_its_own() -> None:
    names = [route.name for route in routes()]
    assert sorted(names) == sorted(set(names))


def test_every_route_has_a_row() -> None:
    missing = sorted(set(ROUTES) - {row.name for row in ROWS})
    assert not missing, f"add a row to tests/sight/table for: {', '.join(missing)}"


def test_every_row_is_of_a_route() -> None:
    gone = sorted({row.name for row in ROWS} - set(ROUTES))
    assert not gone, f"no such route any more: {', '.join(gone)}"


def test_every_kind_of_thing_that_can_be_traced_has_rows() -> None:
    missing = {kind.name for kind in kinds()} - {*OF_PROJECT, *SHARED}
    assert not missing, f"add to tests/sight/table/trace.py: {', '.join(sorted(missing))}"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.method} {row.name}")
def test_each_role_gets_what_the_table_says(
    row: Row, world: World, people: dict[str, Person | None], clients: dict[str, Client]
) -> None:
    route, wrong = ROUTES[row.name], []
    for foreign in (False, True) if row.scoped else (False,):
        for role, person in people.items():
            answer = ask(clients[role], route, row.method, row, world.foreign if foreign else world.own)
            expected = row.expected(role, foreign=foreign, api=route.api)
            where = f"{role} {'in a foreign project' if foreign else 'at home'}"
            if answer.status_code not in expected:
                wrong.append(f"{where}: {answer.status_code}, not {sorted(expected)}")
            wrong += [f"{where}: {fault}" for fault in faults_of(answer, route)]
            if person and not foreign and row.method == "GET" and answer.status_code == 200:
                wrong += [f"{where}: leads to {name}, which is closed to them" for name in led_astray(answer, role)]
            if person and role not in row.names_others_to:
                told = world.told_of_foreign(person, words_of(answer))
                wrong += [f"{where}: tells {word} of the foreign project" for word in told]
            if foreign and role in NARROW and role not in row.foreign_seen:
                nothing = ask(clients[role], route, row.method, row, world.foreign, unknown=True)
                if _without_tokens(answer) != _without_tokens(nothing):
                    wrong.append(f"{where}: answers otherwise than for what does not exist")
    assert not wrong, "\n".join(wrong)


def _without_tokens(answer: HttpResponse) -> tuple[int, bytes]:
    return answer.status_code, TOKEN.sub(b"", answer.content)


def led_astray(answer: HttpResponse, role: str) -> set[str]:
    """The routes that a page leads the role to, though the table closes them to it."""
    if not answer.headers.get("Content-Type", "").startswith("text/html"):
        return set()
    names = set()
    for address in set(LINK.findall(answer.content.decode())):
        try:
            names.add(resolve(address).url_name)
        except Resolver404:
            continue
    # By any of its rows: what one thing of a kind is closed to them, another of theirs may not be.
    open_to = {row.name for row in ROWS if row.expected(role, foreign=False, api=False) - CLOSED}
    return (names & {row.name for row in ROWS}) - open_to


def faults_of(answer: HttpResponse, route: Route) -> list[str]:
    """What must hold of every answer: the policy, and nothing inline."""
    faults = []
    policy = answer.headers.get("Content-Security-Policy", "")
    if "script-src 'self'" not in policy or "style-src 'self'" not in policy or "unsafe" in policy:
        faults.append(f"the content security policy is {policy!r}")
    if answer.headers.get("X-Content-Type-Options") != "nosniff":
        faults.append("no X-Content-Type-Options")
    # What is the same for everybody may be kept, and is asked for anew each time.
    wanted = (
        "no-cache" if route.name in ("field-worker", "field-manifest") and answer.status_code == 200 else "no-store"
    )
    if wanted not in answer.headers.get("Cache-Control", ""):
        faults.append(f"may be kept: Cache-Control is {answer.headers.get('Cache-Control')!r}")
    kind = answer.headers.get("Content-Type", "")
    if route.api and answer.status_code >= 400 and "problem+json" not in kind:
        faults.append(f"an error of the API came as {kind}")
    text = answer.content.decode("utf-8", "replace")
    if kind.startswith("text/html") and (found := INLINE.search(text)):
        faults.append(f"inline: {text[max(0, found.start() - 60) : found.end() + 60]!r}")
    return faults


@pytest.mark.parametrize("name", sorted(ROUTES))
def test_a_method_without_a_row_is_refused(name: str, world: World, clients: dict[str, Client]) -> None:
    rows = {row.method: row for row in ROWS if row.name == name}
    if not rows:
        pytest.fail(f"add a row to tests/sight/table for {name}")
    for method in set(METHODS) - set(rows):
        row = next(iter(rows.values()))
        answer = ask(clients[MANAGER], ROUTES[name], method, row, world.own)
        assert answer.status_code == 405, f"{method} answers {answer.status_code}; give it a row, or refuse it"


def test_every_text_of_every_table_bears_a_marker(world: World) -> None:
    lacking = []
    for model, field in markers.marked():
        if markers.name_of(model) not in markers.WAYS:
            lacking.append(f"{markers.name_of(model)}: say in tests/sight/markers.py how its rows lead to a project")
            continue
        rows = markers.rows_of(world.foreign, model)
        mark = world.foreign.tools if markers.name_of(model) in markers.SHARED else world.foreign.mark
        if not any(f"{mark}x" in str(value) for value in rows.values_list(field.attname, flat=True)):
            lacking.append(f"{markers.name_of(model, field)}: no row of the foreign place; build one in the world")
    assert not lacking, "\n".join(lacking)


def test_what_is_said_to_hold_no_writing_is_a_column() -> None:
    known = {markers.name_of(model, field) for model, field in markers.text_columns()}
    assert not markers.NO_WRITING - known
    tables = {markers.name_of(model) for model, _ in markers.text_columns()}
    assert not ({*markers.WAYS, *markers.OF_THE_COMPANY} - tables)


def test_no_letter_tells_its_reader_of_a_foreign_project(world: World) -> None:
    own, cast = world.own, world.cast
    with transaction.atomic():
        point = own.things["point"]
        Decision.objects.create(
            point=point, number=2, outcome=Decision.Outcome.RELEASED, person=cast.clara, signed_as="Clara",
            evidence={}, evidence_digest="0" * 64,
        )  # fmt: skip
        HoldPoint.objects.filter(pk=point.pk).update(state=HoldPoint.State.RELEASED)
        report_incident(cast.igor, gauge=own.things["gauge"], at=MORNING + HOUR, what=f"Fell at {world.foreign.mark}")
        for place in (own, world.foreign):
            recall(cast.quinn, certificate=place.things["certificate"], reason="oven out")
        letters = list(Letter.objects.exclude(kind="test").select_related("person__organisation"))
        transaction.set_rollback(True)
    assert cast.clara in {letter.person for letter in letters}
    told = [
        f"{letter.kind} tells {letter.person} {word}"
        for letter in letters
        if letter.person and letter.person not in (cast.igor, world.foreign.client)
        for word in world.told_of_foreign(letter.person, f"{letter.subject}\n{letter.body}")
    ]
    assert not told, "\n".join(told)
