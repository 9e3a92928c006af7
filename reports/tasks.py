"""Celery's entrances. Each takes an id or nothing, calls one function, and returns."""

from __future__ import annotations

from uuid import UUID

from celery import shared_task

from accounts import post
from inspection.standing.actions import sweep_due
from reports import actions, jobs, reminders


@shared_task
def run_job(job_id: str) -> None:
    jobs.run(UUID(job_id))


@shared_task
def sweep() -> None:
    """What must not wait for anybody's request: the heartbeat, lost jobs, closing checks fallen due, mail."""
    jobs.beat()
    jobs.sweep()
    sweep_due()
    post.send_due()


@shared_task
def remind() -> None:
    reminders.remind()


@shared_task
def queue_daily_reports() -> None:
    actions.queue_daily_reports()
