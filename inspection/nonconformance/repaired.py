"""Reads of repaired parts: those in sight, and what a page, the API and papers tell of one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from accounts.models import Person
from inspection.fieldwork.judging import area_of_spot, plan_of
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.fieldwork.verdicts_shown import CheckShown, checks_shown
from inspection.foundation.refusals import Refused
from inspection.foundation.units import Unit
from inspection.nonconformance.models import Nonconformance, Remainder, RepairedPart
from inspection.projects.steps import film_on
from inspection.standing.models import Standing

JOINED = (
    "part__structure", "part__system", "part__section", "made_by__organisation", "undone_by", "nonconformance__project",
    "nonconformance__area__structure", "nonconformance__coat__system",
)  # fmt: skip


def repaired_parts(person: Person) -> QuerySet[RepairedPart]:
    """Those in sight, undone ones too, with their remainders; none of them is a painting contractor's to read."""
    rows: QuerySet[RepairedPart] = RepairedPart.objects.visible_to(person).select_related(*JOINED)
    newest_last = Remainder.objects.select_related("record__standing").order_by("judged_at", "pk")
    return rows.prefetch_related(Prefetch("remainders", newest_last))


def rest_of(row: RepairedPart) -> Remainder | None:
    """What the rest of the area is by the version of the failing measurement that stands."""
    return next(iter(reversed(list(row.remainders.all()))), None)


def newest_on(rows: Iterable[RepairedPart]) -> dict[UUID, ThicknessRecord]:
    """By repaired part, the newest measurement on it after the coat that was found."""
    coats = {row.part_id: (row.pk, row.nonconformance.coat_id) for row in rows}
    stands = Latest.objects.filter(area__in=list(coats), kind=ThicknessRecord.KIND).values("record")
    found = {}
    for record in ThicknessRecord.objects.filter(pk__in=stands).select_related("standing", "project", "taken_by"):
        pk, coat = coats[record.area_id]
        if record.coat_id == coat:
            found[pk] = record
    return found


@dataclass(frozen=True)
class Told:
    """A repaired part as a page shows it: the rest of the area with its checks, the plan and the newest measurement."""

    row: RepairedPart
    rest: Remainder | None
    checks: list[CheckShown]
    record: ThicknessRecord | None
    wanted: str

    @property
    def nonconformance(self) -> Nonconformance:
        return self.row.nonconformance

    @property
    def standing(self) -> Any:
        return getattr(self.record, "standing", None)

    @property
    def both_pass(self) -> bool:
        passes = Record.Verdict.PASS
        return bool(self.rest and self.record and self.rest.verdict == passes == self.record.verdict)

    @property
    def unsound(self) -> list[Record]:
        """Of the two measurements, those that cannot be relied on as they are now."""
        reliable = {Standing.State.SOUND.value}
        if self.nonconformance.project.provisional_releases:
            reliable.add(Standing.State.PROVISIONAL.value)
        both: list[Record] = [record for record in (self.rest.record if self.rest else None, self.record) if record]
        return [record for record in both if getattr(getattr(record, "standing", None), "state", "") not in reliable]

    @property
    def left_out(self) -> str:
        return ", ".join(map(str, self.row.left_out))


def told_of(row: RepairedPart) -> Told:
    rest = rest_of(row)
    checks = checks_shown(rest.result, Unit(row.nonconformance.project.unit)) if rest else []
    return Told(row, rest, checks, newest_on([row]).get(row.pk), wanted_on(row))


def wanted_on(row: RepairedPart) -> str:
    """How much the rule of the coat wants measured on the part, by its own m²."""
    coat = row.nonconformance.coat
    if coat is None:
        return ""
    try:
        plan = plan_of(film_on(row.part, coat), row.part)
    except Refused as refusal:
        return str(refusal)
    if plan.by_spots:
        return f"{plan.spots} spots of {plan.readings_a_spot} readings"
    return f"{plan.readings} readings"


def spots_outside(record: ThicknessRecord) -> list[int]:
    """The spots of a failing measurement that alone do not conform, by number, to be named first as left out."""
    numbers = record.readings.filter(void_reason="").values_list("spot", flat=True).order_by("spot").distinct()
    by_area: dict[str, list[int]] = defaultdict(list)
    for number in numbers:
        by_area[f"area {area_of_spot(number)}"].append(number)
    found: set[int] = set()
    for area in record.result.get("areas", ()):
        spots = by_area[area["name"]]
        found |= {spots[at] for at in area["nonconforming_indices"] if at < len(spots)}
    return sorted(found)
