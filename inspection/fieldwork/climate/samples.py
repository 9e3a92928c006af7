"""A logger's file read into samples: which column is which, told by its head; every row that cannot be read, told."""

from __future__ import annotations

import re
import zlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from inspection.foundation.asked_tables import Columns, can_be, completed, not_read, passed_over
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import Shape, heads_of, rows_under
from inspection.foundation.written_times import TwoWays, day_order_of, written
from inspection.standards.logged_climate import Array, Log

MOST_ROWS = 100_000
MOST_CELLS = 1_500_000
# What a logger writes above its table: its name, its serial number, its settings.
HEAD_WITHIN = 40
LONGEST_HEAD = 80
# Rows read before the head is given up, and faults that are kept of a file; the rest are counted.
MOST_FAULTS = 1_000
TIME, DATE = "time", "date"
# By quantity: its words, and between which values a sensor on site can be right. °C and %.
WORDS: dict[str, tuple[str, ...]] = {
    "dew_point_c": ("dew",),
    "humidity_pct": ("humid", "rh", "r.h"),
    "surface_c": ("steel", "surface", "substrate"),
    "air_c": ("air", "ambient", "dry bulb", "temp"),
}
# Of a file whose columns are asked about, also these (common practice, no source). A file that is read without a
# question is read again by the words above alone, as long as it is kept.
MORE_WORDS = {
    "dew_point_c": ("taupunkt",), "humidity_pct": ("feuchte", "luftfeucht"),
    "surface_c": ("stahl", "oberfl", "untergrund"), "air_c": ("lufttemp", "umgebung"),
}  # fmt: skip
TIME_WORDS, DAY_WORDS = ("time", "stamp"), ("date",)
MORE_TIME_WORDS, MORE_DAY_WORDS = ("zeit",), ("datum",)
BOUNDS = {"air_c": (-40, 60), "humidity_pct": (0, 100), "surface_c": (-40, 100), "dew_point_c": (-45, 60)}
NAMES = {
    TIME: "Time", DATE: "Day", "air_c": "Air, °C", "humidity_pct": "Relative humidity, %", "surface_c": "Steel, °C",
    "dew_point_c": "Dew point, °C",
}  # fmt: skip
QUANTITIES = ("air_c", "humidity_pct", "surface_c", "dew_point_c")
# The same as a log holds them, where the dew point that counts may be computed.
KEPT = (*QUANTITIES[:3], "logged_dew_point_c")
# What loggers write where a sensor gave nothing.
NOTHING = ("", "-", "--", "---", "nan", "n/a", "null")
# What a column may be told to be in °F, and what it is then turned into.
IN_FAHRENHEIT = {"air_f": "air_c", "surface_f": "surface_c", "dew_point_f": "dew_point_c"}
HOW_TIME = "write it like 2026-03-04 14:05"
HALF_A_DAY = timedelta(hours=12)


@dataclass(frozen=True)
class Samples:
    """What was read: the log, which head each quantity was taken from, and every row that could not be read."""

    log: Log
    columns: dict[str, str]
    not_read: tuple[str, ...]
    first_rows: tuple[tuple[int, tuple[str, ...]], ...]
    heads: tuple[str, ...]
    faults: tuple[Fault, ...]
    more_faults: int
    rows: int
    empty: dict[str, int]
    media_type: str
    in_fahrenheit: tuple[str, ...] = field(default=())
    # How it was read, where that is not plain, in sentences.
    notes: tuple[str, ...] = ()

    @property
    def begins_s(self) -> float:
        return float(self.log.at_s[0])

    @property
    def ends_s(self) -> float:
        return float(self.log.at_s[-1])


@dataclass
class _Wrong:
    """The faults of a file, so many of them kept."""

    faults: list[Fault] = field(default_factory=list)
    more: int = 0

    def add(self, message: str, name: str, row: int) -> None:
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(Fault(message, name, row))
        else:
            self.more += 1


