"""Points of areas that are changed: those undecided are closed with the area, and wait again when it comes back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery
from django.dispatch import receiver

from accounts import journal
from accounts.models import Person
from inspection.holdpoints.actions.keeping import keep_places, look_again_at_broken
from inspection.holdpoints.actions.points import decide, locked_point
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint, PointLetter, Requirement
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.signals import area_touched, areas_changed

REPLACED = (Change.DIVIDED, Change.MERGED)
UNDECIDED = (HoldPoint.State.WAITING, HoldPoint.State.REFUSED)


@receiver(area_touched, dispatch_uid="holdpoints")
def planned_there(sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    points = HoldPoint.objects.filter(area__in=areas)
    if change == Change.REVISED:
        return []
    if change == Change.RESTORED:
        many = sum(_closed_with(area, area.retired_at).count() for area in areas)
        return [f"{_points(many)} closed by it will wait again."] if many else []
    if change in (Change.MEASURED, Change.RENAMED, Change.MOVED):
        many = points.count()
        lie = "lies" if many == 1 else "lie"
        return [f"{_points(many)} of the inspection and test plan {lie} there, as decided so far."] if many else []
    undecided, released = points.filter(state__in=UNDECIDED).count(), points.filter(state="released").count()
    told = []
    if undecided:
        then = " and planned again on what takes the place" if change in REPLACED else ""
        told.append(f"{_points(undecided)} there not released {_be(undecided)} closed{then}.")
    if released:
        told.append(
            f"{_points(released)} there {'stays' if released == 1 else 'stay'} released, on the evidence of that time."
        )
    return told


def _points(many: int) -> str:
    return "1 point" if many == 1 else f"{many} points"


def _be(many: int) -> str:
    return "is" if many == 1 else "are"


@receiver(areas_changed, dispatch_uid="holdpoints")
def follow_areas(
    sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, parts: Sequence[InspectionArea],
    at: datetime, back: datetime | None, because: str, **sent: Any,
) -> None:  # fmt: skip
    look_again_at_broken(HoldPoint.objects.filter(area__in=areas), by=by, because=because)
    again = at if change == Change.RESTORED else back
    for point in [point for area in areas for point in _closed_with(area, again)] if again else []:
        held = locked_point(point)
        decide(by, held, Decision.Outcome.PRESENTED, evidence_of(held), reason=because)
    if change == Change.RESTORED:
        return
    points = HoldPoint.objects.filter(area__in=areas, state__in=UNDECIDED).order_by("pk")
    if change == Change.SYSTEM:
        points = points.exclude(coat__system__in=[area.system_id for area in areas])
    closed = []
    for point in points:
        held = locked_point(point)
        if held.state in UNDECIDED:
            decide(by, held, Decision.Outcome.CLOSED, evidence_of(held), reason=because, at=at)
            closed.append(held)
    plan_again(by, closed, parts, because)


def plan_again(by: Person, closed: Sequence[HoldPoint], parts: Sequence[InspectionArea], because: str) -> None:
    """What was asked for on the areas replaced is asked for on what replaces them, each point once."""
    wanted = {_asked(point): point for point in reversed(closed)}
    requires: dict[Any, dict[str, Requirement]] = defaultdict(dict)
    for row in Requirement.objects.filter(point__in=closed).select_related("point").order_by("-pk"):
        requires[_asked(row.point)][row.kind] = row
    letters = {
        _asked(row.point): list(PointLetter.objects.filter(point=row.point, ended_at=None))
        for row in PointLetter.objects.filter(point__in=closed, ended_at=None).select_related("point").order_by("-pk")
    }
    for part in parts:
        for asked, point in wanted.items():
            planned = HoldPoint.objects.create(
                project_id=point.project_id, area=part, coat=point.coat, line=point.line, kind=point.kind,
                title=point.title, measured=point.measured,
            )  # fmt: skip
            also = sorted(requires[asked])
            Requirement.objects.bulk_create(
                Requirement(point=planned, kind=row.kind, coat=row.coat, how_many=row.how_many, fresh_for=row.fresh_for)
                for row in requires[asked].values()
            )
            PointLetter.objects.bulk_create(
                PointLetter(
                    point=planned, party_kind=row.party_kind, party=row.party, letter=row.letter, meaning=row.meaning,
                    reason=row.reason, given_by=row.given_by,
                )
                for row in letters.get(asked, ())
            )  # fmt: skip
            keep_places(HoldPoint.objects.filter(pk=planned.pk))
            journal.record(
                "holdpoint.planned", planned, by=by, project_id=point.project_id, reason=because,
                after={
                    "area": part.label, "coat": point.step, "kind": point.kind,
                    **({"requires": also} if also else {}),
                },
            )  # fmt: skip


def _asked(point: HoldPoint) -> tuple[UUID | None, str, UUID | None]:
    """What makes two points of different areas ask for the same: their coat, their kind, the line of the plan."""
    return point.coat_id, point.kind, point.line_id


def _closed_with(area: InspectionArea, at: datetime | None) -> QuerySet[HoldPoint]:
    """The closed points of an area that were closed at the very moment of the change, and not touched since."""
    last = Decision.objects.filter(point=OuterRef("pk")).order_by("-number").values("at")[:1]
    closed = HoldPoint.objects.filter(area=area, state=HoldPoint.State.CLOSED)
    return closed.annotate(closed_at=Subquery(last)).filter(closed_at=at).order_by("pk")
