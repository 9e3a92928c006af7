"""Points that work went on over while they held: kept, journalled, and a nonconformance drafted for each."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from django.db.models import F, Q, QuerySet

from accounts import journal
from accounts.models import Person
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.passing import with_passing
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Coat

NO_LONGER = "What went on over the point, a lot or a measurement, was corrected."


def follow_passing(by: Person | None, records: Iterable[UUID]) -> None:
    """Let the points of the areas on which these were measured be kept as passed over or not, as the facts now say."""
    named = list(records)
    # A correction may have moved the measurement; the area it left is looked at too.
    measured = Record.objects.filter(Q(pk__in=named) | Q(replaced_by__in=named), kind=ThicknessRecord.KIND)
    areas = list(measured.order_by().values_list("area", flat=True).distinct())
    follow_passing_on(by, areas)


def follow_passing_on(by: Person | None, areas: Collection[UUID]) -> None:
    """The same of all points of the areas."""
    points = HoldPoint.objects.filter(area__in=areas)
    # What passes a point over takes long to compose, and most areas that are measured have no point, or none yet.
    if areas and points.exists():
        _put_right(by, points)


def put_passing_right() -> int:
    """The same of every point that is kept otherwise; how many there were."""
    return _put_right(None, HoldPoint.objects.all())


def passed_otherwise(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """Those of the points that are kept as passed over, or not, otherwise than the facts say in `passed_by`."""
    points = with_passing(points)
    one_of_both = Q(passed_by=None, passed_over_at__isnull=False) | Q(passed_by__isnull=False, passed_over_at=None)
    return points.filter(one_of_both | ~Q(passed_by=F("passed_over_at")))


def _put_right(by: Person | None, points: QuerySet[HoldPoint]) -> int:
    held = list(
        passed_otherwise(points).select_related("project", "area__structure", "coat", "passed_draft")
        .select_for_update(of=("self",)).order_by("pk")
    )  # fmt: skip
    for point in held:
        before, point.passed_over_at = point.passed_over_at, point.passed_by
        if before is None:
            point.passed_draft = _drafted(by, point)
            _journal(by, point, "holdpoint.passed_over")
        elif point.passed_over_at is None:
            _drop(by, point.passed_draft)
            point.passed_draft = None
            _journal(by, point, "holdpoint.not_passed_over")
        point.save(update_fields=["passed_over_at", "passed_draft"])
    keep_places(HoldPoint.objects.filter(pk__in=[point.pk for point in held]))
    return len(held)


def _drafted(by: Person | None, point: HoldPoint) -> Nonconformance:
    when = f"{point.passed_over_at.astimezone(point.project.zone):%Y-%m-%d %H:%M}" if point.passed_over_at else ""
    coat = point.coat or Coat.objects.filter(system=point.area.system_id).order_by("order")[0]
    return nonconformance.draft(
        by, area=point.area, coat=coat, title=f"Work went on over the hold point “{point.title}” on {point.area.label}",
        description=f"A later coat was begun or measured on the area at {when}, while the point held.",
    )  # fmt: skip


def _drop(by: Person | None, drafted: Nonconformance | None) -> None:
    if drafted is not None and drafted.state == Nonconformance.State.DRAFT:
        nonconformance.drop_by_facts(by, drafted, because=NO_LONGER)


def _journal(by: Person | None, point: HoldPoint, verb: str) -> None:
    drafted = point.passed_draft
    journal.record(
        verb, point, by=by, project_id=point.project_id,
        after={"at": point.passed_over_at, "nonconformance": drafted.number if drafted else None},
    )  # fmt: skip