@dataclass(frozen=True)
class _Laid:
    """The rows of a file with what its columns are, before a cell is read."""

    rows: list[tuple[int, list[str]]]
    heads: tuple[str, ...]
    columns: dict[str, int]
    fahrenheit: Collection[str]
    not_read: tuple[str, ...]
    notes: tuple[str, ...]
    media_type: str
    day_order: str = ""
    day: date | None = None


def read_samples(
    content: bytes, *, zone: ZoneInfo, named: Mapping[str, str] | None = None, shape: Shape | None = None
) -> Samples:
    """Read a file as its shape says; without one by its heads, and `named` says which head a quantity has.

    Times without an offset are the zone's. Raises Refused for a file that is no table of samples at all, and for what
    must be told of it.
    """
    laid = _as_told(content, shape) if shape else _as_headed(content, named or {})
    rows, columns, heads = laid.rows, laid.columns, laid.heads
    if not rows:
        raise Refused("The file has a head but no rows under it.", field="file")
    if len(rows) > MOST_ROWS:
        raise Refused(f"The file has more than {MOST_ROWS:,} rows; divide it.", field="file")
    wrong = _Wrong()
    clock = _Clock(columns, laid.day_order, laid.day)
    at, first = _times(rows, clock, zone, wrong), rows[:5]
    fahrenheit = laid.fahrenheit
    values = {
        name: _figures(rows, columns[name], name, wrong, fahrenheit=name in fahrenheit)
        for name in QUANTITIES if name in columns
    }  # fmt: skip
    if len(rows) > 1 and np.isfinite(at).all() and (np.diff(at) < 0).all():
        # Newest first, as some loggers write.
        at, rows, values = at[::-1], rows[::-1], {name: column[::-1] for name, column in values.items()}
    _in_order(at, rows, wrong)
    nothing = np.full(at.size, np.nan)
    log = Log(at, *(values.get(name, nothing) for name in QUANTITIES))
    return Samples(
        log=log, columns={name: heads[column] for name, column in columns.items()}, heads=heads,
        not_read=laid.not_read, first_rows=tuple((number, tuple(cells)) for number, cells in first),
        faults=tuple(sorted(wrong.faults, key=lambda fault: fault.row or 0)), more_faults=wrong.more, rows=len(rows),
        empty={name: int(np.isnan(column).sum()) for name, column in values.items()}, media_type=laid.media_type,
        in_fahrenheit=tuple(name for name in values if name in fahrenheit), notes=(*laid.notes, *clock.notes),
    )  # fmt: skip


def _as_headed(content: bytes, named: Mapping[str, str]) -> _Laid:
    """By the first line of the first sheet that is a head."""
    sheets, media_type = READ_AS.sheets(content)
    lines = sheets[0].lines
    place, heads, columns = _head(lines, {name: head for name, head in named.items() if head})
    rows = lines[place + 1 :]
    first = columns.get(DATE, columns.get(TIME, 0))
    return _Laid(
        rows, heads, columns, {name for name in QUANTITIES if name in columns and _is_fahrenheit(heads[columns[name]])},
        tuple(head for column, head in enumerate(heads) if head and column not in columns.values()), (), media_type,
        day_order_of(cells[first] for _, cells in rows if first < len(cells)) or "",
    )  # fmt: skip


