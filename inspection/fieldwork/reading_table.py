"""Reading a file of gauge readings row by row, without storing anything: every fault named by its row."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.reading_shape import (
    AREA,
    DATE,
    READING,
    SPOT,
    THICKNESS,
    TIME,
    VOID,
    WITH_UNIT,
    completed,
    known_unit,
    proposed,
)
from inspection.foundation import cells, column_units
from inspection.foundation.cells import Sheet, shielded
from inspection.foundation.clocks import Unclear, comes_twice, moment_of
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import MM, Shape, Unsure, heads_of, rows_under
from inspection.foundation.units import Unit, in_unit, nm_around
from inspection.foundation.written_times import TwoWays, written

MOST_ROWS = 20_000
# With the empty lines that a worksheet may go on for.
MOST_LINES = 200_000
MOST_CELLS_SHOWN = 20
LONGEST_CELL = 300
HEAD = "spot,reading,thickness_um,time,void_reason"
MOST_TOLD = 20
# A spot as people write it: “Spot 3”, “S3”, “#3”.
LABELLED = re.compile(r"(?:spot|point|s|p|nr|no|#)[ .:]*(\d{1,6})")


@dataclass(frozen=True)
class Row:
    """One line of the file: its number there, its cells, and what they give or what is wrong.

    `around` has, for each reading that is finer than a nanometre, the whole ones below and above it.
    """

    number: int
    cells: tuple[str, ...]
    readings: tuple[ReadingSent, ...] = ()
    faults: tuple[Fault, ...] = ()
    area: str = ""
    around: tuple[tuple[int, int] | None, ...] = ()


@dataclass(frozen=True)
class Table:
    """A file as read. `faults` belong to the file itself; each row carries its own."""

    columns: tuple[str, ...]
    unit: Unit
    rows: tuple[Row, ...]
    media_type: str
    # Names of columns that mean nothing here: a gauge's own file has many. They are told, and not read.
    not_read: tuple[str, ...] = ()
    # How it was read, where that is not plain, in sentences.
    notes: tuple[str, ...] = ()
    # The field that each fault of a thickness bears: the head of its column.
    value_field: str = "thickness_um"

    @property
    def faults(self) -> list[Fault]:
        return [fault for row in self.rows for fault in row.faults]

    @property
    def readings(self) -> list[ReadingSent]:
        return [reading for row in self.rows for reading in row.readings]

    @property
    def areas(self) -> list[str]:
        """The areas that rows name, in the order of the file."""
        return list(dict.fromkeys(row.area for row in self.rows if row.area))

    def of_area(self, area: str) -> Table:
        """The rows of one area alone."""
        return replace(self, rows=tuple(row for row in self.rows if row.area == area))

    @property
    def too_fine(self) -> list[Row]:
        """The rows with a reading that no whole nanometre is."""
        return [row for row in self.rows if any(row.around)]

    def rounded(self, way: int) -> list[ReadingSent]:
        """The readings with those too fine taken down (0) or up (1)."""
        return [
            reading if around is None else reading._replace(value_nm=around[way])
            for row in self.rows
            for reading, around in zip(row.readings, row.around, strict=True)
        ]

    def refused_as_too_fine(self) -> Table:
        """The same with the readings that are too fine said to be wrong."""
        told = "is finer than a nanometre, and rounding it would change a check; give at most 3 digits after the point."
        rows = [
            replace(row, faults=(*row.faults, Fault(told, self.value_field, row.number))) if any(row.around) else row
            for row in self.rows
        ]
        return replace(self, rows=tuple(rows))

    def with_refusal(self, refusal: Refused) -> Table:
        """The same table with what an action said of its readings put beside the rows it meant."""
        places = [row.number for row in self.rows for _ in row.readings]
        by_row: dict[int, list[Fault]] = {}
        for fault in refusal.faults:
            if fault.row is not None:
                number = places[fault.row - 1]
                by_row.setdefault(number, []).append(replace(fault, row=number))
        rows = tuple(replace(row, faults=(*row.faults, *by_row.get(row.number, ()))) for row in self.rows)
        return replace(self, rows=rows)


def sheets_of(content: bytes, separator: str = "") -> tuple[list[Sheet], str]:
    """The sheets of a file of readings, within its limits, and its media type."""
    return cells.sheets(content, most_rows=MOST_ROWS, most_lines=MOST_LINES, separator=separator)


def read_table(content: bytes, *, zone: ZoneInfo, shape: Shape | None = None, day: date | None = None) -> Table:
    """The rows of a file, read as the shape says; without one, as its head says for certain.

    `day` is that of times without a day. Raises Unsure where something of the file must be told, and Refused, with one
    fault, for a file that is no table at all.
    """
    found, media_type = sheets_of(content, shape.separator if shape else "")
    if not found[0].lines:
        raise Refused("The file holds no rows.", field="file")
    if shape and shape.sheet >= len(found):
        raise Refused(f"The file has {len(found)} sheets.", field="sheet")
    proposal = completed(found[shape.sheet], shape) if shape else proposed(found)
    asked = tuple(fault for fault in proposal.asked if day is None or fault.field != "day")
    if asked:
        raise Unsure(replace(proposal, asked=asked))
    shape = proposal.shape
    shape = replace(shape, day=shape.day or (day.isoformat() if day else ""))
    reader = _Reader(found[shape.sheet], shape, zone)
    rows = tuple(_numbered_within_spots(reader.rows(), READING in shape.columns))
    if not rows:
        raise Refused("The file has a head but no readings under it.", field="file")
    return reader.table(rows, media_type)


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
@dataclass
class _Reader:
    """The lines of a sheet to rows, one after the other, with what is carried from each to the next."""

    sheet: Sheet
    shape: Shape
    zone: ZoneInfo
    above: dict[str, str] = field(default_factory=dict)
    filled: dict[str, int] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    last: datetime | None = None

    def __post_init__(self) -> None:
        self.heads = heads_of(self.sheet, self.shape)
        while self.heads and not self.heads[-1] and len(self.heads) > len(self.shape.columns):
            self.heads.pop()
        self.unit = Unit.UM if self.shape.unit == MM else Unit(self.shape.unit)
        self.thick = self.shape.places(THICKNESS)
        self.value_fields = {_name(self.heads[place]) for place in self.thick}
        self.places = {name: place for place, name in reversed(list(enumerate(self.shape.columns))) if name}

    def rows(self) -> Iterator[Row]:
        for number, line in rows_under(self.sheet, self.shape):
            yield self._row(number, line)

    def table(self, rows: tuple[Row, ...], media_type: str) -> Table:
        columns = self.shape.columns
        read = {place for place, name in enumerate(columns) if name}
        not_read = tuple(_name(head)[:40] for place, head in enumerate(self.heads) if head and place not in read)
        shown = tuple(_name(head) for head in self.heads)
        return Table(
            shown, self.unit, rows, media_type, not_read, tuple(self._notes(rows)),
            value_field=shown[self.thick[0]],
        )  # fmt: skip

    def _notes(self, rows: tuple[Row, ...]) -> Iterator[str]:
        above = [number for number, _ in self.sheet.lines if number < self.shape.head]
        if self.sheet.name:
            yield f"Read is the sheet “{self.sheet.name[:60]}”."
        if noise := [*above, *(number for number in self.shape.skipped if number > self.shape.head)]:
            shown = ", ".join(map(str, noise[:MOST_TOLD])) + (" and more" if len(noise) > MOST_TOLD else "")
            yield f"Passed over as no readings: line{'s' * (len(noise) > 1)} {shown}."
        for name, count in self.filled.items():
            yield f"{count} empty cell{'s' * (count > 1)} of {name}: taken as what stands above."
        if self.shape.unit == MM:
            yield "The readings are turned from mm into µm."
        if SPOT not in self.places:
            many = len(self.thick) if len(self.thick) > 1 else self.shape.per_spot
            yield f"Spots are counted in the order of the file, {many} reading{'s' * (many > 1)} each."

    def _row(self, number: int, line: list[str]) -> Row:
        kept = tuple(cell.strip()[:LONGEST_CELL] for cell in line[:MOST_CELLS_SHOWN])
        if any(cell.strip() for cell in line[len(self.heads) :]):
            told = (
                f"{len(line)} cells where the head has {len(self.heads)}; with a decimal comma, separate the columns "
                "by semicolons or put the number in quotation marks."
            )
            return Row(number, kept, faults=(Fault(told, "", number),))
        named = {
            name: line[place].strip()[:LONGEST_CELL] if place < len(line) else "" for name, place in self.places.items()
        }
        faults: list[Fault] = []
        for name in (AREA, SPOT, DATE):
            if name in named:
                named[name] = self._or_above(name, named[name])
        area = named.get(AREA, "")
        spot = self._spot(named, area, number, faults)
        # 0 stands for "the next one of its spot" until all rows are read.
        order = _counted(named[READING], READING, number, faults) if READING in named else 0
        values = self._thicknesses(line, number, faults)
        at = self._moment(named, number, faults)
        if faults:
            return Row(number, kept, faults=tuple(faults), area=area)
        void, one = named.get(VOID, ""), len(values) == 1
        return Row(
            number, kept, area=area, around=tuple((low, high) if low != high else None for low, _, high in values),
            readings=tuple(ReadingSent(spot, order if one else 0, nm, at, void) for _, nm, _ in values),
        )  # fmt: skip

    def _or_above(self, name: str, text: str) -> str:
        if text:
            self.above[name] = text
        elif name in self.above:
            self.filled[name] = self.filled.get(name, 0) + 1
        return text or self.above.get(name, "")

    def _spot(self, named: dict[str, str], area: str, number: int, faults: list[Fault]) -> int:
        if SPOT in named:
            return _counted(named[SPOT], SPOT, number, faults)
        count = self.counts[area] = self.counts.get(area, -1) + 1
        return count // (self.shape.per_spot if len(self.thick) == 1 else 1) + 1

    def _thicknesses(self, line: list[str], number: int, faults: list[Fault]) -> list[tuple[int, int, int]]:
        """The whole nanometres around each thickness of the line; of several columns some may be empty."""
        found = []
        for place in self.thick:
            text = line[place].strip()[:LONGEST_CELL] if place < len(line) else ""
            name = _name(self.heads[place])
            if text:
                with_unit = WITH_UNIT.fullmatch(text)
                if with_unit and known_unit(with_unit[2]) == self.shape.unit:
                    text = with_unit[1]
                if self.shape.unit == MM:
                    text = column_units.in_ours(text, "um", MM)
                try:
                    found.append(nm_around(text, self.unit, field=name, row=number))
                except Refused as wrong:
                    faults.extend(wrong.faults)
        if not found and not any(fault.field in self.value_fields for fault in faults):
            name = _name(self.heads[self.thick[0]])
            faults.append(Fault("is missing; give the reading, or take the row out.", name, number))
        return found

    def _moment(self, named: dict[str, str], number: int, faults: list[Fault]) -> datetime | None:
        text = named.get(TIME, "")
        if not text:
            return None
        try:
            local = self._local(text, named.get(DATE, ""))
            return moment_of(local, self.zone)
        except Unclear as unclear:
            faults.append(Fault(str(unclear), "time", number))
        except TwoWays as two_ways:
            faults.append(Fault(f"“{text[:40]}” {two_ways}.", "time", number))
        except OverflowError:
            faults.append(Fault(f"“{text[:40]}” is no time that can be.", "time", number))
        except ValueError:
            faults.append(Fault(f"“{text[:40]}” is no time; write it like 2026-03-04 14:05.", "time", number))
        return None

    def _local(self, text: str, of_day: str) -> datetime:
        """The clock's time that a row says, with the day of its own column, or of the row before. Raises ValueError."""
        _, at = written(text, self.shape.day_order)
        day = written(of_day, self.shape.day_order)[0] if of_day else None
        if isinstance(at, datetime) and (day is None or at.tzinfo):
            return at
        if at is None:
            moment = written(text, self.shape.day_order)[0]
            if moment is None or day is not None:
                raise ValueError("no time")
            return datetime.combine(moment, time())
        clock = at.time() if isinstance(at, datetime) else at
        if day is None:
            day = self.last.date() if self.last else date.fromisoformat(self.shape.day)
            if self.last and clock < self.last.time() and _hours(self.last.time()) - _hours(clock) > 12:
                # A night shift: the clock went past midnight.
                day += timedelta(days=1)
        self.last = datetime.combine(day, clock)
        return self.last


def _hours(clock: time) -> float:
    return clock.hour + clock.minute / 60


def _name(head: str) -> str:
    return head.strip().lower().replace("\u03bc", "µ").replace(" ", "_")[:60]


def _numbered_within_spots(rows: Iterable[Row], told: bool) -> Iterator[Row]:
    """Without a column `reading`, readings count up within their spot in the order of the file."""
    counts: dict[tuple[str, int], int] = {}
    for row in rows:
        if told and all(reading.order for reading in row.readings):
            yield row
            continue
        numbered = []
        for reading in row.readings:
            place = row.area, reading.spot
            counts[place] = counts.get(place, 0) + 1
            numbered.append(reading._replace(order=counts[place]))
        yield replace(row, readings=tuple(numbered))


def _counted(text: str, name: str, number: int, faults: list[Fault]) -> int:
    found = LABELLED.fullmatch(text.casefold())
    digits = found[1] if found else text
    if digits.isascii() and digits.isdigit() and 0 < len(digits) <= 6 and int(digits):
        return int(digits)
    told = f"“{text[:40]}” is no whole number from 1." if text else "is missing; count from 1."
    faults.append(Fault(told, name, number))
    return 0
