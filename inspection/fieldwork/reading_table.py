"""Reading a file of gauge readings (CSV or XLSX) row by row, without storing anything: every fault named by its row."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from inspection.fieldwork.judging import ReadingSent
from inspection.foundation.cells import numbered_lines, shielded
from inspection.foundation.clocks import Unclear, comes_twice, moment_of
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit, in_unit, to_nm

MOST_ROWS = 20_000
# With the empty lines that a worksheet may go on for.
MOST_LINES = 200_000
MOST_CELLS_SHOWN = 20
LONGEST_CELL = 300
VALUE_COLUMNS = {"thickness_um": Unit.UM, "thickness_µm": Unit.UM, "thickness_mil": Unit.MIL}
COLUMNS = ("spot", "reading", "time", "void_reason")
HEAD = "spot,reading,thickness_um,time,void_reason"


@dataclass(frozen=True)
class Row:
    """One line of the file: its number there (the head is row 1), its cells, and what they give or what is wrong."""

    number: int
    cells: tuple[str, ...]
    reading: ReadingSent | None = None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Table:
    """A file as read. `faults` belong to the file itself; each row carries its own."""

    columns: tuple[str, ...]
    unit: Unit
    rows: tuple[Row, ...]
    media_type: str
    # Names of columns that mean nothing here: a gauge's own file has many. They are told, and not read.
    not_read: tuple[str, ...] = ()

    @property
    def faults(self) -> list[Fault]:
        return [fault for row in self.rows for fault in row.faults]

    @property
    def readings(self) -> list[ReadingSent]:
        return [row.reading for row in self.rows if row.reading]

    def with_refusal(self, refusal: Refused) -> Table:
        """The same table with what an action said of its readings put beside the rows it meant."""
        places = [row.number for row in self.rows if row.reading]
        by_row: dict[int, list[Fault]] = {}
        for fault in refusal.faults:
            if fault.row is not None:
                number = places[fault.row - 1]
                by_row.setdefault(number, []).append(replace(fault, row=number))
        rows = tuple(replace(row, faults=(*row.faults, *by_row.get(row.number, ()))) for row in self.rows)
        return replace(self, rows=rows)


@dataclass
class _Head:
    names: list[str]
    unit: Unit
    value: str
    places: dict[str, int] = field(default_factory=dict)
    not_read: tuple[str, ...] = ()


def read_table(content: bytes, *, zone: ZoneInfo) -> Table:
    """The rows of a file. Raises Refused, with one fault, for a file that is no table of readings at all."""
    numbered, media_type = numbered_lines(content, most_rows=MOST_ROWS, most_lines=MOST_LINES)
    head_number, head_cells = next(numbered, (0, []))
    if not head_number:
        raise Refused("The file holds no rows.", field="file")
    head = _head(head_cells, head_number)
    rows = tuple(_numbered_within_spots(_rows(numbered, head, zone), "reading" in head.places))
    if not rows:
        raise Refused("The file has a head but no readings under it.", field="file")
    return Table(tuple(head.names), head.unit, rows, media_type, head.not_read)


def template(spots: Iterable[int], readings_a_spot: int, unit: str) -> str:
    """A CSV to fill in: the head, and one row for each reading the plan wants."""
    lines = [HEAD.replace("um", unit)]
    lines += [f"{spot},{reading},,," for spot in spots for reading in range(1, readings_a_spot + 1)]
    return "\r\n".join(lines) + "\r\n"


def as_rows(readings: Iterable[ReadingSent], unit: Unit, zone: ZoneInfo) -> str:
    """Stored readings as text in the form that `read_table` reads back without loss."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(HEAD.replace("um", unit).split(","))
    for spot, order, nm, at, void in readings:
        time = _clock(at, zone) if at else ""
        # Three digits write each exactly: in µm to the nanometre, in mil to the 127 nm that are whole.
        rows.writerow([spot, order, in_unit(nm, unit, 3).rstrip("0").rstrip("."), time, shielded(void)])
    return out.getvalue()


def _clock(at: datetime, zone: ZoneInfo) -> str:
    """The time as the zone's clocks showed it, with its offset where they showed it twice."""
    local = at.astimezone(zone)
    return (local if comes_twice(at, zone) else local.replace(tzinfo=None)).isoformat(" ")


