"""What standing does when evidence changes, inside the transaction of the action that changed it."""

from collections.abc import Collection
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.dispatch import receiver

from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.fieldwork.models import Record
from inspection.instruments.signals import evidence_changed, tell_of_evidence
from inspection.instruments.site_checks import measured_between_checks
from inspection.projects.models import Project
from inspection.projects.signals import shifts_corrected
from inspection.standing import profile_used
from inspection.standing.actions import refresh
from inspection.standing.models import Standing
from inspection.works.models import Shift
from inspection.works.signals import shifts_moved

BY_INSTRUMENT = (Reliance.CERTIFIED, Reliance.SEEN)


@receiver(shifts_corrected, dispatch_uid="standing")
def judge_by_the_shifts_corrected(sender: Any, by: Any, project: Any, because: str, **sent: Any) -> None:
    """All that was measured there lies in other shifts now; who follows evidence hears of it as of any change."""
    measured = Record.objects.filter(project=project).exclude(gauge=None)
    gauges = measured.values_list("gauge", flat=True).order_by().distinct()
    if gauges:
        evidence_changed.send(sender=Project, by=by, gauges=list(gauges), because=because)


@receiver(shifts_moved, dispatch_uid="standing")
def judge_by_the_shifts_moved(
    sender: Any,
    by: Any,
    project: Project,
    people: Collection[UUID],
    since: datetime,
    until: datetime | None,
    because: str,
    **sent: Any,
) -> None:
    """What those people measured in that stretch may lie in other shifts now."""
    measured = Record.objects.filter(project=project, taken_by__in=people, taken_at__gte=since)
    measured = measured.filter(
        Q(kind__in=names(Reliance.CHECKED)) | Q(measured_between_checks(), kind__in=names(*BY_INSTRUMENT))
    )
    if until is not None:
        measured = measured.filter(taken_at__lt=until)
    records = list(measured.order_by("gauge", "taken_at").values_list("pk", flat=True))
    if records:
        evidence_changed.send(sender=Shift, by=by, records=records, gauges=[], since=None, because=because)


def keep_standings_true(sender: Any, **sent: Any) -> set[UUID]:
    """The people written to about what took its correction from what changed."""
    records, gauges = list(sent.get("records", ())), list(sent.get("gauges", ()))
    by, because = sent.get("by"), sent.get("because", "")
    refresh(by=by, records=records, gauges=gauges, since=sent.get("since"), because=because)
    changed = refresh(by=by, records=profile_used.resting_on(records=records, gauges=gauges), because=because)
    if not changed:
        return set()
    return tell_of_evidence(Standing, by=by, records=changed, gauges=[], since=None, because=because)
