"""What every test may ask for: the cast, a page signed in as one of them, axe, a real Celery worker."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection, transaction
from django.db.backends.base.operations import BaseDatabaseOperations
from hypothesis import settings as of_hypothesis

from tests import browsing, services
from tests import cast as casting
from tests.chromium import started
from tests.past_triggers import no_triggers
from tests.snapshot import Snapshot

# In strict mode (CI) a test that was skipped is a failure.
STRICT = os.environ.get("STRICT") == "1" or os.environ.get("CI") == "true"
_skipped: dict[str, str] = {}
# How long an example takes says how busy the machine is; speed is held to by the benches.
of_hypothesis.register_profile("suite", deadline=None)
of_hypothesis.load_profile("suite")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--every-order", action="store_true", help="play every order in which facts can arrive")


# --- which tests run ------------------------------------------------------------------------------------------------
def pytest_collection_modifyitems(items: Sequence[pytest.Item]) -> None:
    """Outside `make test`, a test whose service is not there says what it wants."""
    embedded = connection.vendor == "sqlite"
    for item in items:
        places = {"postgresql", "sqlite", "browser", "once"} & {marker.name for marker in item.iter_markers()}
        if len(places) > 1:
            raise pytest.UsageError(f"{item.nodeid} is marked {', '.join(sorted(places))}: no run would take it")
        if item.get_closest_marker("postgresql" if embedded else "sqlite"):
            wanted = "PostgreSQL" if embedded else "SQLite"
            item.add_marker(pytest.mark.skip(reason=f"needs {wanted}: run `make test`"))
        if item.get_closest_marker("browser") and not services.is_there("chromium"):
            item.add_marker(pytest.mark.skip(reason="needs Chromium: install Debian's package chromium"))


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail"):
        _skipped[report.nodeid] = str(report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    if report.skipped:
        _skipped[report.nodeid] = str(report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    if STRICT and _skipped:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if STRICT and _skipped:
        terminalreporter.section("skipped, which counts as failed here")
        for name, reason in sorted(_skipped.items()):
            terminalreporter.line(f"{name}: {reason}")


# --- data -----------------------------------------------------------------------------------------------------------
@pytest.fixture(scope="session")
def _cast_once(django_db_setup: None, django_db_blocker: Any) -> Snapshot:
    with django_db_blocker.unblock():
        return Snapshot(casting.cast)


@pytest.fixture
def cast(_cast_once: Snapshot, db: None) -> casting.Cast:
    """Built once by each process; every test gets its own rows and objects."""
    laid: casting.Cast = _cast_once.laid()
    return laid


@pytest.fixture
def in_date(cast: casting.Cast) -> casting.Cast:
    """The cast, its certificates in date today as well: for what begins now and not on the cast's morning."""
    casting.bring_in_date()
    return cast


@pytest.fixture(autouse=True)
def _empty_cache() -> None:
    """Rate limits count in the cache; one test's attempts must not be the next one's."""
    cache.clear()


@pytest.fixture(scope="session", autouse=True)
def _flush_past_the_triggers() -> Iterator[None]:
    """Tests with real transactions empty all tables afterwards, which append-only triggers rightly refuse."""
    flush = BaseDatabaseOperations.execute_sql_flush

    def flush_without_triggers(operations: BaseDatabaseOperations, sql_list: Sequence[str]) -> None:
        # A table of a package whose model we replaced stays behind, unknown to Django, and refers to ours.
        sql_list = [sql.replace(";", " CASCADE;") if sql.startswith("TRUNCATE") else sql for sql in sql_list]
        with transaction.atomic(using=operations.connection.alias), no_triggers(operations.connection):
            flush(operations, sql_list)

    BaseDatabaseOperations.execute_sql_flush = flush_without_triggers
    yield
    BaseDatabaseOperations.execute_sql_flush = flush


# --- pages ----------------------------------------------------------------------------------------------------------
@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Debian's Chromium, started once."""
    # Playwright keeps an event loop in this thread, in which Django would refuse every query.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with started() as browser:
        yield browser
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def page_as(chromium: Any, live_server: Any) -> Iterator[Callable[..., Any]]:
    """page_as(person, width=390, dark=False, scripts=True): a page signed in as the person; None is a stranger.

    Addresses are relative to the site (`page.goto("/")`). An error of a script, or anything that the content security
    policy refused, fails the test at its end.
    """
    with browsing.visitors(chromium, live_server.url) as page_as:
        yield page_as


@pytest.fixture
def axe() -> Callable[[Any], None]:
    """axe(page) asserts that axe-core finds nothing on the page."""
    return browsing.assert_axe_finds_nothing


# --- workers --------------------------------------------------------------------------------------------------------
@pytest.fixture
def celery_worker_process(transactional_db: None) -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """celery_worker_process(beat=False, **env) starts a real worker, and beat if asked, on this test's own database.

    Gives the worker's process, which a test may kill. They run with the real settings and the same broker and files.
    """
    with ExitStack() as started:

        def start(*, beat: bool = False, **env: str) -> subprocess.Popen[bytes]:
            real = {"DJANGO_SETTINGS_MODULE": "config.settings", "DATABASE_URL": address_of_the_test_database()}
            env = {**os.environ, **real, **env}
            worker = started.enter_context(services.worker(settings.VAR_DIR, env))
            if beat:
                started.enter_context(services.beat(settings.VAR_DIR, env))
            return worker

        yield start


def address_of_the_test_database() -> str:
    of = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{of['NAME']}"
    return f"postgres://{of['USER']}:{of['PASSWORD']}@{of['HOST']}:{of['PORT']}/{of['NAME']}"
