"""Which areas want measuring next, project by project: by the coats to come, and no further than the plan lets them.

What lies beyond a hold point that nobody has freed is not next, however near it lies: it is told apart, with its point.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from itertools import chain
from uuid import UUID

from django.db.models import F, OuterRef, Q, Subquery, UUIDField

from inspection.fieldwork.judging import UNSPECIFIED
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.fieldwork.signals import carried, held_at, repair
from inspection.projects.models import Coat, InspectionArea
from inspection.projects.steps import stands_for_outer

MOST_NEXT = 6
# What wants no repair and no more readings comes after what does, and what nobody has begun last.
COAT_TO_COME = 2
NOT_BEGUN = 3
PASS, FAIL, INCOMPLETE, NOT_JUDGED = (
    Record.Verdict.PASS, Record.Verdict.FAIL, Record.Verdict.INCOMPLETE, Record.Verdict.NOT_JUDGED,
)  # fmt: skip
URGENCY: dict[str | None, int] = {FAIL: 0, INCOMPLETE: 1, PASS: COAT_TO_COME}


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


@dataclass
class _Measured:
    """The measurement that stands on an area after the last of its coats that was measured."""

    record: UUID
    verdict: str
    coat: UUID
    order: int
    decides: bool
    # It failed, and the area stands together with its repaired part: it wants nothing more.
    carried: bool = False
    # It failed, and this repaired part of the area is to pass beside it.
    part: UUID | None = None

    @property
    def stands(self) -> str:
        return PASS if self.verdict == FAIL and self.carried else self.verdict

    @property
    def is_of_control(self) -> bool:
        return self.stands == FAIL and not self.decides


@dataclass
class _Place:
    """An area, how far it is, and how far it is to come, in places of the coats in its system."""

    area: UUID
    project: UUID
    order: int
    last_order: int
    measured: _Measured | None

    @property
    def is_done(self) -> bool:
        return (self.measured is None or self.measured.stands == PASS) and self.order >= self.last_order

    @property
    def wants_next_coat(self) -> bool:
        """What is to be measured again where it was measured is held by no point, however it lies."""
        return self.measured is None or self.measured.is_of_control or self.measured.stands == PASS

    @property
    def urgency(self) -> int:
        if self.measured is None:
            return NOT_BEGUN
        return COAT_TO_COME if self.measured.is_of_control else URGENCY.get(self.measured.stands, NOT_BEGUN)


def areas_next(
    projects: list[UUID], most: int = MOST_NEXT, *, area: UUID | None = None, words: str = ""
) -> list[AreaNext]:
    """Of each project the first areas that want measuring: failing, short of readings, coat to come, not begun.

    After those that can be measured now as many that a hold point holds. With `area`, of that one alone; with
    `words`, of those that have them in code, name or section.
    """
    found_places = _places(projects, area, words)
    wanting = sorted((place for place in found_places if not place.is_done), key=lambda each: each.urgency)
    held = held_at({each.area: each.order for each in wanting if each.wants_next_coat})
    apart: dict[tuple[bool, UUID], list[_Place]] = defaultdict(list)
    for each in wanting:
        apart[each.area in held, each.project].append(each)
    alike = [apart[key] for key in sorted(apart)]
    chosen = list(chain.from_iterable(places[:most] for places in alike))
    many = {each.area: len(places) for places in alike for each in places[:most]}
    rows = InspectionArea.objects.select_related("structure").prefetch_related("system__coats")
    parts = [each.measured.part for each in chosen if each.measured and each.measured.part]
    areas = rows.in_bulk([*(each.area for each in chosen), *parts])
    measured = [each.measured for each in chosen if each.measured]
    coats = Coat.objects.in_bulk([each.coat for each in measured])
    unspecified = _unspecified([each.record for each in measured if each.verdict == NOT_JUDGED])
    found = []
    for each in chosen:
        there, coat, why = _next_of(areas, each, coats, unspecified)
        record = each.measured.record if each.measured else None
        found.append(AreaNext(there, coat, why, record, many[each.area], held.get(each.area)))
    return found


def _places(projects: list[UUID], area: UUID | None, words: str) -> list[_Place]:
    """Where each area of the projects stands, by code: two queries or three, however many areas."""
    # Of the coats it is to have now; what an area had under another system before says nothing of what is next.
    there = Latest.objects.filter(area=OuterRef("pk"), kind=ThicknessRecord.KIND)
    last = there.filter(coat__system=OuterRef("system")).order_by("-coat__order")
    # What it keeps of a former revision lies under all that is to come, and is done there or to be mended.
    kept = there.filter(coat__kept_on__area=OuterRef("pk"), coat__kept_on__system=OuterRef("system"))
    kept = kept.order_by("-coat__kept_on__number")
    coats = Coat.objects.filter(system=OuterRef("system")).order_by("-order")
    areas = InspectionArea.objects.in_use().whole().filter(structure__project__in=projects)
    if words:
        named = Q(code__icontains=words) | Q(name__icontains=words) | Q(section__path__icontains=words)
        areas = areas.filter(named)
    rows = list(
        areas.filter(**({"pk": area} if area else {}))
        .annotate(
            last=Subquery(last.values("record")[:1], output_field=UUIDField()),
            kept=Subquery(kept.values("record")[:1], output_field=UUIDField()),
            kept_upto=stands_for_outer(),
            last_order=Subquery(coats.values("order")[:1]),
        )
        .order_by("code", "structure__name", "pk")
        .values_list("pk", "structure__project", "last", "kept", "kept_upto", "last_order")
    )
    measured = _measured([last or kept for _, _, last, kept, _, _ in rows if last or kept])
    found = []
    for pk, project, of_system, of_former, upto, last_order in rows:
        order = measured[of_system].order if of_system else upto or 0
        if last_order is not None:
            found.append(_Place(pk, project, order, last_order, measured.get(of_system or of_former)))
    return found


def _measured(records: list[UUID]) -> dict[UUID, _Measured]:
    rows = Latest.objects.filter(record__among=records, kind=ThicknessRecord.KIND)
    names = ("record", "record__verdict", "coat", "coat__order", "coat__decides")
    found = {each.record: each for each in (_Measured(*row) for row in rows.values_list(*names))}
    failed = [each.record for each in found.values() if each.verdict == FAIL]
    if failed:
        of_failed = rows.filter(record__among=failed).annotate(last_record=F("record_id"))
        beside = of_failed.annotate(carried=carried(), repair=repair()).exclude(repair=None)
        for record, stands, part in beside.values_list("record", "carried", "repair"):
            found[record].carried, found[record].part = stands, part
    return found


def _unspecified(unjudged: list[UUID]) -> set[UUID]:
    """Those of the records that were not judged because a limit is missing."""
    lacking = ThicknessRecord.objects.filter(pk__in=unjudged, inputs__has_key=UNSPECIFIED) if unjudged else ()
    return {record.pk for record in lacking}


def _next_of(
    areas: dict[UUID, InspectionArea], place: _Place, coats: dict[UUID, Coat], unspecified: Collection[UUID]
) -> tuple[InspectionArea, Coat, str]:
    """What is measured next there, after which coat, and why; `unspecified` are records with no limit to judge by.

    Of an area that failed and has a repaired part, that is what is to be measured.
    """
    area = areas[place.area]
    to_come = sorted((coat for coat in area.system.coats.all() if coat.order > place.order), key=lambda c: c.order)
    measured = place.measured
    if measured is None:
        return area, to_come[0], "not measured yet"
    coat = coats[measured.coat]
    if to_come and place.wants_next_coat:
        passed = "failed, and passed with its repaired part" if measured.carried else "passed"
        control = "failed, measured for control only"
        return area, to_come[0], f"{coat.name} {control if measured.is_of_control else passed}"
    if measured.part:
        words = f"{area.code} failed, and stands once this repaired part passes and can be relied on"
        return areas[measured.part], coat, words
    unjudged = "its rule does not reach this thickness"
    if measured.record in unspecified:
        unjudged = "not judged: not every coat has the limits that its rule judges by"
    why = {FAIL: "failed: repair and measure again", NOT_JUDGED: unjudged}
    return area, coat, why.get(Record.Verdict(measured.stands), "more readings wanted")
