"""A real Celery worker beside the test: it hears the broker, the sweep finds what was lost, a death loses nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from celery import current_app
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from reports.daily import actions
from reports.daily.models import DailyReport
from reports.work import jobs
from reports.work.models import Heartbeat, Job
from tests import cast as casting
from tests.cast import DAY, Cast
from tests.reports.day import worked

pytestmark = [pytest.mark.worker, pytest.mark.django_db(transaction=True)]
PATIENCE_S = 60


@pytest.fixture
def cast() -> Cast:
    return casting.cast()


def until(met: Callable[[], Any], what: str) -> None:
    patience = time.monotonic() + PATIENCE_S
    while not met():
        assert time.monotonic() < patience, f"not within {PATIENCE_S} s: {what}"
        time.sleep(0.2)


def is_done(job: Job) -> bool:
    job.refresh_from_db()
    return job.state == Job.State.DONE


def test_a_report_asked_for_on_the_page_is_built_by_the_worker(cast: Cast, celery_worker_process: Any) -> None:
    celery_worker_process()
    worked(cast)
    client = Client()
    client.force_login(cast.ines)
    client.post(reverse("report_list"), {"project": cast.site.project.pk, "day": f"{DAY}"})
    job = Job.objects.get()
    until(lambda: is_done(job), "the job is done")
    report = DailyReport.objects.get()
    assert client.get(reverse("report_draft", args=[report.pk])).content.startswith(b"%PDF")


def test_a_lost_message_is_found_by_the_sweep(
    cast: Cast, celery_worker_process: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked(cast)

    def lost(*_: Any, **__: Any) -> None:
        raise ConnectionError("no broker")

    with monkeypatch.context() as broken:
        broken.setattr(current_app, "send_task", lost)
        job = actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    Job.objects.filter(pk=job.pk).update(queued_at=timezone.now() - timedelta(minutes=5))
    celery_worker_process(beat=True, SWEEP_SECONDS="1")
    until(lambda: is_done(job), "the sweep found the job")
    until(lambda: Heartbeat.objects.filter(name=jobs.WORKER).exists(), "the worker reports")
    assert Client().get("/readyz").json()["worker"] == "ok"


def test_a_job_whose_worker_was_killed_is_taken_over_within_a_minute(
    cast: Cast, celery_worker_process: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked(cast)
    job = actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    # This process claims the job as a worker does and comes to nothing while it has it.
    claimed = jobs.claim(job.pk, timezone.now())
    assert claimed is not None
    killed = time.monotonic()
    celery_worker_process(beat=True, SWEEP_SECONDS="1")
    until(lambda: is_done(job), "another worker took the job over")
    assert time.monotonic() - killed < 60
    assert job.attempts == 2
    assert DailyReport.objects.get().draft is not None


def test_a_message_that_comes_twice_does_the_work_once(cast: Cast, celery_worker_process: Any) -> None:
    worked(cast)
    job = actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    for _ in range(3):
        jobs.ring(job.pk)
    celery_worker_process()
    until(lambda: is_done(job), "the job is done")
    time.sleep(2)
    job.refresh_from_db()
    assert (job.state, job.attempts) == (Job.State.DONE, 1)
