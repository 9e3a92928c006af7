"""manage.py serve: site, worker and scheduler together on one machine, until Ctrl-C."""

from __future__ import annotations

import errno
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from accounts import founding

HERE = "127.0.0.1"
STARTS_WITHIN_S = 60
ENDS_WITHIN_S = 20


class Command(BaseCommand):
    help = "Serve the site with a worker and the scheduler until Ctrl-C. For one machine; a company uses docker/."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--check", action="store_true", help="Only say whether the port is free")

    def handle(self, *args: Any, port: int, check: bool, **options: Any) -> None:
        refuse_a_taken_port(port)
        if check:
            return
        # From here on a request to end is an exception like Ctrl-C, so that whatever started is also ended.
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            with processes(port) as running:
                until_it_answers(port, running)
                self.stdout.write(f"\nServing on http://localhost:{port} with worker and scheduler. Ctrl-C ends all.")
                if founding.may_be_founded():
                    self.stdout.write(founding.invitation(founding.new_code()))
                watch(running)
        except KeyboardInterrupt:
            self.stdout.write("\nEnded.")


def refuse_a_taken_port(port: int) -> None:
    with socket.socket() as probe:
        # As the web server does; otherwise a port just left would count as taken for a minute.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HERE, port))
        except (OSError, OverflowError) as fault:
            taken = isinstance(fault, OSError) and fault.errno == errno.EADDRINUSE
            why = "is already taken" if taken else f"cannot be used ({fault})"
            raise CommandError(f"Port {port} on this machine {why}; choose another, for example PORT=8001.") from fault


def commands(port: int) -> dict[str, list[str]]:
    """The processes; docker/compose.yml runs the same, each in a container of its own."""
    web = ["gunicorn", "config.wsgi:application", "--bind", f"{HERE}:{port}", "--workers", "2", "--threads", "4"]
    web += ["--logger-class", "config.access_log.MaskedLog"]
    celery = ["celery", "-A", "config"]
    return {
        "web": web,
        "worker": [*celery, "worker", "--concurrency", "1", "--without-gossip", "--without-mingle", "-l", "WARNING"],
        # Alone with its queue: a mail server that does not answer holds up no report.
        "mail": [
            *celery,
            "worker",
            "--queues",
            settings.MAIL_QUEUE,
            "--pool",
            "solo",
            "--hostname",
            "mail@%h",
            "--without-gossip",
            "--without-mingle",
            "-l",
            "WARNING",
        ],
        "beat": [*celery, "beat", "--pidfile", "", "-l", "WARNING"],
    }


@contextmanager
def processes(port: int) -> Iterator[dict[str, subprocess.Popen[bytes]]]:
    """All of them, each in a group of its own that Ctrl-C does not reach, so that they end in order, not at random."""
    running: dict[str, subprocess.Popen[bytes]] = {}
    logs = settings.VAR_DIR / "log"
    logs.mkdir(exist_ok=True)
    try:
        for name, command in commands(port).items():
            with log_of(name).open("ab") as log:
                running[name] = subprocess.Popen(
                    [sys.executable, "-m", *command], stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                    start_new_session=True,
                )  # fmt: skip
        yield running
    finally:
        end(running)


def log_of(name: str) -> Path:
    return Path(settings.VAR_DIR) / "log" / f"{name}.log"


def end(running: dict[str, subprocess.Popen[bytes]]) -> None:
    """Ask each to finish what it does; end by force, with its children, what has not gone in time."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    for process in running.values():
        process.terminate()
    patience = time.monotonic() + ENDS_WITHIN_S
    for process in running.values():
        try:
            process.wait(max(0.1, patience - time.monotonic()))
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def until_it_answers(port: int, running: dict[str, subprocess.Popen[bytes]]) -> None:
    patience = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < patience:
        refuse_to_go_on_without_one(running)
        if answers(port):
            return
        time.sleep(0.1)
    raise CommandError(f"The site did not answer within {STARTS_WITHIN_S} s; see {log_of('web')}.")


def answers(port: int) -> bool:
    site = http.client.HTTPConnection(HERE, port, timeout=5)
    try:
        site.request("GET", "/healthz")
        return site.getresponse().status == http.client.OK
    except OSError:
        return False
    finally:
        site.close()


def watch(running: dict[str, subprocess.Popen[bytes]]) -> None:
    while True:
        refuse_to_go_on_without_one(running)
        time.sleep(0.5)


def refuse_to_go_on_without_one(running: dict[str, subprocess.Popen[bytes]]) -> None:
    for name, process in running.items():
        code = process.poll()
        if code is not None:
            last = log_of(name).read_text(errors="replace")[-2000:]
            raise CommandError(f"{name} ended by itself with code {code}; so all ended. {log_of(name)} closes:\n{last}")
