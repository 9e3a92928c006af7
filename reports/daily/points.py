"""What a report tells of hold and witness points: how they stood at the day's end, and what was said of them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Prefetch, Q

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outcomes import NOTED
from inspection.holdpoints.passed_by import passed_by
from inspection.projects.models import Project
from reports.daily.facts import Point, Said


def points_told(
    project: Project, begins: datetime, ends: datetime, records: Sequence[ThicknessRecord]
) -> tuple[Point, ...]:
    """Points decided or passed over that day, and those of what was measured that day, as they stood at its end."""
    measured = {(record.area_id, record.coat_id) for record in records}
    decided = Decision.objects.filter(point__project=project, at__gte=begins, at__lt=ends)
    rows = (
        HoldPoint.objects.filter(project=project)
        .filter(
            Q(area__in={area for area, _ in measured})
            | Q(pk__in=decided.values("point"))
            | Q(passed_over_at__gte=begins, passed_over_at__lt=ends)
        )
        .select_related("project", "area", "coat")
        .prefetch_related(Prefetch("decisions", Decision.objects.filter(at__lt=ends).order_by("number")))
        .order_by("area__code", "coat__order", "kind", "pk")
    )
    found = []
    for row in rows:
        decisions = list(row.decisions.all())
        that_day = [decision for decision in decisions if decision.at >= begins]
        passed_over = row.passed_over_at if row.passed_over_at and row.passed_over_at < ends else None
        if that_day or (passed_over and passed_over >= begins) or (row.area_id, row.coat_id) in measured:
            found.append((row, decisions, that_day[:-1], passed_over))
    passed = passed_by((row for row, decisions, *_ in found if _left(decisions) == HoldPoint.State.WAITING), ends)
    return tuple(
        _point(row, decisions, also, passed_over, passed=row.pk in passed)
        for row, decisions, also, passed_over in found
    )


def _left(decisions: Sequence[Decision]) -> str:
    return decisions[-1].left_as if decisions else HoldPoint.State.WAITING


def _point(
    row: HoldPoint, decisions: Sequence[Decision], also: Sequence[Decision], passed_over: datetime | None, *,
    passed: bool,
) -> Point:  # fmt: skip
    last = decisions[-1] if decisions else None
    return Point(
        id=str(row.pk),
        kind=row.get_kind_display(),
        title=row.title,
        area=row.area.label,
        coat=row.step,
        # Of one that waits for no word, what board and matrix call it.
        state=HoldPoint.Lies.PASSED.label.lower() if passed else _left(decisions),
        at=last.at if last else None,
        signed_as=last.signed if last else "",
        reason=last.reason if last else "",
        noted=last.get_outcome_display() if last and (passed or last.outcome in NOTED) else "",
        also=tuple(Said(each.get_outcome_display(), each.at, each.signed, each.reason) for each in also),
        passed_over=passed_over,
    )