def _as_told(content: bytes, shape: Shape) -> _Laid:
    sheets, media_type = READ_AS.sheets(content, shape.separator)
    if shape.sheet >= len(sheets):
        raise Refused(f"The file has {len(sheets)} sheet{'s' * (len(sheets) > 1)}.", field="sheet")
    sheet = sheets[shape.sheet]
    found = completed(sheet, shape, READ_AS)
    if found.asked:
        raise Refused(found.asked)
    shape = found.shape
    for fahrenheit, celsius in IN_FAHRENHEIT.items():
        if fahrenheit in shape.columns and celsius in shape.columns:
            raise Refused(f"{NAMES[celsius]} and °F can be one column only.", field="columns")
    columns = {IN_FAHRENHEIT.get(name, name): place for place, name in enumerate(shape.columns) if name}
    of_sheet = [f"Read is the sheet “{sheet.name[:60]}”."] if len(sheets) > 1 else []
    return _Laid(
        list(rows_under(sheet, shape)), tuple(head[:LONGEST_HEAD] for head in heads_of(sheet, shape)), columns,
        {IN_FAHRENHEIT[name] for name in shape.columns if name in IN_FAHRENHEIT},
        tuple(head[:LONGEST_HEAD] for head in not_read(sheet, shape)), (*of_sheet, *passed_over(sheet, shape)),
        media_type, shape.day_order, date.fromisoformat(shape.day) if shape.day else None,
    )  # fmt: skip


def _head(
    lines: Sequence[tuple[int, list[str]]], named: Mapping[str, str]
) -> tuple[int, tuple[str, ...], dict[str, int]]:
    """The place of the head among the lines, its words, and by quantity the column."""
    last: Refused | None = None
    for place, (_, cells) in enumerate(lines[:HEAD_WITHIN]):
        heads = tuple(cell.strip()[:LONGEST_HEAD] for cell in cells)
        try:
            columns = _columns(heads, named)
        except Refused as refusal:
            last = refusal
            continue
        if (TIME in columns or DATE in columns) and any(name in columns for name in QUANTITIES):
            return place, heads, columns
    raise last or Refused(
        "No head was found with a time and one of air, humidity, steel and dew point. Give the first line such names "
        "as: time, air °C, RH %, steel °C.", field="file",
    )  # fmt: skip


def _columns(heads: Sequence[str], named: Mapping[str, str]) -> dict[str, int]:
    lowered = [head.casefold() for head in heads]
    columns: dict[str, int] = {}
    for name, head in named.items():
        if head.strip().casefold() not in lowered:
            shown = ", ".join(head for head in heads if head)[:300]
            raise Refused(f"The file has no column “{head[:40]}”. Its heads are: {shown}.", field=f"head_{name}")
        columns[name] = lowered.index(head.strip().casefold())
    columns, doubtful = _by_words(heads, columns)
    for name, doubt in doubtful.items():
        raise Refused(f"{doubt}. Say which below.", field=f"head_{name}")
    return columns


def _by_words(
    heads: Sequence[str], known: Mapping[str, int], more: bool = False
) -> tuple[dict[str, int], dict[str, str]]:
    """By quantity the column, as the words of its head say; and those that could be several, in words."""
    times, days = (TIME_WORDS + MORE_TIME_WORDS, DAY_WORDS + MORE_DAY_WORDS) if more else (TIME_WORDS, DAY_WORDS)
    lowered = [head.casefold() for head in heads]
    columns, doubtful = dict(known), dict[str, str]()
    taken = set(columns.values())
    for name, known_words in WORDS.items():
        words = (*known_words, *MORE_WORDS[name]) if more else known_words
        if name in columns:
            continue
        fitting = [column for column, head in enumerate(lowered) if column not in taken and _says(head, words)]
        taken |= set(fitting)
        if len(fitting) > 1:
            both = " and ".join(f"“{heads[column][:40]}”" for column in fitting[:3])
            doubtful[name] = f"{NAMES[name]} could be {both}"
        elif fitting:
            columns[name] = fitting[0]
    for column, head in enumerate(lowered):
        says_time = any(word in head for word in times)
        if column not in taken and any(word in head for word in days) and not says_time and DATE not in columns:
            columns[DATE] = column
        elif column not in taken and says_time and TIME not in columns:
            columns[TIME] = column
    return columns, doubtful


