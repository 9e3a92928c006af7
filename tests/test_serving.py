"""manage.py serve: all three processes together, and nothing left behind."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import services
from tests.conftest import address_of_the_test_database

# It is for one machine; what a company runs is in test_docker.py.
pytestmark = pytest.mark.sqlite


@pytest.fixture
def env(transactional_db: None, tmp_path: Path) -> dict[str, str]:
    ours = {
        "DATABASE_URL": address_of_the_test_database(),
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "PYTHONUNBUFFERED": "1",
        "VAR_DIR": str(tmp_path),
    }
    return {**os.environ, **ours}


@pytest.fixture
def taken() -> Iterator[int]:
    with socket.create_server(("127.0.0.1", 0)) as other:
        yield other.getsockname()[1]


def serve(*arguments: str) -> list[str]:
    return [sys.executable, "manage.py", "serve", *arguments]


@pytest.mark.worker
@pytest.mark.parametrize("way", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_until_it_is_asked_to_end(env: dict[str, str], tmp_path: Path, way: signal.Signals) -> None:
    port = services.free_port()
    log = tmp_path / "serve.log"
    serving = services.running(
        serve("--port", str(port)), log=log, env=env, ready=lambda: "Serving on" in log.read_text(), stop=way
    )
    with serving as process:
        assert f"http://localhost:{port}" in log.read_text()
        parts = children_of(process.pid)
        assert len(parts) == 3
    assert process.returncode == 0
    assert log.read_text().endswith("Ended.\n")
    assert not services.answers(port)
    assert not any(Path(f"/proc/{part}").exists() for part in parts)


def children_of(parent: int) -> list[int]:
    found = Path(f"/proc/{parent}/task/{parent}/children").read_text().split()
    return [int(child) for child in found]


@pytest.mark.worker
def test_when_one_part_ends_by_itself_all_end_and_its_last_words_are_shown(env: dict[str, str], tmp_path: Path) -> None:
    port = services.free_port()
    log = tmp_path / "serve.log"
    with services.running(
        serve("--port", str(port)), log=log, env=env, ready=lambda: "Serving on" in log.read_text()
    ) as process:
        web, *others = children_of(process.pid)
        os.kill(web, signal.SIGKILL)
        assert process.wait(40) == 1
    assert "web ended by itself" in log.read_text()
    assert not any(Path(f"/proc/{other}").exists() for other in others)


def test_a_taken_port_is_one_sentence_and_nothing_is_started(env: dict[str, str], taken: int, tmp_path: Path) -> None:
    done = subprocess.run(
        serve("--port", str(taken)), cwd=services.ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert done.stderr == (
        f"CommandError: Port {taken} on this machine is already taken; choose another, for example PORT=8001.\n"
    )
    assert not (tmp_path / "log").exists()


def test_a_port_that_cannot_be_says_so(env: dict[str, str]) -> None:
    done = subprocess.run(
        serve("--check", "--port", "70000"), cwd=services.ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "Port 70000 on this machine cannot be used" in done.stderr
