"""Celery's entrances. Each takes an id or nothing, calls one function, and returns."""

from __future__ import annotations

import logging
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from accounts import guessing, post, tidings, vault
from inspection.holdpoints.actions import sweep_run_out
from inspection.nonconformance.ageing import escalate
from inspection.photos import parts
from inspection.projects.revised_areas import apply_due
from inspection.recall.asking import carry_out, ring_for_waiting
from inspection.standing.actions import sweep_due
from reports.attention import reminders
from reports.attention.due_soon import tell_due_soon
from reports.daily import actions
from reports.questions.finding import examine_new
from reports.work import jobs

log = logging.getLogger(__name__)


@shared_task
def run_job(job_id: str) -> None:
    jobs.run(UUID(job_id))


@shared_task
def carry_out_recall(asked_id: str) -> None:
    carry_out(UUID(asked_id))


@shared_task
def sweep() -> None:
    """What must not wait for a request: heartbeat, lost jobs, revisions and checks due, old evidence, reminders."""
    for step in (jobs.beat, jobs.sweep, apply_due, ring_for_waiting, sweep_due, sweep_run_out, tell_due_soon):
        # A fault of one must not hold up the others, this time and every time.
        try:
            step()
        except Exception:
            log.exception("sweep: %s failed", step.__name__)


@shared_task
def send_letters() -> None:
    """Of a worker of its own, which a mail server that does not answer may hold up."""
    tidings.write_digests()
    post.send_due()


@shared_task
def remind() -> None:
    for step in (reminders.remind, escalate):
        try:
            step()
        except Exception:
            log.exception("remind: %s failed", step.__name__)


@shared_task
def queue_daily_reports() -> None:
    actions.queue_daily_reports()


@shared_task
def look_through_readings() -> None:
    examine_new()


@shared_task
def clear_leftovers() -> None:
    vault.clear_leftovers(timezone.now())
    guessing.clear_forgotten(timezone.now())
    parts.clear_given_up(timezone.now())
