"""What a hold point stands on, in SQL: the newest thickness record of its area after its coat, and how far it holds."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import Case, CharField, Exists, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import HoldPoint, Nonconformance
from inspection.standing.models import Standing

# Where a point lies on the board, in the order in which it wants somebody.
READY, DOUBT, UNREADY, REFUSED, RELEASED = "ready", "doubt", "unready", "refused", "released"
PLACES = {
    READY: "Ready to release",
    DOUBT: "Released, now in doubt",
    UNREADY: "Evidence not complete",
    REFUSED: "Refused",
    RELEASED: "Released",
}

HOLDS = Q(record_verdict="pass", record_standing=Standing.State.SOUND)
# A released point does not fall into doubt because newer readings wait for their closing check.
IN_DOUBT = Q(record_verdict="fail") | Q(record_standing=Standing.State.IN_QUESTION) | Q(record_id=None)


def newest_records() -> QuerySet[ThicknessRecord]:
    """Of the outer row's area and coat, newest first and without those that a correction replaced."""
    records = ThicknessRecord.objects.current().filter(area=OuterRef("area"), coat=OuterRef("coat"))
    return cast("QuerySet[ThicknessRecord]", records.order_by("-taken_at", "-pk"))


def with_ground(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The points with `record_id`, `record_verdict`, `record_standing`, `has_open` nonconformances and `place`."""
    return (
        points.annotate(record_id=Subquery(newest_records().values("pk")[:1]))
        .annotate(
            record_verdict=Subquery(ThicknessRecord.objects.filter(pk=OuterRef("record_id")).values("verdict")),
            record_standing=Subquery(Standing.objects.filter(record=OuterRef("record_id")).values("state")),
            has_open=Exists(
                Nonconformance.objects.filter(
                    area=OuterRef("area"), coat=OuterRef("coat"), state=Nonconformance.State.OPEN
                )
            ),
        )
        .annotate(
            place=Case(
                When(state=HoldPoint.State.REFUSED, then=Value(REFUSED)),
                When(IN_DOUBT, state=HoldPoint.State.RELEASED, then=Value(DOUBT)),
                When(state=HoldPoint.State.RELEASED, then=Value(RELEASED)),
                When(HOLDS, has_open=False, then=Value(READY)),
                default=Value(UNREADY),
                output_field=CharField(),
            )
        )
    )


def by_place(points: QuerySet[Any]) -> QuerySet[Any]:
    """Those first that want somebody."""
    rank = Case(
        *(When(place=place, then=Value(number)) for number, place in enumerate(PLACES)), output_field=IntegerField()
    )
    return points.order_by(rank, "project__code", "area__code", "coat__order", "kind")
