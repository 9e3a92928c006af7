"""Many inspection areas from one table, a row each. Reading stores nothing; what is wrong stands beside its row."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import TypeVar
from uuid import UUID

from inspection.foundation import tables
from inspection.foundation.refusals import Refused
from inspection.foundation.tables import lines_under_head
from inspection.projects.areas import AreaSpec, area_faults, rounded
from inspection.projects.models import CoatingSystem, InspectionArea, Project, Structure

Named = TypeVar("Named", Structure, CoatingSystem)
COLUMNS = ("structure", "code", "name", "area_m2", "shape", "system")
NEEDED = ("code", "name", "area_m2")
TEMPLATE = ";".join(COLUMNS) + "\n"
SHAPES = {str(label).casefold(): value for value, label in InspectionArea.Shape.choices} | {
    value: value for value in InspectionArea.Shape.values
}


@dataclass
class Row(tables.Row):
    """One line of the table, and the area it gives."""

    area: AreaSpec | None = None


@dataclass
class Table(tables.Table):
    COLUMNS = COLUMNS
    rows: list[Row]

    @property
    def found(self) -> str:
        """What the table holds, in words."""
        return f"{len(self.rows)} inspection area{'s' * (len(self.rows) > 1)}"

    def areas(self) -> list[AreaSpec]:
        return [row.area for row in self.rows if row.area]

    def show_refusal(self, refusal: Refused) -> None:
        """What the action refused at storing, beside the row it meant."""
        for fault in refusal.faults:
            self.rows[(fault.row or 1) - 1].fault(fault.field, fault.message)


@dataclass
class Known:
    """What rows may name, and which codes are taken, on which structure."""

    structures: dict[str, Structure]
    systems: dict[str, CoatingSystem]
    taken: set[tuple[UUID, str]]


def read(project: Project, content: bytes) -> Table:
    """Read and check a table of areas of the project. Raises Refused for a file that is no such table."""
    rows = [Row(line) for line in lines_under_head(content, known=COLUMNS, needed=NEEDED)]
    there = InspectionArea.objects.filter(structure__project=project).values_list("structure", "code")
    known = Known(
        {structure.name.casefold(): structure for structure in project.structures.all()},
        {system.name.casefold(): system for system in project.systems.all()},
        {(structure, code.casefold()) for structure, code in there},
    )
    for row in rows:
        row.faults += row.line.unseen()
        _check(row, known)
    return Table(rows)


def _check(row: Row, known: Known) -> None:
    structure = _named(row, "structure", known.structures)
    system = _named(row, "system", known.systems)
    shape = SHAPES.get((row.line["shape"] or InspectionArea.Shape.PLATE).casefold())
    if shape is None:
        shapes = ", ".join(InspectionArea.Shape.values)
        row.fault("shape", f"“{row.line['shape'][:30]}” is not known; write {shapes}.")
    area_m2 = _area(row)
    for column, most in (("code", 60), ("name", 120)):
        if not row.line[column]:
            row.fault(column, "is missing.")
        elif len(row.line[column]) > most:
            row.fault(column, f"has {len(row.line[column])} characters; at most {most} can be kept.")
    if structure is not None and row.line["code"]:
        key = (structure.pk, row.line["code"].casefold())
        if key in known.taken:
            row.fault("code", f"{structure} already has an area {row.line['code']}, here or in the project.")
        known.taken.add(key)
    if structure is not None and system is not None and shape and area_m2 and not row.faults:
        row.area = AreaSpec(structure, system, row.line["code"], row.line["name"], area_m2, shape)


def _named(row: Row, column: str, known: dict[str, Named]) -> Named | None:
    """The structure or system of that name; where the project has only one, it may be left out."""
    name = row.line[column]
    if not name and len(known) == 1:
        return next(iter(known.values()))
    found = known.get(name.casefold())
    if not name and known:
        row.fault(column, f"is missing, and {_any_of(known)} could be meant; name one in each row.")
    elif found is None:
        row.fault(
            column, f"“{name[:40]}” is not in this project; it has {', '.join(map(str, known.values())) or 'none'}."
        )
    return found


def _any_of(known: dict[str, Named]) -> str:
    names = [f"“{thing}”" for thing in known.values()]
    return f"{', '.join(names[:-1])} or {names[-1]}"


def _area(row: Row) -> Decimal | None:
    text = row.line["area_m2"]
    try:
        size = Decimal(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except InvalidOperation:
        row.fault("area_m2", f"“{text[:20]}” is not a number; write the square metres as 12.5.")
        return None
    faults = area_faults(size)
    for fault in faults:
        row.fault("area_m2", fault.message)
    return None if faults else rounded(size)
