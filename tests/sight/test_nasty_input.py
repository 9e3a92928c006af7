"""Every page and address, asked with values nobody would type in everything it reads: none is answered by a fault.

What an address reads is learnt from itself: its view is asked once, and the names it looks up are noted down. The suite
tries a few names a page, with another value each; NASTY=all tries every value for every name.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from typing import Any

import pytest
from django.db import transaction
from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from tests.sight.rows import Row, routes
from tests.sight.table import ROWS
from tests.sight.world import World

pytestmark = pytest.mark.django_db
ROUTES = {route.name: route for route in routes()}
ALL = os.environ.get("NASTY") == "all"
VALUES = (
    "-1", "0", "9" * 40, "9" * 5000, "1e400", "NaN", "-Infinity", "0001-01-01", "9999-12-31", "0001-01-01T00:00",
    "9999-12-31T23:59", "2026-02-30", "x" * 70_000, "é\u202e\ud7ff", "\x01\r\nX: y", "[", "%", "' OR 1=1 --", "٣",
    "00000000-0000-0000-0000-000000000000", "last", "1,5", "--", "{{ 7 }}",
)  # fmt: skip
# One after the other, so that each value is tried on many names and each name on a few values.
TURN = count()
READS = [row for row in ROWS if row.method in {"GET", "POST"} and not ROUTES[row.name].api]


@contextmanager
def noting_names() -> Iterator[set[str]]:
    names: set[str] = set()
    kept = {name: getattr(QueryDict, name) for name in ("__getitem__", "getlist", "__contains__")}

    def noting(read: Any) -> Any:
        def noted(self: QueryDict, key: str, *args: Any) -> Any:
            names.add(key)
            return read(self, key, *args)

        return noted

    for name, read in kept.items():
        setattr(QueryDict, name, noting(read))
    try:
        yield names
    finally:
        for name, read in kept.items():
            setattr(QueryDict, name, read)


@pytest.fixture(scope="module")
def client(world: World) -> Client:
    client = Client()
    client.raise_request_exception = False
    client.force_login(world.cast.quinn)
    return client


@pytest.mark.parametrize("row", READS, ids=lambda row: f"{row.method} {row.name}")
def test_no_value_makes_a_fault_of_ours(row: Row, world: World, client: Client) -> None:
    address, data = reverse(row.name, kwargs=row.args(world.own)), row.data(world.own)
    cookies = client.cookies.output()

    def ask(sent: dict[str, Any]) -> int:
        with transaction.atomic():
            answer = client.get(address, sent) if row.method == "GET" else client.post(address, sent)
            transaction.set_rollback(True)
        if client.cookies.output() != cookies:
            client.cookies.load(cookies.replace("Set-Cookie: ", ""))
        return int(answer.status_code)

    with noting_names() as names:
        ask(data)
    for name in sorted(names - {"csrfmiddlewaretoken"})[: None if ALL else 2]:
        for value in VALUES if ALL else [VALUES[next(TURN) % len(VALUES)]]:
            status = ask({**data, name: value})
            assert status < 500, f"{row.method} {address} answers {status} to {name}={value[:60]!r}"
