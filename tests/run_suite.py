"""`make test`: all that must hold, on every database it must hold on, and a plain list of what could not be run.

    python -m tests.run_suite [check | sqlite | postgresql | browser | orders | orders-postgresql] ...

Without a name it runs all but the orders, which have `make orders` to themselves. As root it installs Debian's packages
that are missing. With STRICT=1 or CI=true whatever could not be run, and any test that was skipped, is a failure.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from tests import services

HERE = Path(sys.executable).parent
STRICT = os.environ.get("STRICT") == "1" or os.environ.get("CI") == "true"
# Whatever the machine's own Stripecoat is set to, a test run must not touch it.
OURS = ("DATABASE_URL", "REDIS_URL", "VAR_DIR", "SECRET_KEY", "SECRET_KEY_FILE", "PLAIN_HTTP", "SITE_URL", "EMAIL_URL")
# Hundreds of processes are started; what one has compiled the others must not compile again, nor every assertion anew.
UNCOMPILED = "PYTHONDONTWRITEBYTECODE"
# These need no database, so one run of them is enough.
WITHOUT_DATABASE = (
    "tests/standards", "tests/reference", "tests/test_house.py", "tests/test_run_suite.py",
    "tests/test_environments.py", "tests/test_security_page.py", "tests/test_pictures.py",
    "tests/accounts/test_look.py", "tests/accounts/test_lines.py", "tests/fieldwork/test_reading_table.py",
    "tests/instruments/test_stack.py", "tests/projects/test_clock_changes.py",
    "tests/reports/test_charts.py",
)  # fmt: skip
# Held to on PostgreSQL alone, which companies run on and which refuses what SQLite takes: thousands of requests whose
# answers follow from the same queries on both.
ON_POSTGRESQL = (
    "tests/sight/test_api_contract.py", "tests/sight/test_nasty_input.py", "tests/sight/test_table.py",
)  # fmt: skip
# Facts arriving in thousands of orders take minutes: the suite plays a few hundred, these runs all of them.
EVERY_ORDER = ("--every-order", "tests/standing/test_any_order.py")
APART = ("orders", "orders-postgresql")
PATIENCE_S = 40 * 60
ONCE = f"Run on SQLite only, for no database is in them: what is marked `once`, and {', '.join(WITHOUT_DATABASE)}"
ALONE = f"Run on PostgreSQL only: what is marked so, and {', '.join(ON_POSTGRESQL)}"
Service = Callable[[], AbstractContextManager[str]]
# Debian's packages, and the program or file that shows that one is there.
SHOWN_BY = {
    "postgresql": "postgres",
    "redis-server": "redis-server",
    "nginx-light": "nginx",
    "openssl": "openssl",
    "chromium": "chromium",
    "fonts-dejavu-core": "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf",
    "poppler-utils": "pdftoppm",
    "nodejs": "node",
    "webkit2gtk-driver": "WebKitWebDriver",
    "xvfb": "Xvfb",
}


@dataclass(frozen=True)
class Run:
    """Commands that belong together, the Debian packages they need and the services they are given."""

    name: str
    commands: list[list[str]]
    packages: tuple[str, ...] = ()
    services: dict[str, Service] = field(default_factory=dict)

    def missing(self) -> list[str]:
        return [package for package in self.packages if not is_there(package)]


def pytest(expression: str, *arguments: str) -> list[str]:
    return [sys.executable, "-m", "pytest", "-q", "-n2", "--dist=worksteal", "-m", expression, *arguments]


RUNS = {
    "check": Run(
        "ruff, mypy, import-linter, migrations",
        [
            [str(HERE / "ruff"), "check", "--quiet"],
            [str(HERE / "ruff"), "format", "--check", "--quiet"],
            [str(HERE / "mypy"), "--no-error-summary", "."],
            [str(HERE / "lint-imports")],
            [sys.executable, "manage.py", "makemigrations", "--check", "--dry-run", "--settings=tests.settings"],
        ],
    ),
    "sqlite": Run(
        "tests on SQLite, with a worker on the filesystem broker",
        [pytest("not postgresql and not browser", *(f"--ignore={path}" for path in ON_POSTGRESQL))],
        ("poppler-utils", "nodejs"),
    ),
    "postgresql": Run(
        "tests on PostgreSQL and Redis",
        [pytest("not sqlite and not browser and not once", *(f"--ignore={path}" for path in WITHOUT_DATABASE))],
        ("postgresql", "redis-server", "nginx-light", "openssl", "poppler-utils"),
        {"DATABASE_URL": services.postgresql, "REDIS_URL": services.redis},
    ),
    "orders": Run("every order of arrival, on SQLite", [pytest("not postgresql", *EVERY_ORDER)]),
    "orders-postgresql": Run(
        "every order of arrival, on PostgreSQL",
        [pytest("not sqlite", *EVERY_ORDER)],
        ("postgresql",),
        {"DATABASE_URL": services.postgresql},
    ),
    "browser": Run(
        "tests in browsers",
        [pytest("browser")],
        ("chromium", "fonts-dejavu-core", "webkit2gtk-driver", "xvfb"),
    ),
}


def is_there(package: str) -> bool:
    shown_by = SHOWN_BY[package]
    return Path(shown_by).exists() if shown_by.startswith("/") else services.is_there(shown_by)


def install(packages: list[str]) -> None:
    """Debian's packages, without starting the services they bring: the suite starts its own."""
    print(f"Installing Debian's packages {' '.join(packages)} …", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive", "RUNLEVEL": "1"}
    for command in (["update"], ["install", "--yes", "--no-install-recommends", *packages]):
        done = subprocess.run(["apt-get", "-qq", *command], env=quiet, check=False, stdout=subprocess.DEVNULL)
        if done.returncode:
            print(f"apt-get {command[0]} failed with code {done.returncode}.", flush=True)
            return


@contextmanager
def environment(run: Run) -> Iterator[dict[str, str]]:
    """The run's own services, and the environment that points at them."""
    bare = {name: value for name, value in os.environ.items() if name not in (*OURS, UNCOMPILED)}
    with ExitStack() as started:
        urls = {name: started.enter_context(service()) for name, service in run.services.items()}
        yield {**bare, **urls, "SECRET_KEY": "for tests only", "PYTHONUNBUFFERED": "1"}


def execute(command: list[str], env: dict[str, str]) -> tuple[int, str]:
    """Run the command, showing what it says; its exit code and its last line."""
    last = ""
    process = subprocess.Popen(
        command, cwd=services.ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        errors="replace", start_new_session=True,
    )  # fmt: skip
    with over_time(process):
        assert process.stdout
        for line in process.stdout:
            print(line, end="", flush=True)
            last = line.strip() or last
        return process.wait(), last


@contextmanager
def over_time(process: subprocess.Popen[str]) -> Iterator[None]:
    """End the process, with its children, when it takes too long or we are asked to end."""

    def give_up(*_: object) -> None:
        os.killpg(process.pid, signal.SIGTERM)
        print(f"Ended after {PATIENCE_S} s.", flush=True)

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(PATIENCE_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
        services.end(process)


def perform(run: Run) -> list[tuple[bool, str]]:
    """All commands of a run, also after one has failed; of each whether it held and how it closed."""
    print(f"\n=== {run.name}", flush=True)
    results = []
    with environment(run) as env:
        for command in run.commands:
            started = time.monotonic()
            code, last = execute(command, env)
            if "pytest" not in command:
                last = f"{' '.join([Path(command[0]).name, *command[1:3]])}: {'failed' if code else 'clean'}"
                print(f"{last} ({time.monotonic() - started:.0f} s)", flush=True)
            results.append((code == 0, last))
    return results


def main(names: list[str]) -> int:
    unknown = [name for name in names if name not in RUNS]
    if unknown:
        print(f"No run is called {', '.join(unknown)}; there are {', '.join(RUNS)}.")
        return 2
    runs = [RUNS[name] for name in names or [name for name in RUNS if name not in APART]]
    wanted = sorted({package for run in runs for package in run.missing()})
    if wanted and os.geteuid() == 0 and shutil.which("apt-get"):
        install(wanted)
    started = time.monotonic()
    results = {run.name: perform(run) for run in runs if not run.missing()}
    not_run = {run.name: run.missing() for run in runs if run.missing()}
    print(f"\n=== {time.monotonic() - started:.0f} s in all", flush=True)
    for name, closings in results.items():
        for held, closing in closings:
            print(f"{'held' if held else 'FAILED':8}{name}: {closing}")
    for name, packages in not_run.items():
        print(f"NOT RUN {name}: it needs Debian's packages; as root: apt-get install {' '.join(packages)}")
    for name, told in (("sqlite", ONCE), ("postgresql", ALONE)):
        if RUNS[name].name in results:
            print(told)
    failed = any(not held for closings in results.values() for held, _ in closings)
    return 1 if failed or (STRICT and not_run) else 0


def _end(number: int, frame: FrameType | None) -> None:
    raise SystemExit(128 + number)


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, _end)
    raise SystemExit(main(sys.argv[1:]))
