"""A whole table of areas stored at once: those not there are added, those there changed, all rows or none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.projects.actions import goes_on
from inspection.projects.areas import add_area
from inspection.projects.corrections import reason_faults
from inspection.projects.models import SEPARATOR, CoatingSystem, InspectionArea, Project, Section, Structure
from inspection.projects.preconditions import in_sight
from inspection.projects.sections import add_section

NEW, CHANGED, UNCHANGED = "New", "Changed", "Unchanged"


@dataclass(frozen=True)
class Wanted:
    """What a row says of one area: the columns it gives, its section's path (None: not said), and the area if there."""

    structure: Structure
    code: str
    values: dict[str, Any]
    section: str | None = None
    area: InspectionArea | None = None
    system: CoatingSystem | None = None


@dataclass(frozen=True)
class Stored:
    added: list[InspectionArea]
    changed: list[InspectionArea]


def differing(wanted: Wanted, area: InspectionArea | None = None) -> dict[str, tuple[Any, Any]]:
    """Of an area that is there, each column that would change, with what stands and what is wanted; paths as paths."""
    there = area or wanted.area
    if there is None:
        return {}
    found = {name: (getattr(there, name), value) for name, value in wanted.values.items()}
    if wanted.section is not None:
        found["section"] = (there.section.path if there.section else "", wanted.section)
    return {name: pair for name, pair in found.items() if pair[0] != pair[1]}


@transaction.atomic
def store_table(by: Person, *, project: Project, rows: Sequence[Wanted], reason: str = "") -> Stored:
    """Store what a table says of the project's areas, whole or not at all. What changes needs a reason.

    A fault carries the place of its row, from 1. Sections that are named and not there are added.
    """
    require(by, Role.QUALITY_MANAGER, to="add inspection areas")
    in_sight(by, project, *{row.structure for row in rows})
    goes_on(project)
    held = _hold([row.area.pk for row in rows if row.area])
    changes = [(row, held[row.area.pk], differing(row, held[row.area.pk])) for row in rows if row.area]
    changes = [change for change in changes if change[2]]
    if changes and (faults := reason_faults(reason)):
        raise Refused(faults)
    for row, area, _ in changes:
        if area.retired_at:
            raise Conflict(Fault(f"{area.label} was retired meanwhile.", "code", rows.index(row) + 1))
    sections = _sections(by, rows)
    changed = [_change(by, area, row, found, sections, reason) for row, area, found in changes]
    InspectionArea.objects.bulk_update(changed, ["name", "area_m2", "edges_m", "welds_m", "shape", "section"])
    return Stored(_added(by, rows, sections), changed)


def _hold(areas: list[UUID]) -> dict[UUID, InspectionArea]:
    rows = InspectionArea.objects.select_for_update(of=("self",)).select_related("structure", "section")
    return {area.pk: area for area in rows.filter(pk__in=areas).order_by("pk")}


def _sections(by: Person, rows: Sequence[Wanted]) -> dict[tuple[UUID, str], Section]:
    """The sections that the rows name, by structure and path; those not there are added, the upper ones first."""
    wanted = {row.structure.pk: row.structure for row in rows if row.section}
    found = {
        (section.structure_id, section.path): section
        for section in Section.objects.filter(structure__in=wanted).select_related("structure")
    }
    for row in rows:
        above = None
        names = row.section.split(SEPARATOR) if row.section else []
        for depth, name in enumerate(names, start=1):
            key = (row.structure.pk, SEPARATOR.join(names[:depth]))
            if key not in found:
                found[key] = add_section(by, structure=row.structure, name=name, parent=above)
            above = found[key]
    return found


def _change(
    by: Person, area: InspectionArea, row: Wanted, found: dict[str, tuple[Any, Any]],
    sections: dict[tuple[UUID, str], Section], reason: str,
) -> InspectionArea:  # fmt: skip
    for name, (_, value) in found.items():
        setattr(area, name, sections.get((area.structure_id, value)) if name == "section" else value)
    journal.record(
        "area.changed_by_table", area, by=by, project_id=area.structure.project_id,
        before={name: before for name, (before, _) in found.items()},
        after={name: after for name, (_, after) in found.items()}, reason=reason.strip(),
    )  # fmt: skip
    return area


def _added(by: Person, rows: Sequence[Wanted], sections: dict[tuple[UUID, str], Section]) -> list[InspectionArea]:
    added = []
    for place, row in enumerate(rows, start=1):
        if row.area is None and row.system:
            section = sections.get((row.structure.pk, row.section)) if row.section else None
            try:
                added.append(
                    add_area(
                        by, structure=row.structure, system=row.system, code=row.code, section=section, **row.values
                    )
                )
            except NotAllowed:
                raise
            except Refused as refusal:
                raise Refused([replace(fault, row=place) for fault in refusal.faults]) from refusal
    return added
