"""Inspection areas divided into parts, merged into one, and brought back: records stay where they were taken."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction

from accounts import journal
from accounts.models import Person
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.areas import add_area, code_faults, rounded, size_faults
from inspection.projects.breakdown import Change, hold, hold_all, restore, retire, retired_words, stands_by_itself
from inspection.projects.models import SEPARATOR, InspectionArea, Section
from inspection.projects.parties import carry_scope

FEWEST_PARTS, MOST_PARTS = 2, 24


@dataclass(frozen=True)
class Part:
    """A part that an area is divided into: m², and the lengths of its edges and welds in m where they are known."""

    code: str
    name: str
    area_m2: Decimal
    edges_m: Decimal | None = None
    welds_m: Decimal | None = None


@transaction.atomic
def divide_area(by: Person, *, area: InspectionArea, parts: Sequence[Part], reason: str) -> list[InspectionArea]:
    """Divide an area into parts that take its place; it is retired, with its records, and points wait on each part.

    A fault of a part carries its number, from 1, as the row. The parts hold at most as many m² and m as the area.
    """
    locked = hold(by, area, to="divide an area", reason=reason)
    if locked.retired_at:
        raise Conflict(retired_words(locked))
    stands_by_itself(locked)
    if faults := _part_faults(locked, parts):
        raise Refused(faults)
    made = [_made(by, [locked], part, section=locked.section) for part in parts]
    _journal(by, [locked], made, "area.divided", reason)
    retire(by, [locked], Change.DIVIDED, reason=reason, parts=made)
    return made


@transaction.atomic
def merge_areas(by: Person, *, areas: Sequence[InspectionArea], code: str, name: str, reason: str) -> InspectionArea:
    """Merge areas of one structure and one coating system into a new one, as large as they are together.

    They are retired, with their records, and points wait on the new one. It hangs in the section that holds them all;
    lengths that are not known of each are not known of it.
    """
    locked = hold_all(by, areas, to="merge areas", reason=reason)
    stands_by_itself(*locked)
    if faults := _merge_faults(locked):
        raise Refused(faults)
    sums = {
        name: None if None in lengths else sum(length for length in lengths if length is not None)
        for name in ("edges_m", "welds_m")
        for lengths in [[getattr(area, name) for area in locked]]
    }
    whole = Part(code, name, sum((area.area_m2 for area in locked), Decimal(0)), **sums)
    made = _made(by, locked, whole, section=_section_of_all(locked))
    _journal(by, locked, [made], "area.merged", reason)
    retire(by, locked, Change.MERGED, reason=reason, parts=[made])
    return made


@transaction.atomic
def restore_area(by: Person, *, area: InspectionArea, reason: str) -> InspectionArea:
    """Bring a retired area back; where others took its place, these are retired, and all they came from is back.

    Raises Conflict where what took its place was itself replaced since, or what it came from is in use.
    """
    held = hold_all(by, [area, *_taken_back_with(area)], to="bring an area back", reason=reason)
    locked = next(each for each in held if each.pk == area.pk)
    stands_by_itself(locked)
    if locked.retired_at is None:
        raise Conflict(f"{locked.label} is in use.")
    made = set(parts_of(locked))
    if replaced := [part for part in locked.became.all() if part.retired_at and part.became.filter(retired_at=None)]:
        raise Conflict(f"{retired_words(replaced[0])} Bring that back first.")
    if origin := locked.made_from.filter(retired_at=None).first():
        raise Conflict(f"{locked.label} came from {origin.label}, which is in use; retire that first.")
    if made:
        retire(by, [each for each in held if each in made], Change.RETIRED, reason=reason)
    restore(by, [each for each in held if each not in made and each.retired_at], reason=reason)
    locked.refresh_from_db()
    return locked


def parts_of(area: InspectionArea) -> list[InspectionArea]:
    """The areas in use that took the place of a retired one."""
    return list(area.became.filter(retired_at=None)) if area.retired_at else []


def _taken_back_with(area: InspectionArea) -> list[InspectionArea]:
    """What took the area's place, and all that this was made from."""
    parts = parts_of(area)
    return [*parts, *InspectionArea.objects.filter(became__in=parts).exclude(pk=area.pk).distinct()]


