"""What becomes of daily reports when their project is corrected: drafts are built again, what was issued stays."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.dispatch import receiver
from django.utils import timezone

from accounts.models import Person
from inspection.projects.models import Project
from inspection.projects.signals import project_corrected, project_touched
from reports.daily.actions import BUILD
from reports.daily.dividing import divide_again
from reports.daily.models import DailyReport, ReportIssue
from reports.work import jobs

# What a report says of its project, or counts its day by.
TOLD = {"code", "name", "client_id", "contractor_id", "time_zone", "unit", "shift_starts"}


@receiver(project_touched, dispatch_uid="reports.daily")
def reports_touched(sender: Any, project: Project, changed: Collection[str], **sent: Any) -> list[str]:
    if TOLD.isdisjoint(changed):
        return []
    drafts, issued = _drafts(project).count(), ReportIssue.objects.filter(report__project=project).count()
    told = []
    if drafts:
        told.append(f"{'1 daily report is' if drafts == 1 else f'{drafts} daily reports are'} built again.")
    if issued:
        stay = "1 issued revision stays as it was" if issued == 1 else f"{issued} issued revisions stay as they were"
        told.append(f"{stay} issued; a further one tells what is right now.")
    return told


@receiver(project_corrected, dispatch_uid="reports.daily")
def build_again(sender: Any, by: Person, project: Project, changed: Collection[str], **sent: Any) -> None:
    if TOLD.isdisjoint(changed):
        return
    if "shift_starts" in changed:
        divide_again(by, project, at=timezone.now(), refuse=False)
    for pk in _drafts(project).values_list("pk", flat=True):
        jobs.queue(BUILD, pk, by=by)


def _drafts(project: Project) -> Any:
    return DailyReport.objects.that_stand().filter(project=project, draft__isnull=False)
