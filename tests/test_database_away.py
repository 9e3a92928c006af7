"""While the database is away each answer comes within seconds and says that the same may be sent again."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.services import ROOT

# A process with the real settings: the test's own has a database.
ASKED = """
    import json, time
    import django
    django.setup()
    from django.test import Client
    told = {}
    Client().get("/healthz", HTTP_HOST="localhost")  # so that what is loaded once is not timed
    for address in ("/healthz", "/readyz", "/today/", "/api/projects/"):
        client = Client(raise_request_exception=False)
        client.cookies["sessionid"] = "of somebody who was signed in"
        began = time.monotonic()
        answer = client.get(address, HTTP_HOST="localhost", HTTP_AUTHORIZATION="Bearer sc_token")
        told[address] = {
            "status": answer.status_code, "retry": answer.headers.get("Retry-After"), "text": answer.content.decode(),
            "type": answer.headers["Content-Type"], "seconds": time.monotonic() - began,
        }
    print(json.dumps(told))
"""


@pytest.fixture
def silent_port() -> Iterator[int]:
    """What takes a connection and never says a word, as a database behind a broken network does."""
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen(50)
        yield server.getsockname()[1]


def asked(port: int, folder: Path) -> dict[str, dict[str, Any]]:
    env = {
        **os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "VAR_DIR": str(folder), "REDIS_URL": "",
        "DATABASE_URL": f"postgres://x:x@127.0.0.1:{port}/x",
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(ASKED)], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    # Somebody may run the site with packages that print the values of variables beside a failure.
    assert "locals" not in done.stderr
    told: dict[str, dict[str, Any]] = json.loads(done.stdout)
    return told


@pytest.mark.sqlite
def test_probes_and_pages_answer_within_seconds(silent_port: int, tmp_path: Path) -> None:
    told = asked(silent_port, tmp_path)
    assert told["/healthz"]["status"] == 200
    assert told["/healthz"]["seconds"] < 1
    ready = json.loads(told["/readyz"]["text"])
    assert (told["/readyz"]["status"], ready["database"]) == (503, "failed: OperationalError")
    assert ready["migrations"] == ready["worker"] == "not asked, for want of the database"
    for address in ("/today/", "/api/projects/"):
        assert (told[address]["status"], told[address]["retry"]) == (503, "30"), address
    assert "send the same again; sending again is safe" in told["/today/"]["text"]
    assert told["/api/projects/"]["type"] == "application/problem+json"
    assert json.loads(told["/api/projects/"]["text"])["type"] == "/api/problems/out-of-service/"
    assert max(answer["seconds"] for answer in told.values()) < 8
