"""manage.py serve: all three processes together, and nothing left behind."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
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
        assert len(parts) == 4
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


def test_when_make_is_asked_to_end_what_it_serves_ends_too(tmp_path: Path) -> None:
    """The recipe of `make demo` with a stand-in for manage.py, which tells what reaches it."""
    log = tmp_path / "make.log"
    stand_in = tmp_path / "manage.py"
    stand_in.write_text(
        "import signal, sys, time\n"
        "signal.signal(signal.SIGTERM, lambda *_: sys.exit(print('Ended.', flush=True)))\n"
        "if sys.argv[1] == 'serve':\n"
        "    print('Serving on', flush=True)\n"
        "    time.sleep(60)\n"
    )
    command = ["make", "--old-file=ready", f"VAR_DIR={tmp_path}", f"MANAGE={sys.executable} {stand_in}", "demo"]
    with services.running(command, log=log, ready=lambda: "Serving on" in log.read_text()) as process:
        (served,) = children_of(process.pid)
        process.terminate()
        process.wait(10)
        assert has_ended(served)
    assert "Ended." in log.read_text()


def has_ended(process: int, within_s: float = 10) -> bool:
    patience = time.monotonic() + within_s
    while Path(f"/proc/{process}").exists() and time.monotonic() < patience:
        time.sleep(0.05)
    return not Path(f"/proc/{process}").exists()


def test_the_database_is_made_without_a_warning_to_whoever_comes_new(env: dict[str, str]) -> None:
    check = [sys.executable, "manage.py", "check", "--database", "default"]
    done = subprocess.run(check, cwd=services.ROOT, env=env, capture_output=True, text=True, check=True)
    assert "WARNINGS" not in done.stderr


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
