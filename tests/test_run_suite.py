"""`make test` leaves no test out, and says what it could not run."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from _pytest.mark.expression import Expression

from tests import run_suite, services

NEEDS_POSTGRESQL = "test_postgresql_is_one_that_we_support"
PLACES = ("postgresql", "sqlite", "browser", "once")


def expressions() -> list[Expression]:
    runs = [run for name, run in run_suite.RUNS.items() if name not in run_suite.APART]
    commands = [command for run in runs for command in run.commands if "pytest" in command]
    return [Expression.compile(command[command.index("-m", 3) + 1]) for command in commands]


@pytest.mark.parametrize("place", ["", *PLACES])
@pytest.mark.parametrize("worker", [True, False])
def test_every_test_is_taken_by_a_run(place: str, worker: bool) -> None:
    markers = {place, "worker" if worker else ""}
    takers = [expression for expression in expressions() if expression.evaluate(lambda name, **_: name in markers)]
    assert len(takers) == (1 if place else 2)


@pytest.fixture
def without_chromium(monkeypatch: pytest.MonkeyPatch) -> None:
    there = services.is_there
    monkeypatch.setattr(services, "is_there", lambda name: name != "chromium" and there(name))
    monkeypatch.setattr(os, "geteuid", lambda: 1000)


@pytest.mark.parametrize(("strict", "code"), [(False, 0), (True, 1)])
def test_what_could_not_be_run_is_listed_with_how_to_get_it(
    without_chromium: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], strict: bool, code: int
) -> None:
    monkeypatch.setattr(run_suite, "STRICT", strict)
    assert run_suite.main(["browser"]) == code
    assert capsys.readouterr().out.splitlines()[-1].startswith("NOT RUN tests in browsers: it needs Debian's")


def test_root_gets_what_is_missing_installed(without_chromium: None, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[list[str]] = []
    monkeypatch.setattr(run_suite, "install", asked.append)
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    run_suite.main(["browser"])
    assert asked == [["chromium"]]


def test_an_unknown_run_is_refused_with_the_names_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_suite.main(["everything"]) == 2
    assert capsys.readouterr().out == (
        "No run is called everything; there are check, sqlite, postgresql, orders, orders-postgresql, browser.\n"
    )


def test_a_command_that_fails_is_told_and_the_next_one_still_runs(capsys: pytest.CaptureFixture[str]) -> None:
    commands = [[sys.executable, "-c", f"print('one'); raise SystemExit({code})"] for code in (3, 0)]
    results = run_suite.perform(run_suite.Run("two", commands))
    assert [held for held, _ in results] == [False, True]
    assert capsys.readouterr().out.count("one\n") == 2


@pytest.mark.sqlite
def test_in_strict_mode_a_skipped_test_is_a_failure() -> None:
    env = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "VAR_DIR"))}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/test_database.py::" + NEEDS_POSTGRESQL],
        cwd=services.ROOT, env={**env, "STRICT": "1"}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 1, done.stdout
    assert "skipped, which counts as failed here" in done.stdout
    assert "1 skipped" in done.stdout


def test_what_one_process_has_compiled_no_other_compiles_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(run_suite.UNCOMPILED, "1")
    with run_suite.environment(run_suite.RUNS["sqlite"]) as env:
        assert run_suite.UNCOMPILED not in env
