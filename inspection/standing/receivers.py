"""What standing does when evidence changes, inside the transaction of the action that changed it."""

from typing import Any

from django.dispatch import receiver

from inspection.fieldwork.models import Record
from inspection.instruments.signals import evidence_changed
from inspection.projects.models import Project
from inspection.projects.signals import shifts_corrected
from inspection.standing.actions import refresh


@receiver(shifts_corrected, dispatch_uid="standing")
def judge_by_the_shifts_corrected(sender: Any, by: Any, project: Any, because: str, **sent: Any) -> None:
    """All that was measured there lies in other shifts now; who follows evidence hears of it as of any change."""
    measured = Record.objects.filter(project=project).exclude(gauge=None)
    gauges = measured.values_list("gauge", flat=True).order_by().distinct()
    if gauges:
        evidence_changed.send(sender=Project, by=by, gauges=list(gauges), because=because)


def keep_standings_true(sender: Any, **sent: Any) -> None:
    refresh(
        by=sent.get("by"),
        records=sent.get("records", ()),
        gauges=sent.get("gauges", ()),
        since=sent.get("since"),
        because=sent.get("because", ""),
    )
