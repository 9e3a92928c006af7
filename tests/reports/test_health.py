"""The probes: alive is about the process, ready about all it needs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from celery import current_app
from django.core.cache import cache
from django.db.migrations.executor import MigrationExecutor
from django.test import Client
from django.utils import timezone

from reports.work import jobs
from reports.work.models import Heartbeat

pytestmark = pytest.mark.django_db


def ready() -> tuple[int, dict[str, str]]:
    answer = Client().get("/readyz")
    return answer.status_code, answer.json()


@pytest.fixture
def _alive() -> None:
    jobs.beat()


def test_alive_needs_no_sign_in_and_no_database(django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(0):
        answer = Client().get("/healthz")
    assert (answer.status_code, answer.json()) == (200, {"status": "alive"})


@pytest.mark.usefixtures("_alive")
def test_ready_when_everything_answers() -> None:
    well = dict.fromkeys(("database", "migrations", "worker", "files", "cache", "broker", "letters"), "ok")
    assert ready() == (200, {"status": "ready", **well})


def test_not_ready_before_a_worker_has_reported() -> None:
    status, parts = ready()
    assert (status, parts["status"], parts["worker"]) == (
        503, "not ready", "no worker has reported yet; start worker and scheduler",
    )  # fmt: skip


def test_not_ready_when_the_worker_fell_silent() -> None:
    Heartbeat.objects.create(name="worker", at=timezone.now() - timedelta(hours=1))
    status, parts = ready()
    assert status == 503
    assert parts["worker"].startswith("silent for 36")


@pytest.mark.usefixtures("_alive")
def test_not_ready_while_migrations_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(MigrationExecutor, "migration_plan", lambda *_: [("0009", False)])
    assert ready()[1]["migrations"] == "1 migrations are not applied; run manage.py migrate"
    assert ready()[0] == 503


@pytest.mark.usefixtures("_alive")
def test_not_ready_without_broker_and_the_reason_gives_no_address_away(monkeypatch: pytest.MonkeyPatch) -> None:
    def unreachable(*_: Any, **__: Any) -> None:
        raise ConnectionError("redis://:secret@host")

    monkeypatch.setattr(current_app, "connection_for_write", unreachable)
    status, parts = ready()
    assert (status, parts["broker"]) == (503, "failed: ConnectionError")


@pytest.mark.usefixtures("_alive")
def test_not_ready_when_the_cache_forgets(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "set", lambda *_: None)
    assert ready() == (503, {**ready()[1], "cache": "does not keep what is put in"})