# --- cells to readings ------------------------------------------------------------------------------------------------
def _head(cells: list[str], number: int) -> _Head:
    names = [cell.strip().lower().replace("\u03bc", "µ").replace(" ", "_") for cell in cells]
    while names and not names[-1]:
        names.pop()
    values = [name for name in names if name in VALUE_COLUMNS]
    thick = [name for name in names if name.startswith("thickness") and name not in VALUE_COLUMNS]
    faults = []
    if thick:
        told = f"“{thick[0][:40]}” names no unit known here; call the column thickness_um or thickness_mil."
        faults.append(Fault(told, thick[0][:40], number))
    elif not values:
        faults.append(Fault("There is no column thickness_um or thickness_mil; name the unit in the head.", "", number))
    elif len(values) > 1:
        faults.append(Fault(f"Give one of {' and '.join(values)}, not both.", values[1], number))
    if "spot" not in names:
        faults.append(Fault("There is no column spot.", "spot", number))
    known = (*COLUMNS, *VALUE_COLUMNS)
    faults += [Fault(f"Column {name} is there twice.", name, number) for name in known if names.count(name) > 1]
    if faults:
        raise Refused(faults)
    places = {name: place for place, name in enumerate(names) if name in known}
    not_read = tuple(name[:40] for name in names if name and name not in known)
    return _Head(names, VALUE_COLUMNS[values[0]], values[0], places, not_read)


def _rows(numbered: Iterable[tuple[int, list[str]]], head: _Head, zone: ZoneInfo) -> Iterator[Row]:
    for number, line in numbered:
        yield _row(number, line, head, zone)


def _row(number: int, line: list[str], head: _Head, zone: ZoneInfo) -> Row:
    cells = tuple(cell.strip()[:LONGEST_CELL] for cell in line[:MOST_CELLS_SHOWN])
    if any(cell.strip() for cell in line[len(head.names) :]):
        told = (
            f"{len(line)} cells where the head has {len(head.names)}; with a decimal comma, separate the columns by "
            "semicolons or put the number in quotation marks."
        )
        return Row(number, cells, faults=(Fault(told, "", number),))
    named = {name: cells[place] if place < len(cells) else "" for name, place in head.places.items()}
    faults: list[Fault] = []
    spot = _counted(named["spot"], "spot", number, faults)
    # 0 stands for "the next one of its spot" until all rows are read.
    order = _counted(named["reading"], "reading", number, faults) if "reading" in named else 0
    nm = _thickness(named[head.value], head, number, faults)
    at = _moment(named.get("time", ""), zone, number, faults)
    if faults:
        return Row(number, cells, faults=tuple(faults))
    return Row(number, cells, ReadingSent(spot, order, nm, at, named.get("void_reason", "")))


def _numbered_within_spots(rows: Iterable[Row], told: bool) -> Iterator[Row]:
    """Without a column `reading`, readings count up within their spot in the order of the file."""
    counts: dict[int, int] = {}
    for row in rows:
        if told or not row.reading:
            yield row
            continue
        counts[row.reading.spot] = counts.get(row.reading.spot, 0) + 1
        yield replace(row, reading=row.reading._replace(order=counts[row.reading.spot]))


def _counted(text: str, name: str, number: int, faults: list[Fault]) -> int:
    if text.isascii() and text.isdigit() and 0 < len(text) <= 6 and int(text):
        return int(text)
    told = f"“{text[:40]}” is no whole number from 1." if text else "is missing; count from 1."
    faults.append(Fault(told, name, number))
    return 0


def _thickness(text: str, head: _Head, number: int, faults: list[Fault]) -> int:
    if not text:
        faults.append(Fault("is missing; give the reading, or take the row out.", head.value, number))
        return 0
    try:
        return to_nm(text, head.unit, field=head.value, row=number)
    except Refused as wrong:
        faults.extend(wrong.faults)
        return 0


def _moment(text: str, zone: ZoneInfo, number: int, faults: list[Fault]) -> datetime | None:
    if not text:
        return None
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        faults.append(Fault(f"“{text[:40]}” is no time; write it like 2026-03-04 14:05.", "time", number))
        return None
    try:
        return moment_of(at, zone)
    except Unclear as unclear:
        faults.append(Fault(str(unclear), "time", number))
        return None
    except (OverflowError, ValueError):
        faults.append(Fault(f"“{text[:40]}” is no time that can be.", "time", number))
        return None