def _part_faults(area: InspectionArea, parts: Sequence[Part]) -> list[Fault]:
    if not FEWEST_PARTS <= len(parts) <= MOST_PARTS:
        return [Fault(f"Give at least {FEWEST_PARTS} and at most {MOST_PARTS} parts; in one part it stays whole.")]
    faults, times = [], Counter(part.code.strip().casefold() for part in parts)
    for row, part in enumerate(parts, start=1):
        wrong = size_faults(area_m2=part.area_m2, edges_m=part.edges_m, welds_m=part.welds_m)
        wrong += _code_faults(area, part.code)
        if times[part.code.strip().casefold()] > 1:
            wrong.append(Fault(f"Two parts bear the code {part.code.strip()}; give each its own.", "code"))
        faults += [replace(fault, row=row) for fault in wrong]
    if faults:
        return faults
    for name, unit, what in (("area_m2", "m²", "surface"), ("edges_m", "m", "edges"), ("welds_m", "m", "welds")):
        whole, together = getattr(area, name), sum(rounded(getattr(part, name) or Decimal(0)) for part in parts)
        if whole is not None and together > whole:
            told = f"The parts have {together} {unit} of {what} together, more than the {whole} {unit} of {area.label}"
            faults.append(Fault(f"{told}; put them right, or measure it again first."))
    return faults


def _code_faults(area: InspectionArea, code: str) -> list[Fault]:
    try:
        return code_faults(area.structure, line(code, field="code", most=60))
    except Refused as refusal:
        return list(refusal.faults)


def _merge_faults(areas: Sequence[InspectionArea]) -> list[Fault]:
    if len(areas) < FEWEST_PARTS:
        return [Fault("Name at least two areas to merge.", "areas")]
    faults = [Fault(retired_words(area), "areas") for area in areas if area.retired_at]
    first = areas[0]
    for other in areas[1:]:
        if other.system_id != first.system_id:
            told = f"{first.label} has the system {first.system}, {other.label} has {other.system}"
            faults.append(Fault(f"{told}; areas are merged within one system.", "areas"))
        if other.structure_id != first.structure_id:
            told = f"{first.label} lies on {first.structure}, {other.label} on {other.structure}"
            faults.append(Fault(f"{told}; areas are merged within one structure.", "areas"))
    return faults


def _section_of_all(areas: Sequence[InspectionArea]) -> Section | None:
    """The deepest section in which all of the areas hang; None where they share none."""
    ways = [area.section.path.split(SEPARATOR) if area.section else [] for area in areas]
    shared = []
    for names in zip(*ways, strict=False):
        if len(set(names)) > 1:
            break
        shared.append(names[0])
    return Section.objects.filter(structure=areas[0].structure_id, path=SEPARATOR.join(shared)).first()


def _made(by: Person, origins: Sequence[InspectionArea], part: Part, *, section: Section | None) -> InspectionArea:
    first = origins[0]
    made = add_area(
        by, structure=first.structure, section=section, system=first.system, code=part.code, name=part.name,
        area_m2=part.area_m2, edges_m=part.edges_m, welds_m=part.welds_m, shape=first.shape,
    )  # fmt: skip
    made.made_from.set(origins)
    carry_scope(by, areas=origins, made=made)
    return made


def _journal(
    by: Person, origins: Sequence[InspectionArea], made: Sequence[InspectionArea], verb: str, reason: str
) -> None:
    after = {"parts": {str(part.pk): f"{part.code}, {part.area_m2} m²" for part in made}}
    for area in origins:
        journal.record(
            verb, area, by=by, project_id=area.structure.project_id, before={"area_m2": area.area_m2}, after=after,
            reason=reason.strip(),
        )  # fmt: skip
