"""A part of an inspection area that is repaired: an area of its own within it, with its own m² and code."""

from __future__ import annotations

from decimal import Decimal

from accounts import journal
from accounts.models import Person
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.areas import area_faults, code_faults, code_taken, rounded, tell_apart
from inspection.projects.breakdown import Change, retire, still_in_use
from inspection.projects.models import InspectionArea
from inspection.projects.parties import carry_scope
from inspection.projects.preconditions import save_new, snapshot

LONGEST_CODE = 60


def size_of_part(area: InspectionArea, area_m2: Decimal) -> list[Fault]:
    """What is wrong with the m² of a part of the area."""
    faults = area_faults(area_m2)
    if not faults and rounded(area_m2) > area.area_m2:
        faults = [Fault(f"{area.label} has {area.area_m2} m²; a part of it has at most that.", "area_m2")]
    return faults


def add_repaired_part(by: Person, *, area: InspectionArea, area_m2: Decimal, name: str) -> InspectionArea:
    """Add the part that is repaired, within the caller's transaction, which holds the area and asked for the right.

    Its code is the area's with the next number of its repairs; a contractor's people see it as they see the area.
    """
    goes_on(area.structure.project)
    still_in_use(area)
    if area.repair_of_id:
        raise Refused("It is a repaired part itself; put all of it right, and measure it by its own plan.")
    name = line(name, field="name", most=120)
    if faults := size_of_part(area, area_m2):
        raise Refused(faults)
    code = _next_code(area)
    part = InspectionArea(
        structure=area.structure, section=area.section, system=area.system, code=code, name=name, shape=area.shape,
        area_m2=rounded(area_m2), repair_of=area,
    )  # fmt: skip
    save_new(part, already=code_taken(area.structure, code), field="code")
    tell_apart(area.structure.project_id, code)
    part.refresh_from_db(fields=["told_by"])
    carry_scope(by, areas=[area], made=part)
    journal.record("area.part_added", part, by=by, project_id=area.structure.project_id, after=snapshot(part))
    return part


def undo_repaired_part(by: Person, *, part: InspectionArea, reason: str) -> InspectionArea:
    """Take the part out of use, within the caller's transaction; its records stay where they were taken."""
    rows = InspectionArea.objects.select_for_update(of=("self",)).select_related("structure__project", "repair_of")
    locked = rows.get(pk=part.pk)
    goes_on(locked.structure.project)
    return retire(by, [locked], Change.RETIRED, reason=reason)[0]


def _next_code(area: InspectionArea) -> str:
    number = area.repaired_parts.count() + 1
    while True:
        tail = f" / repair {number}"
        code = f"{area.code[: LONGEST_CODE - len(tail)]}{tail}"
        if not code_faults(area.structure, code):
            return code
        number += 1
