"""Jobs are rows: asked for once, done once, found again when their message is lost."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from celery import current_app
from django.conf import settings
from django.db import OperationalError, connection
from django.utils import timezone
from pytest_django import DjangoCaptureOnCommitCallbacks

from inspection.foundation.refusals import Refused
from reports.work import jobs
from reports.work.models import Heartbeat, Job
from tests.cast import Cast

MINUTE = timedelta(minutes=1)
pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The ids of the jobs the broker was told of."""
    ids: list[str] = []
    monkeypatch.setattr(current_app, "send_task", lambda _, args, **__: ids.append(args[0]))
    return ids


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Job]]:
    """A kind of job, "test", that notes each run."""
    runs: list[Job] = []
    monkeypatch.setitem(jobs._work, "test", runs.append)
    return runs


def failing_with(fault: Exception) -> Callable[[Job], None]:
    def work(job: Job) -> None:
        raise fault

    return work


def test_a_job_asked_for_twice_is_queued_once(sent: list[str]) -> None:
    about = uuid4()
    assert jobs.queue("test", about, by=None) == jobs.queue("test", about, by=None)
    assert Job.objects.count() == 1


def test_the_message_is_sent_after_commit(
    sent: list[str], django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.queue("test", uuid4(), by=None)
        assert sent == []
    assert sent == [str(job.pk)]
    job.refresh_from_db()
    assert job.sent_at is not None


def test_a_broker_that_is_down_does_not_break_the_request(
    monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    def down(*_: Any, **__: Any) -> None:
        raise ConnectionError("no broker")

    monkeypatch.setattr(current_app, "send_task", down)
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.queue("test", uuid4(), by=None)
    job.refresh_from_db()
    assert (job.state, job.sent_at) == (Job.State.QUEUED, None)


def test_the_sweep_sends_a_message_that_was_lost_and_only_that(sent: list[str]) -> None:
    now = timezone.now()
    lost = Job.objects.create(kind="test", about="1", queued_at=now - 2 * MINUTE, sent_at=now - 2 * MINUTE)
    never = Job.objects.create(kind="test", about="2", queued_at=now - 2 * MINUTE)
    Job.objects.create(kind="test", about="3", queued_at=now - 2 * MINUTE, sent_at=now)
    Job.objects.create(kind="test", about="4", queued_at=now)
    Job.objects.create(kind="test", about="5", state=Job.State.DONE, queued_at=now - 2 * MINUTE)
    assert jobs.sweep(now) == 2
    assert set(sent) == {str(lost.pk), str(never.pk)}


def test_a_job_run_twice_is_done_once(sent: list[str], done: list[Job]) -> None:
    job = jobs.queue("test", uuid4(), by=None)
    first, second = jobs.run(job.pk), jobs.run(job.pk)
    assert first is not None
    assert (first.state, first.attempts, second) == (Job.State.DONE, 1, None)
    assert len(done) == 1


def test_a_running_job_is_not_taken_from_its_worker(sent: list[str], done: list[Job]) -> None:
    job = jobs.queue("test", uuid4(), by=None)
    assert jobs.claim(job.pk, timezone.now()) is not None
    assert jobs.run(job.pk) is None
    assert done == []


def test_a_job_whose_worker_died_is_found_and_done(sent: list[str], done: list[Job]) -> None:
    now = timezone.now()
    job = jobs.queue("test", uuid4(), by=None)
    jobs.claim(job.pk, now)
    after = now + timedelta(seconds=settings.JOB_LEASE_SECONDS) + 2 * MINUTE
    assert jobs.sweep(after) == 1
    again = jobs.run(job.pk, after)
    assert again is not None
    assert (again.state, again.attempts, len(done)) == (Job.State.DONE, 2, 1)


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgresql
def test_a_job_that_outlasts_its_lease_stays_in_the_hands_that_work_on_it(
    sent: list[str], monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.JOB_LEASE_SECONDS = 0.4
    job = jobs.queue("test", uuid4(), by=None)

    def work(job: Job) -> None:
        time.sleep(1.5)
        with ThreadPoolExecutor(1) as another:
            assert another.submit(in_a_thread, lambda: jobs.run(job.pk)).result() is None

    monkeypatch.setitem(jobs._work, "test", work)
    done = jobs.run(job.pk)
    assert done is not None
    assert (done.state, done.attempts, done.leased_until) == (Job.State.DONE, 1, None)


def in_a_thread(act: Callable[[], Any]) -> Any:
    try:
        return act()
    finally:
        connection.close()


def test_a_job_whose_worker_is_gone_says_so_once_its_lease_is_over() -> None:
    job = Job(state=Job.State.RUNNING, leased_until=timezone.now() + MINUTE)
    assert job.words == "Being worked on"
    job.leased_until = timezone.now() - MINUTE
    assert job.words == "Interrupted; another worker takes it over within a minute"


def test_a_worker_that_lost_its_lease_leaves_nothing(
    sent: list[str], monkeypatch: pytest.MonkeyPatch, cast: Cast
) -> None:
    """While the first worker still works, its lease ends and a second takes the job; the first one's change goes."""
    job = jobs.queue("test", uuid4(), by=None)

    def slow(mine: Job) -> None:
        Heartbeat.objects.create(name=f"left by attempt {mine.attempts}")
        if mine.attempts == 1:
            # What the second worker's claim does to the row.
            Job.objects.filter(pk=mine.pk).update(attempts=2)

    monkeypatch.setitem(jobs._work, "test", slow)
    assert jobs.run(job.pk) is None
    assert not Heartbeat.objects.exists()


def test_a_refusal_ends_the_job_with_its_sentence(sent: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(jobs._work, "test", failing_with(Refused("The day has no records.")))
    ended = jobs.run(jobs.queue("test", uuid4(), by=None).pk)
    assert ended is not None
    assert (ended.state, ended.last_error, ended.words) == (Job.State.FAILED, "The day has no records.", "Failed")


def test_a_fault_of_the_program_ends_the_job_and_is_kept(sent: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(jobs._work, "test", failing_with(ZeroDivisionError("by nought")))
    ended = jobs.run(jobs.queue("test", uuid4(), by=None).pk)
    assert ended is not None
    assert (ended.state, ended.last_error) == (Job.State.FAILED, "ZeroDivisionError: by nought")


def test_a_passing_fault_is_tried_again_and_at_last_given_up(sent: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(jobs._work, "test", failing_with(OperationalError("the database is away")))
    job, now = jobs.queue("test", uuid4(), by=None), timezone.now()
    states = []
    for attempt in range(jobs.MOST_ATTEMPTS):
        at = now + 2 * attempt * MINUTE
        if attempt:
            assert jobs.sweep(at) == 1
        ended = jobs.run(job.pk, at)
        assert ended is not None
        states.append((ended.state, ended.words))
    again = (Job.State.RUNNING, "Interrupted; it will be tried again")
    assert states == [again, again, (Job.State.FAILED, "Failed")]


def test_a_job_that_kills_every_worker_is_given_up(sent: list[str], done: list[Job]) -> None:
    now = timezone.now()
    job = Job.objects.create(
        kind="test", about="1", state=Job.State.RUNNING, attempts=jobs.MOST_ATTEMPTS, leased_until=now - MINUTE
    )
    jobs.sweep(now)
    job.refresh_from_db()
    assert (job.state, job.last_error) == (Job.State.FAILED, "The worker stopped each time it tried.")
    assert jobs.run(job.pk) is None


def test_the_same_may_be_queued_again_while_it_runs(sent: list[str]) -> None:
    """What changes while a job runs may have come too late for it."""
    about = uuid4()
    first = jobs.queue("test", about, by=None)
    jobs.claim(first.pk, timezone.now())
    assert jobs.queue("test", about, by=None) != first


def test_a_fault_in_one_step_of_the_sweep_does_not_hold_up_the_others(
    monkeypatch: pytest.MonkeyPatch, sent: list[str]
) -> None:
    from reports import tasks

    def broken(*_: Any) -> None:
        raise ZeroDivisionError

    broken.__name__ = "ring_for_waiting"
    looked: list[int] = []

    def sweep_due() -> None:
        looked.append(1)

    monkeypatch.setattr(tasks, "ring_for_waiting", broken)
    monkeypatch.setattr(tasks, "sweep_due", sweep_due)
    tasks.sweep()
    assert looked == [1]
    assert Heartbeat.objects.filter(name=jobs.WORKER).exists()
