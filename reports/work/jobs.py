"""Work for a Celery worker, as rows. The broker is only a doorbell: a lost message is found by the sweep.

A worker claims a job by a conditional update that must change one row, and holds it by a lease. The attempt's number
guards the end: a worker that lost its lease cannot finish the job any more, so a job run twice leaves one result.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from functools import partial
from threading import Event, Thread
from uuid import UUID

from celery import current_app
from django.conf import settings
from django.db import OperationalError, connection, transaction
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.refusals import OutOfService, Refused
from reports.work.models import Heartbeat, Job

log = logging.getLogger(__name__)

MOST_ATTEMPTS = 3
# A message this old with its job still queued was lost, or the worker is far behind; another does no harm.
MESSAGE_LASTS = timedelta(seconds=60)
TRY_AGAIN_AFTER = timedelta(seconds=60)
WORKER = "worker"
# What passes by itself: the database or a file store out of reach for a moment.
PASSING = (OperationalError, OSError, OutOfService)

Work = Callable[[Job], None]
_work: dict[str, Work] = {}


class Superseded(Exception):
    """The lease was lost to another worker; this attempt's changes are rolled back."""


def does(kind: str) -> Callable[[Work], Work]:
    """Name the function that does jobs of this kind; it runs in the transaction that marks the job done."""

    def register(work: Work) -> Work:
        _work[kind] = work
        return work

    return register


@transaction.atomic
def queue(kind: str, about: UUID, *, by: Person | None) -> Job:
    """Queue work on a row, once: while the same is queued already, that job is the answer. Rings after commit."""
    # Locked, so that a worker cannot begin before what this transaction changed can be seen.
    job, _ = Job.objects.select_for_update().get_or_create(
        kind=kind, about=str(about), state=Job.State.QUEUED, defaults={"asked_by": by}
    )
    transaction.on_commit(partial(ring, job.pk))
    return job


def ring(job_id: UUID) -> bool:
    """Send the message about a job. A broker that is down is left to the sweep and is never the asker's trouble."""
    try:
        current_app.send_task("reports.tasks.run_job", args=[str(job_id)], retry=False)
    except Exception:  # whatever the transport raises, the row remains and the sweep sends again
        log.warning("job %s: the broker took no message; the sweep will send it", job_id, exc_info=True)
        return False
    Job.objects.filter(pk=job_id).update(sent_at=timezone.now())
    return True


def claim(job_id: UUID, at: datetime) -> Job | None:
    """Take the job for one lease; None when it is done, failed or in other hands."""
    free = Q(state=Job.State.QUEUED) | Q(state=Job.State.RUNNING, leased_until__lt=at)
    taken = Job.objects.filter(free, pk=job_id, attempts__lt=MOST_ATTEMPTS).update(
        state=Job.State.RUNNING,
        attempts=F("attempts") + 1,
        leased_until=at + _lease(),
    )
    return Job.objects.get(pk=job_id) if taken == 1 else None


def _lease() -> timedelta:
    return timedelta(seconds=settings.JOB_LEASE_SECONDS)


@contextmanager
def _held(job: Job) -> Iterator[None]:
    """Renew the lease, from beside the work and its transaction, for as long as this process lives and works.

    On SQLite the work's transaction keeps every other writer out, this one too; nobody else can take the job meanwhile.
    """
    over = Event()

    def renew() -> None:
        while not over.wait(settings.JOB_LEASE_SECONDS / 4):
            try:
                mine = Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, attempts=job.attempts)
                mine.update(leased_until=timezone.now() + _lease())
            except Exception:  # a renewal that fails is made up for by the next
                log.info("job %s: its lease could not be renewed now", job.pk, exc_info=True)
        connection.close()

    renewing = Thread(target=renew, daemon=True, name=f"lease of {job.pk}")
    renewing.start()
    try:
        yield
    finally:
        over.set()
        renewing.join()


def run(job_id: UUID, at: datetime | None = None) -> Job | None:
    """Claim a job, do it, and say how it ended. None when there was nothing to claim."""
    at = at or timezone.now()
    job = claim(job_id, at)
    if job is None:
        return None
    try:
        with _held(job), transaction.atomic():
            _work[job.kind](job)
            if not _end(job, Job.State.DONE, "", at):
                raise Superseded
    except Superseded:
        log.warning("job %s: another worker took it over; this attempt left nothing", job.pk)
        return None
    except PASSING as fault:
        _after_passing(job, fault, at)
    except Refused as refused:
        _end(job, Job.State.FAILED, "; ".join(fault.message for fault in refused.faults), at)
    except Exception as fault:
        log.exception("job %s failed", job.pk)
        _end(job, Job.State.FAILED, f"{type(fault).__name__}: {fault}", at)
    job.refresh_from_db()
    return job


def _after_passing(job: Job, fault: Exception, at: datetime) -> None:
    words = f"{type(fault).__name__}: {fault}"
    if job.attempts >= MOST_ATTEMPTS:
        _end(job, Job.State.FAILED, words, at)
        return
    log.warning("job %s: %s; it will be tried again", job.pk, words)
    mine = Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, attempts=job.attempts)
    mine.update(leased_until=at + TRY_AGAIN_AFTER, last_error=words[:2000])


def _end(job: Job, state: str, error: str, at: datetime) -> bool:
    """Whether this attempt still held the job, and so could end it."""
    mine = Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, attempts=job.attempts)
    return mine.update(state=state, last_error=error[:2000], finished_at=at, leased_until=None) == 1


def sweep(at: datetime | None = None) -> int:
    """Send again what was lost: queued jobs without a live message, running ones whose lease ran out."""
    at = at or timezone.now()
    unheard = Q(sent_at=None) | Q(sent_at__lt=at - MESSAGE_LASTS)
    lost = Q(state=Job.State.QUEUED, queued_at__lt=at - MESSAGE_LASTS / 4) & unheard
    abandoned = Q(state=Job.State.RUNNING, leased_until__lt=at)
    unasked = Q(sent_at=None) | Q(sent_at__lt=at - _lease())
    Job.objects.filter(abandoned, attempts__gte=MOST_ATTEMPTS).update(
        state=Job.State.FAILED, finished_at=at, leased_until=None, last_error="The worker stopped each time it tried."
    )
    waiting = Job.objects.filter(lost | abandoned & unasked).order_by("queued_at").values_list("pk", flat=True)
    return sum(ring(job_id) for job_id in waiting[:200])


def beat(at: datetime | None = None) -> None:
    """Say that a worker lives; /readyz reads it."""
    Heartbeat.objects.update_or_create(name=WORKER, defaults={"at": at or timezone.now()})
