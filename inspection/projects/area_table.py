"""Many inspection areas from one table, a row each: those not there yet are added, those there are put as the row says.

Reading stores nothing; what is wrong stands beside its row. An area that no row names stays as it is, and so does what
a row leaves empty.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar
from uuid import UUID

from inspection.foundation import tables
from inspection.foundation.asked_tables import Columns, can_be
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.tables import Line, as_csv, lines_under_head
from inspection.projects.areas import area_faults, length_faults, rounded
from inspection.projects.breakdown import retired_words
from inspection.projects.bulk import CHANGED, NEW, UNCHANGED, Wanted, differing
from inspection.projects.counts_asked import asks_otherwise
from inspection.projects.models import LONGEST_PATH, SEPARATOR, CoatingSystem, InspectionArea, Project, Structure
from inspection.projects.sections import LONGEST_NAME, written

Named = TypeVar("Named", Structure, CoatingSystem)
COLUMNS = ("structure", "section", "code", "name", "area_m2", "edges_m", "welds_m", "shape", "system")
NEEDED = ("code",)
READ_AS = Columns(
    "areas",
    (
        can_be("structure", "Structure", "structure|object|bauwerk|objekt|construction"),
        can_be("section", "Section", "block|part of structure|abschnitt|sektion|location"),
        can_be("code", "Code of the area", "area|area code|area no|area number|inspection area|bereich|tag"),
        can_be("name", "Name", "area name|description|title|bezeichnung|beschreibung"),
        can_be("area_m2", "Size, m²", "size|size m2|m2|square metres|surface|surface m2|surface area|surface area m2"
               "|fläche|fläche m2|area m2|sqm|size m²|m²|surface m²|surface area m²|fläche m²|area m²", unit="m2"),
        can_be("edges_m", "Edges, m", "edges|edge length|edge length m|kanten|kanten m", unit="m"),
        can_be("welds_m", "Welds, m", "welds|weld length|weld length m|schweißnähte|schweißnähte m", unit="m"),
        can_be("shape", "Shape: plate, pipe, beam or edge", "form|type of surface|kind of surface"),
        can_be("system", "Coating system", "coating system|paint system|system name|beschichtungssystem"),
    ),
    NEEDED, repeated=("structure", "section", "system"),
)  # fmt: skip
NONE = "none"
"""What takes a section or a length away; an empty cell leaves it."""
TEMPLATE = ";".join(COLUMNS) + "\n"
SHAPES = {str(label).casefold(): value for value, label in InspectionArea.Shape.choices} | {
    value: value for value in InspectionArea.Shape.values
}


@dataclass
class Row(tables.Row):
    """One line of the table, and what it says of an area."""

    wanted: Wanted | None = None
    outcome: str = ""
    changes: list[str] = field(default_factory=list)
    # Sizes with more digits than are kept.
    finer: dict[str, Decimal] = field(default_factory=dict)

    @property
    def wants_look(self) -> bool:
        return bool(self.faults or self.changes or self.told)


@dataclass
class Table(tables.Table):
    COLUMNS = COLUMNS
    rows: list[Row]
    new_sections: list[str] = field(default_factory=list)

    @property
    def counts(self) -> Counter[str]:
        return Counter(row.outcome for row in self.rows)

    @property
    def found(self) -> str:
        """What the table holds, in words."""
        counts = self.counts
        if set(counts) <= {NEW, ""}:
            return f"{len(self.rows)} inspection area{'s' * (len(self.rows) > 1)}"
        told = [f"{counts[each]} {each.lower()}" for each in (NEW, CHANGED, UNCHANGED) if counts[each]]
        return f"{len(self.rows)} inspection area{'s' * (len(self.rows) > 1)}: {', '.join(told)}"

    def wanted(self) -> list[Wanted]:
        return [row.wanted for row in self.rows if row.wanted]

    def resized(self) -> list[InspectionArea]:
        """The areas that get another size."""
        sizes = {"area_m2", "edges_m", "welds_m"}
        return [each.area for each in self.wanted() if each.area and sizes & differing(each).keys()]

    def moved(self) -> list[InspectionArea]:
        """The areas that go to another section."""
        return [each.area for each in self.wanted() if each.area and "section" in differing(each)]

    def show_refusal(self, refusal: Refused) -> None:
        """What the action refused at storing, beside the row it meant."""
        for fault in refusal.faults:
            self.rows[(fault.row or 1) - 1].fault(fault.field, fault.message)


@dataclass
class Known:
    """What rows may name, and which areas and sections are there; those a row names are added to them."""

    structures: dict[str, Structure]
    systems: dict[str, CoatingSystem]
    areas: dict[tuple[UUID, str], InspectionArea]
    sections: dict[tuple[UUID, str], str]
    named: dict[tuple[UUID, str], int] = field(default_factory=dict)
    new_sections: list[str] = field(default_factory=list)


def read(project: Project, content: bytes) -> Table:
    """Read and check a table of areas of the project. Raises Refused for a file that is no such table."""
    rows = [Row(line) for line in lines_under_head(content, known=COLUMNS, needed=NEEDED)]
    structures = list(project.structures.prefetch_related("sections"))
    areas = InspectionArea.objects.filter(structure__project=project)
    known = Known(
        {structure.name.casefold(): structure for structure in structures},
        {system.name.casefold(): system for system in project.systems.in_force()},
        {
            (area.structure_id, area.code.casefold()): area
            for area in areas.select_related("structure__project", "section", "system")
        },
        {(each.pk, section.path.casefold()): section.path for each in structures for section in each.sections.all()},
    )
    for row in rows:
        row.faults += row.line.unseen()
        _check(row, known)
    return Table(rows, known.new_sections)


def written_out(project: Project) -> str:
    """The areas in use as the table that reads them again, unchanged."""
    areas = InspectionArea.objects.in_use().filter(structure__project=project)
    ordered = areas.select_related("structure", "section", "system").order_by("structure__name", "code")
    lines = [Line(number, _cells(area)) for number, area in enumerate(ordered, start=2)]
    return as_csv(lines, COLUMNS)


def _cells(area: InspectionArea) -> dict[str, str]:
    sizes = {name: getattr(area, name) for name in ("area_m2", "edges_m", "welds_m")}
    return {
        "structure": area.structure.name, "section": area.section.path if area.section else "", "code": area.code,
        "name": area.name, "shape": area.shape, "system": area.system.name,
        **{name: "" if size is None else f"{size.normalize():f}" for name, size in sizes.items()},
    }  # fmt: skip


def _check(row: Row, known: Known) -> None:
    structure, code = _named(row, "structure", known.structures), row.line["code"]
    _check_text(row, "code", 60, needed=True)
    if structure is None or not code:
        return
    key = (structure.pk, code.casefold())
    area = known.areas.get(key)
    if key in known.named:
        row.fault("code", f"{structure} already has an area {code} in row {known.named[key]}; give each one row.")
    known.named.setdefault(key, row.number)
    _check_text(row, "name", 120, needed=area is None)
    values: dict[str, Any] = {"name": row.line["name"]} if row.line["name"] else {}
    values |= _sizes(row, new=area is None)
    if row.line["shape"]:
        values["shape"] = _shape(row)
    section = _section(row, structure, known)
    system = _system(row, area, known)
    _round(row, system)
    if row.faults:
        return
    row.wanted = Wanted(structure, code, values, section, area, system)
    _tell(row, row.wanted)


def _round(row: Row, system: CoatingSystem | None) -> None:
    """A size is kept to a hundredth, and told; where that would change how much is to be measured it is refused."""
    for column, exact in row.finer.items():
        kept = rounded(exact)
        if column == "area_m2" and system and asks_otherwise(system, exact, kept):
            told = f"{exact} m² would be kept as {kept} m², for which another number of readings is asked; "
            row.fault(column, f"{told}give it with at most 2 digits after the point.")
        else:
            row.told.append(f"{column}: {exact} is kept as {kept}.")


def _check_text(row: Row, column: str, most: int, *, needed: bool) -> None:
    text = row.line[column]
    if needed and not text:
        row.fault(column, "is missing.")
    elif len(text) > most:
        row.fault(column, f"has {len(text)} characters; at most {most} can be kept.")


def _tell(row: Row, wanted: Wanted) -> None:
    """What the row comes to, and what it changes of an area that is there."""
    if wanted.area is None:
        row.outcome = NEW
        return
    changes = differing(wanted)
    row.outcome = CHANGED if changes else UNCHANGED
    row.changes = [f"{name}: {_shown(before)} → {_shown(after)}" for name, (before, after) in changes.items()]
    if changes and wanted.area.retired_at:
        row.fault("code", f"{retired_words(wanted.area)} Bring it back first, or leave the row out.")


def _shown(value: Any) -> str:
    return "none" if value in (None, "") else f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)


def _shape(row: Row) -> str | None:
    shape = SHAPES.get(row.line["shape"].casefold())
    if shape is None:
        shapes = ", ".join(InspectionArea.Shape.values)
        row.fault("shape", f"“{row.line['shape'][:30]}” is not known; write {shapes}.")
    return shape


def _system(row: Row, area: InspectionArea | None, known: Known) -> CoatingSystem | None:
    """The system of a new area; of one that is there, the table does not change it."""
    if area is None:
        return _named(row, "system", known.systems)
    if row.line["system"] and row.line["system"].casefold() != area.system.name.casefold():
        told = f"{area.label} has {area.system}; give it another on its page, where what hangs on it is shown."
        row.fault("system", told)
    return area.system


def _section(row: Row, structure: Structure, known: Known) -> str | None:
    """The path of the section; empty for none, None where the row does not say. One not there yet is told as new."""
    path = written(row.line["section"])
    if not path or path.casefold() == NONE:
        return "" if path else None
    names = path.split(SEPARATOR)
    if len(path) > LONGEST_PATH or any(len(name) > LONGEST_NAME for name in names):
        row.fault(
            "section", f"has a name of more than {LONGEST_NAME} or a path of more than {LONGEST_PATH} characters."
        )
    elif any(name.startswith("/") or name.endswith("/") for name in names):
        row.fault("section", f"“{path[:40]}” has a stroke without a name; write it as Block 2 / Tank 3.")
    else:
        # Each part of the way as it is written already, in capitals or not.
        way = ""
        for name in names:
            way = f"{way}{SEPARATOR}{name}" if way else name
            if (structure.pk, way.casefold()) not in known.sections:
                known.sections[structure.pk, way.casefold()] = way
                known.new_sections.append(f"{structure}{SEPARATOR}{way}")
            way = known.sections[structure.pk, way.casefold()]
        return way
    return None


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


def _sizes(row: Row, *, new: bool) -> dict[str, Decimal | None]:
    """The sizes that the row gives; a new area needs its square metres."""
    checks: dict[str, Callable[[Decimal], list[Fault]]] = {
        "area_m2": area_faults,
        "edges_m": lambda size: length_faults("edges_m", size),
        "welds_m": lambda size: length_faults("welds_m", size),
    }
    found: dict[str, Decimal | None] = {}
    for column, faults_of in checks.items():
        text = row.line[column]
        if column != "area_m2" and text.casefold() == NONE:
            found[column] = None
        elif text or (new and column == "area_m2"):
            size = _size(row, column, faults_of)
            if size is not None:
                found[column] = size
    return found


def _size(row: Row, column: str, faults_of: Callable[[Decimal], list[Fault]]) -> Decimal | None:
    text = row.line[column]
    if not text:
        row.fault(column, "is missing; give the square metres, such as 12.5.")
        return None
    try:
        size = Decimal(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except InvalidOperation:
        unit = "square metres as 12.5" if column == "area_m2" else "metres as 12.5"
        row.fault(column, f"“{text[:20]}” is not a number; write the {unit}.")
        return None
    faults = faults_of(size)
    for fault in faults:
        row.fault(column, fault.message)
    if not faults and size != rounded(size):
        row.finer[column] = size
    return None if faults else rounded(size)
