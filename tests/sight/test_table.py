"""Every address × every role × own and foreign project, from the table; and what holds of every answer."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from tests.sight import world as worlds
from tests.sight.rows import ADMIN, ANONYMOUS, AUDITOR, CLIENT, INSPECTOR, MANAGER, METHODS, NARROW, Route, Row, routes
from tests.sight.table import ROWS
from tests.sight.world import Place, World

pytestmark = pytest.mark.django_db
ROUTES = {route.name: route for route in routes()}
INLINE = re.compile(r"<style|<[^>]+\sstyle\s*=|<script(?![^>]+\bsrc=)|<[^>]+\son[a-z]+\s*=|javascript:", re.IGNORECASE)


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: Any) -> Iterator[World]:
    """Built once for all rows; each request is rolled back."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield worlds.build()
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def clients(world: World) -> dict[str, Client]:
    cast = world.cast
    people: dict[str, Person] = {
        INSPECTOR: cast.ines, MANAGER: cast.quinn, CLIENT: cast.clara, AUDITOR: cast.audrey, ADMIN: cast.admin,
    }  # fmt: skip
    clients = {role: Client() for role in (ANONYMOUS, *people)}
    for role, person in people.items():
        clients[role].force_login(person)
    return clients


def ask(client: Client, route: Route, method: str, row: Row, place: Place) -> HttpResponse:
    """The answer to one request, with all that it changed rolled back."""
    cookies = client.cookies.output()
    with transaction.atomic():
        address = reverse(route.name, kwargs=row.args(place))
        data = row.data(place)
        if route.api:
            answer = client.generic(method, address, json.dumps(data) if method != "GET" else "", "application/json")
        elif method == "GET":
            answer = client.get(address, data)
        else:
            answer = getattr(client, method.lower())(address, data)
        if answer.streaming:
            list(answer.streaming_content)
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


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.method} {row.name}")
def test_each_role_gets_what_the_table_says(row: Row, world: World, clients: dict[str, Client]) -> None:
    route = ROUTES[row.name]
    wrong = []
    for foreign in (False, True) if row.scoped else (False,):
        place = world.foreign if foreign else world.own
        for role, client in clients.items():
            answer = ask(client, route, row.method, row, place)
            expected = row.expected(role, foreign=foreign, api=route.api)
            where = "in a foreign project" if foreign else "at home"
            if answer.status_code not in expected:
                wrong.append(f"{role} {where}: {answer.status_code}, not {sorted(expected)}")
            wrong += [f"{role} {where}: {fault}" for fault in faults_of(answer, role, world)]
    assert not wrong, "\n".join(wrong)


def faults_of(answer: HttpResponse, role: str, world: World) -> list[str]:
    """What must hold of every answer: the policy, nothing inline, nothing of another client's project."""
    faults = []
    policy = answer.headers.get("Content-Security-Policy", "")
    if "script-src 'self'" not in policy or "style-src 'self'" not in policy or "unsafe" in policy:
        faults.append(f"the content security policy is {policy!r}")
    if answer.headers.get("X-Content-Type-Options") != "nosniff":
        faults.append("no X-Content-Type-Options")
    kind = answer.headers.get("Content-Type", "")
    if (
        answer.status_code >= 400
        and "api_" in str(getattr(answer, "resolver_match", ""))
        and "problem+json" not in kind
    ):
        faults.append(f"an error of the API came as {kind}")
    text = "" if answer.streaming else answer.content.decode("utf-8", "replace")
    if kind.startswith("text/html") and (found := INLINE.search(text)):
        faults.append(f"inline: {text[max(0, found.start() - 60) : found.end() + 60]!r}")
    if role in NARROW and kind.startswith(("text/", "application/")) and "pdf" not in kind:
        faults += [f"shows {secret!r} of another project" for secret in world.secrets if secret in text]
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