def _said(heads: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What each column is by its head, and what could be several, in sentences."""
    columns, doubtful = _by_words(heads, {}, more=True)
    in_fahrenheit = {celsius: name for name, celsius in IN_FAHRENHEIT.items()}
    names = [""] * len(heads)
    for name, place in columns.items():
        names[place] = in_fahrenheit.get(name, name) if _is_fahrenheit(heads[place]) else name
    return tuple(names), tuple(f"{doubt}; say which it is." for doubt in doubtful.values())


def _says(head: str, words: Sequence[str]) -> bool:
    return any(re.search(rf"(^|[^a-z]){re.escape(word)}", head) for word in words)


def _is_fahrenheit(head: str) -> bool:
    return bool(re.search(r"°\s*f\b|\bdeg\s*f\b|\(f\)|\[f\]", head.casefold()))


@dataclass
class _Clock:
    """What the rows say of their time, one after the other; a day that a row leaves out is that of the row before."""

    columns: Mapping[str, int]
    order: str
    day: date | None
    last: datetime | None = None
    filled: int = 0

    def local(self, cells: Sequence[str]) -> datetime:
        """The clock's time of a row. Raises ValueError, with a sentence where it has one."""
        day, clock = (
            cells[place].strip() if place is not None and place < len(cells) else ""
            for place in (self.columns.get(DATE), self.columns.get(TIME))
        )
        if DATE in self.columns:
            # A worksheet's day is a moment to it, at midnight.
            day = day.removesuffix(" 00:00:00")
        text = f"{day} {clock}".strip()
        try:
            found = datetime.fromisoformat(text)
        except ValueError:
            found = self._otherwise(day, clock, text)
        self.last = found.replace(tzinfo=None)
        return found

    def _otherwise(self, of_day: str, text: str, whole: str) -> datetime:
        if not whole:
            raise ValueError(f"There is no time; {HOW_TIME}.")
        try:
            day, at = written(text, self.order) if text else (None, None)
            day = written(of_day, self.order)[0] if of_day else day
        except TwoWays:
            told = f"“{whole[:40]}” can be read two ways; say whether the day or the month comes first."
            raise ValueError(told) from None
        except ValueError:
            raise ValueError(f"“{whole[:40]}” is no time; {HOW_TIME}.") from None
        if isinstance(at, datetime) and (not of_day or at.tzinfo):
            return at
        if at is None:
            if day is None or (text and of_day):
                raise ValueError(f"“{whole[:40]}” is no time; {HOW_TIME}.")
            return datetime.combine(day, time())
        clock = at.time() if isinstance(at, datetime) else at
        return datetime.combine(day, clock) if day else self._day_left_out(clock, whole)

    def _day_left_out(self, clock: time, whole: str) -> datetime:
        if self.last is None and self.day is None:
            raise ValueError(f"“{whole[:40]}” has no day; {HOW_TIME}.")
        self.filled += DATE in self.columns
        day = self.last.date() if self.last else self.day or date.min
        found = datetime.combine(day, clock)
        if self.last and (self.last - found) > HALF_A_DAY:
            # The clock went past midnight.
            found += timedelta(days=1)
        return found

    @property
    def notes(self) -> list[str]:
        many = self.filled
        return [f"{many} empty cell{'s' * (many > 1)} of the day: taken as what stands above."] if many else []


def _times(rows: Sequence[tuple[int, list[str]]], clock: _Clock, zone: ZoneInfo, wrong: _Wrong) -> Array:
    """Moments in s since 1970; a time that the clocks showed twice is the second where the first is not after the row
    before it. NaN where a row has none that can be read."""
    found = np.full(len(rows), np.nan)
    before = -np.inf
    for index, (number, cells) in enumerate(rows):
        try:
            moment = _moment(clock.local(cells), zone, before)
        except (ValueError, OverflowError) as fault:
            wrong.add(str(fault), "time", number)
            continue
        found[index] = before = moment
    return found


def _moment(local: datetime, zone: ZoneInfo, before: float) -> float:
    if local.tzinfo is not None:
        return local.timestamp()
    first = local.replace(tzinfo=zone)
    second = local.replace(tzinfo=zone, fold=1)
    moment = first.timestamp()
    if first.utcoffset() == second.utcoffset():
        return moment
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != local:
        raise ValueError(f"There was no {local:%H:%M} that night, since the clocks were put forward.")
    return moment if moment > before else second.timestamp()


def _figures(
    rows: Sequence[tuple[int, list[str]]], column: int, name: str, wrong: _Wrong, *, fahrenheit: bool
) -> Array:  # fmt: skip
    least, most = BOUNDS[name]
    texts = [cells[column].strip() if column < len(cells) else "" for _, cells in rows]
    found = np.array([_figure(text) for text in texts])
    unread = np.isinf(found)
    if fahrenheit:
        found = (found - 32) * 5 / 9
    outside = np.isfinite(found) & ((found < least) | (found > most))
    for index in map(int, np.flatnonzero(unread)):
        wrong.add(f"“{texts[index][:40]}” is no number; write it as 18.5.", NAMES[name], rows[index][0])
    for index in map(int, np.flatnonzero(outside)):
        told = f"{texts[index][:20]} is outside what can be ({least} to {most})."
        wrong.add(told, NAMES[name], rows[index][0])
    found[unread | outside] = np.nan
    return found


def _figure(text: str) -> float:
    """The number, NaN where the logger wrote nothing, infinite where it is none."""
    try:
        value = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        value = float("nan") if text.casefold() in NOTHING else float("inf")
    return value


def _in_order(at: Array, rows: Sequence[tuple[int, list[str]]], wrong: _Wrong) -> None:
    known = np.flatnonzero(np.isfinite(at))
    for here in np.flatnonzero(np.diff(at[known]) <= 0):
        number, earlier = rows[known[here + 1]][0], rows[known[here]][0]
        wrong.add(f"Its time is not after that of row {earlier}; put the rows in the order of time.", "time", number)


# Last, as it needs the rules above: what the columns of a logger's file may be.
READ_AS = Columns(
    "logger files",
    tuple(
        can_be(name, label)
        for name, label in {
            **NAMES, "air_f": "Air, °F", "surface_f": "Steel, °F", "dew_point_f": "Dew point, °F",
        }.items()
    ),
    needed=(), days=frozenset((TIME, DATE)),
    any_of=(
        ("a time or a day", (TIME, DATE)),
        ("air, humidity, steel or dew point", (*QUANTITIES, *IN_FAHRENHEIT)),
    ),
    clock=TIME, day=DATE, say=_said, most_rows=MOST_ROWS + HEAD_WITHIN, most_lines=MOST_ROWS + 10_000,
    most_cells=MOST_CELLS,
)  # fmt: skip


# --- as it is kept ----------------------------------------------------------------------------------------------------
def packed(log: Log) -> bytes:
    """The columns of a log, compressed: s since 1970 and the four quantities as 64-bit numbers, little-endian."""
    columns = [log.at_s, *(getattr(log, name) for name in KEPT)]
    return zlib.compress(np.stack(columns).astype("<f8").tobytes(), 6)


def unpacked(kept: Any) -> Log:
    columns = np.frombuffer(zlib.decompress(bytes(kept)), dtype="<f8").reshape(1 + len(QUANTITIES), -1)
    return Log(*(np.asarray(column, dtype=np.float64) for column in columns))


def joined(logs: Sequence[Log]) -> Log:
    """Several logs as one, in the order of time; of samples at one moment the one that came last."""
    if not logs:
        return Log(*(np.empty(0) for _ in range(1 + len(QUANTITIES))))
    stacked = np.concatenate([np.stack([log.at_s, *(getattr(log, name) for name in KEPT)]) for log in logs], axis=1)
    stacked = stacked[:, np.argsort(stacked[0], kind="stable")]
    last = np.concatenate([np.diff(stacked[0]) > 0, [True]]) if stacked.shape[1] else np.empty(0, dtype=bool)
    return Log(*stacked[:, last])
