"""Points of areas that are changed: those undecided are closed with the area, and wait again when it comes back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.dispatch import receiver

from accounts.models import Person
from inspection.holdpoints.actions.points import decide, locked_point
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.queries import evidence_of
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.signals import area_touched, areas_changed

UNDECIDED = (HoldPoint.State.WAITING, HoldPoint.State.REFUSED)


@receiver(area_touched, dispatch_uid="holdpoints")
def planned_there(sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    points = HoldPoint.objects.filter(area__in=areas)
    if change == Change.RESTORED:
        many = sum(_closed_with(area, area.retired_at).count() for area in areas)
        return [f"{_points(many)} closed by it will wait again."] if many else []
    if change in (Change.MEASURED, Change.RENAMED, Change.MOVED):
        many = points.count()
        return [f"{_points(many)} of the inspection and test plan lie there, and stay as decided."] if many else []
    undecided, released = points.filter(state__in=UNDECIDED).count(), points.filter(state="released").count()
    told = []
    if undecided:
        told.append(f"{_points(undecided)} there not released are closed.")
    if released:
        told.append(f"{_points(released)} there stay released, on the records they were released on.")
    return told


def _points(many: int) -> str:
    return "1 point" if many == 1 else f"{many} points"


@receiver(areas_changed, dispatch_uid="holdpoints")
def follow_areas(
    sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, at: datetime, because: str, **sent: Any
) -> None:
    if change == Change.RESTORED:
        for area in areas:
            for point in _closed_with(area, at):
                held = locked_point(point)
                decide(by, held, Decision.Outcome.PRESENTED, evidence_of(held), reason=because)
        return
    for point in HoldPoint.objects.filter(area__in=areas, state__in=UNDECIDED).order_by("pk"):
        held = locked_point(point)
        if held.state in UNDECIDED:
            decide(by, held, Decision.Outcome.CLOSED, evidence_of(held), reason=because, at=at)


def _closed_with(area: InspectionArea, at: datetime | None) -> QuerySet[HoldPoint]:
    """The closed points of an area that were closed at the very moment of the change, and not touched since."""
    last = Decision.objects.filter(point=OuterRef("pk")).order_by("-number").values("at")[:1]
    closed = HoldPoint.objects.filter(area=area, state=HoldPoint.State.CLOSED)
    return closed.annotate(closed_at=Subquery(last)).filter(closed_at=at).order_by("pk")
