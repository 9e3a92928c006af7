"""How the site speaks to what stands beside it, and which requests its web server takes for one."""

from __future__ import annotations

import os
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.checks.registry import registry

from accounts.checks import lines_are_encrypted, unencrypted
from tests import services


def told(database: dict[str, Any], redis: str) -> list[str]:
    return [str(warning.id) for warning in unencrypted(database, redis)]


def test_a_database_or_redis_on_another_machine_without_tls_is_told() -> None:
    assert lines_are_encrypted in registry.get_checks(include_deployment_checks=True)
    verified = {"HOST": "db.example.com", "OPTIONS": {"sslmode": "verify-full"}}
    assert told({"HOST": "db.example.com"}, "redis://10.0.0.7:6379/0") == ["accounts.W001", "accounts.W002"]
    assert told(verified | {"OPTIONS": {"sslmode": "prefer"}}, "") == ["accounts.W001"]
    assert told(verified, "rediss://:word@cache.example.com:6379/0") == []
    for here in ("", "localhost", "127.0.0.1", "::1", "/run/postgresql"):
        assert told({"HOST": here, "OPTIONS": {}}, "redis://127.0.0.1:6379/0") == []


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """The site behind gunicorn alone; what is asked here needs no database."""
    folder, port = tmp_path_factory.mktemp("served"), services.free_port()
    command = [sys.executable, "-m", "gunicorn", "config.wsgi:application", "--bind", f"127.0.0.1:{port}"]
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"}
    with services.running(command, log=Path(folder) / "log", env=env, ready=lambda: services.answers(port)):
        yield port


def answer(port: int, *head: str, body: str = "") -> list[str]:
    """The status lines that come back for these bytes on one connection."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
        line.sendall("\r\n".join([*head, "Host: localhost", "Connection: close", "", body]).encode())
        line.shutdown(socket.SHUT_WR)
        got = b""
        while part := line.recv(65_536):
            got += part
    return [text for text in got.decode("latin-1").splitlines() if text.startswith("HTTP/1.")]


SMUGGLED = "0\r\n\r\nGET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n"


@pytest.mark.parametrize(
    "heads",
    [
        ("Content-Length: 6", "Transfer-Encoding: chunked"),
        ("Transfer-Encoding: chunked", "Content-Length: 6"),
        ("Content-Length: 0", "Content-Length: 6"),
        ("Content-Length: 6, 0",),
        ("Content-Length: +6",),
        ("Transfer-Encoding: xchunked",),
        ("Transfer-Encoding : chunked",),
    ],
    ids=" and ".join,
)
def test_a_request_whose_end_can_be_read_in_two_ways_is_refused(served: int, heads: tuple[str, ...]) -> None:
    """RFC 9112, section 6.1 and 6.3: such a message is an attempt to smuggle a second one past the proxy."""
    (status,) = answer(served, "POST /healthz HTTP/1.1", *heads, body=SMUGGLED)
    assert status.split()[1] in ("400", "501"), status


def test_a_request_with_one_length_is_answered(served: int) -> None:
    (status,) = answer(served, "GET /healthz HTTP/1.1")
    assert status.split()[1] == "200"
