"""Servers and workers that a test run starts for itself, on free ports, in folders of their own, and ends with it."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent


class NotFound(LookupError):
    """A program that a service needs is not on this machine."""


def program(name: str) -> str:
    """The path of a program, also where Debian keeps servers off a user's PATH. Raises NotFound."""
    versions = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda place: int(place.parent.name), reverse=True)
    found = shutil.which(name) or shutil.which(name, path=os.pathsep.join(map(str, [*versions, "/usr/sbin"])))
    if not found:
        raise NotFound(name)
    return found


def is_there(name: str) -> bool:
    try:
        program(name)
    except NotFound:
        return False
    return True


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _unprivileged() -> str | None:
    """Whom to run PostgreSQL as: it refuses to run as root."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


@contextmanager
def running(
    command: Sequence[str],
    *,
    log: Path,
    ready: Callable[[], bool],
    env: Mapping[str, str] | None = None,
    user: str | None = None,
    within_s: float = 60,
    stop: signal.Signals = signal.SIGTERM,
) -> Iterator[subprocess.Popen[bytes]]:
    """A process in a group of its own, from the moment it is ready; ended, with its children, on leaving.

    Raises RuntimeError with the end of its log when it ends early or is not ready in time.
    """
    with log.open("ab") as out:
        process = subprocess.Popen(
            command, cwd=ROOT, env=env, stdin=subprocess.DEVNULL, stdout=out, stderr=out, start_new_session=True,
            user=user, group=pwd.getpwnam(user).pw_gid if user else None, extra_groups=[] if user else None,
        )  # fmt: skip
    try:
        patience = time.monotonic() + within_s
        while not ready():
            if process.poll() is not None or time.monotonic() > patience:
                raise RuntimeError(f"{' '.join(command)}: not ready\n{log.read_text(errors='replace')[-3000:]}")
            time.sleep(0.05)
        yield process
    finally:
        end(process, stop)


def end(process: subprocess.Popen[Any], stop: signal.Signals = signal.SIGTERM, within_s: float = 45) -> None:
    """Ask the process to end; when it does not, end its whole group."""
    if process.poll() is None:
        process.send_signal(stop)
        try:
            process.wait(within_s)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


@contextmanager
def _folder(owner: str | None) -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="stripecoat-service-"))
    try:
        if owner:
            shutil.chown(folder, owner)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def postgresql() -> Iterator[str]:
    """A PostgreSQL that lives as long as the context; gives its DATABASE_URL. Raises NotFound."""
    initdb, server = program("initdb"), program("postgres")
    user = _unprivileged()
    with _folder(user) as folder:
        data, port = folder / "data", free_port()
        subprocess.run(
            [initdb, "-D", data, "-U", "stripecoat", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"],
            check=True, cwd=folder, stdout=subprocess.DEVNULL, user=user, extra_groups=[] if user else None,
        )  # fmt: skip
        # Nothing in it outlives the run, so it need not survive a power cut either.
        careless = [f"-c{name}=off" for name in ("fsync", "synchronous_commit", "full_page_writes")]
        command = [server, "-D", str(data), "-h", "127.0.0.1", "-p", str(port), "-k", str(folder), *careless]
        # On SIGINT it does not wait for its clients to leave.
        with running(command, log=folder / "log", ready=lambda: _accepts(port), user=user, stop=signal.SIGINT):
            yield f"postgres://stripecoat@127.0.0.1:{port}/postgres"


def _accepts(port: int) -> bool:
    ready = [program("pg_isready"), "-q", "-h", "127.0.0.1", "-p", str(port)]
    return subprocess.run(ready, check=False).returncode == 0


@contextmanager
def redis() -> Iterator[str]:
    """A Redis that lives as long as the context; gives its REDIS_URL. Raises NotFound."""
    server = program("redis-server")
    with _folder(None) as folder:
        port = free_port()
        command = [server, "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(folder)]
        with running(command, log=folder / "log", ready=lambda: answers(port)):
            yield f"redis://127.0.0.1:{port}/0"


@contextmanager
def worker(folder: Path, env: Mapping[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """A real Celery worker; its log is worker.log in the folder."""
    with _celery(
        "worker",
        "--concurrency=1",
        "--queues=celery,mail",
        "--without-gossip",
        "--without-mingle",
        folder=folder,
        env=env,
    ) as process:
        yield process


@contextmanager
def beat(folder: Path, env: Mapping[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    """A real Celery beat; its log is beat.log in the folder."""
    with _celery("beat", "--pidfile=", folder=folder, env=env) as process:
        yield process


@contextmanager
def _celery(kind: str, *arguments: str, folder: Path, env: Mapping[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    log, ready_when = folder / f"{kind}.log", {"worker": " ready.", "beat": "Starting..."}[kind]
    log.unlink(missing_ok=True)
    with running(
        [sys.executable, "-m", "celery", "-A", "config", kind, "-lINFO", *arguments],
        log=log,
        env={**env, "LOG_LEVEL": "INFO"},
        ready=lambda: ready_when in log.read_text(errors="replace"),
    ) as process:
        yield process
