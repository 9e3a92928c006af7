"""Which areas want measuring next, project by project: by the coats to come, and no further than the plan lets them.

What lies beyond a hold point that nobody has freed is not next, however near it lies: it is told apart, with its point.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import (
    BooleanField,
    Case,
    CharField,
    Count,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    UUIDField,
    Value,
    When,
    Window,
)
from django.db.models.functions import Coalesce, RowNumber

from inspection.fieldwork.judging import UNSPECIFIED
from inspection.fieldwork.models import Latest, ThicknessRecord
from inspection.fieldwork.signals import carried, held_at
from inspection.projects.models import Coat, InspectionArea
from inspection.projects.steps import stands_for_outer

MOST_NEXT = 6
# What wants no repair and no more readings comes after what does.
COAT_TO_COME = 2
VERDICT = Case(
    When(found_verdict="fail", carried=True, then=Value("pass")), default=F("found_verdict"), output_field=CharField()
)


@dataclass
class AreaNext:
    area: InspectionArea
    coat: Coat
    why: str
    record: UUID | None
    # How many areas of its project want measuring alike: those that can be, or those that a point holds.
    of: int
    # The hold point before its coat that nobody has freed; None where it can be measured now.
    held_at: UUID | None = None


def areas_next(projects: list[UUID], most: int = MOST_NEXT, *, area: UUID | None = None) -> list[AreaNext]:
    """Of each project the first areas that want measuring: failing, short of readings, coat to come, not begun.

    After those that can be measured now as many that a hold point holds. With `area`, of that one alone.
    """
    # Of the coats it is to have now; what an area had under another system before says nothing of what is next.
    there = Latest.objects.filter(area=OuterRef("pk"), kind=ThicknessRecord.KIND)
    last = there.filter(coat__system=OuterRef("system")).order_by("-coat__order")
    # What it keeps of a former revision lies under all that is to come, and is done there or to be mended.
    kept = there.filter(coat__kept_on__area=OuterRef("pk"), coat__kept_on__system=OuterRef("system"))
    kept = kept.order_by("-coat__kept_on__number")
    coats = Coat.objects.filter(system=OuterRef("system")).order_by("-order")

    def newest(column: str, of: Any) -> Coalesce:
        return Coalesce(*(Subquery(rows.values(column)[:1], output_field=of) for rows in (last, kept)))

    areas: QuerySet[Any] = (
        InspectionArea.objects.in_use()
        .whole()
        .filter(structure__project__in=projects, **({"pk": area} if area else {}))
        .annotate(
            last_record=newest("record", UUIDField()),
            found_verdict=newest("record__verdict", CharField()),
            measured_after=newest("coat", UUIDField()),
            kept_upto=Coalesce(stands_for_outer(), 0),
            last_order=Coalesce(Subquery(last.values("coat__order")[:1]), F("kept_upto")),
            last_decides=newest("coat__decides", BooleanField()),
            last_coat=Subquery(coats.values("order")[:1]),
        )
        # What failed and stands together with its repaired part wants nothing more.
        .annotate(carried=carried())
        .annotate(last_verdict=VERDICT)
        .exclude(last_coat=None)
        # Written as what stays: a condition on what is absent is neither true nor false in SQL.
        .filter((Q(last_verdict__isnull=False) & ~Q(last_verdict="pass")) | Q(last_order__lt=F("last_coat")))
        .annotate(
            urgency=Case(
                When(last_verdict="fail", last_decides=False, then=Value(COAT_TO_COME)),
                When(last_verdict="fail", then=Value(0)),
                When(last_verdict="incomplete", then=Value(1)),
                When(last_verdict="pass", then=Value(COAT_TO_COME)),
                default=Value(3),
                output_field=IntegerField(),
            )
        )
    )
    placed = _first_of_each(areas, most).select_related("structure").prefetch_related("system__coats")
    found = sorted(placed, key=lambda area: (area.held, area.place))
    measured = Coat.objects.in_bulk([area.measured_after for area in found if area.measured_after])
    unspecified = _unspecified([area.last_record for area in found if area.last_verdict == "not judged"])
    return [_area_next(area, measured.get(area.measured_after), unspecified) for area in found]


def _first_of_each(areas: QuerySet[Any], most: int) -> QuerySet[Any]:
    """Of each project so many that can be measured now and so many that a point holds, with how many there are."""
    apart = ["structure__project", "held"]
    placed: QuerySet[Any] = (
        areas.annotate(held_at=Case(When(urgency__gte=COAT_TO_COME, then=held_at()), output_field=UUIDField()))
        .annotate(held=Case(When(held_at=None, then=Value(0)), default=Value(1), output_field=IntegerField()))
        .annotate(
            place=Window(RowNumber(), partition_by=apart, order_by=["urgency", "code", "structure__name"]),
            of=Window(Count("pk"), partition_by=apart),
        )
        .filter(place__lte=most)
    )
    return placed


def _unspecified(unjudged: list[UUID]) -> set[UUID]:
    """Those of the records that were not judged because a limit is missing."""
    lacking = ThicknessRecord.objects.filter(pk__in=unjudged, inputs__has_key=UNSPECIFIED) if unjudged else ()
    return {record.pk for record in lacking}


def _area_next(area: Any, measured: Coat | None, unspecified: Collection[UUID]) -> AreaNext:
    """`measured` is the coat after which it was measured last; `unspecified` are records with no limit to judge by."""
    to_come = sorted((coat for coat in area.system.coats.all() if coat.order > area.last_order), key=lambda c: c.order)
    if measured is None:
        return AreaNext(area, to_come[0], "not measured yet", None, area.of, area.held_at)
    of_control = area.last_verdict == "fail" and not area.last_decides
    if to_come and (area.last_verdict == "pass" or of_control):
        passed = "failed, and passed with its repaired part" if area.found_verdict == "fail" else "passed"
        found = "failed, measured for control only" if of_control else passed
        return AreaNext(area, to_come[0], f"{measured.name} {found}", area.last_record, area.of, area.held_at)
    unjudged = "its rule does not reach this thickness"
    if area.last_record in unspecified:
        unjudged = "not judged: not every coat has the limits that its rule judges by"
    why = {"fail": "failed: repair and measure again", "not judged": unjudged}
    words = why.get(area.last_verdict, "more readings wanted")
    return AreaNext(area, measured, words, area.last_record, area.of)
