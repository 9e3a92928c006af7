"""A logger's file read into samples: which column is which, told by its head; every row that cannot be read, told."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from inspection.foundation.cells import numbered_lines
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.written_times import day_order_of, written
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
FORMS = ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M")
HOW_TIME = "write it like 2026-03-04 14:05"


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


def read_samples(content: bytes, *, zone: ZoneInfo, named: Mapping[str, str] | None = None) -> Samples:
    """Read a file; `named` says by quantity which head it has, where the head does not tell.

    Times without an offset are the zone's. Raises Refused for a file that is no table of samples at all.
    """
    found, media_type = numbered_lines(
        content, most_rows=MOST_ROWS + HEAD_WITHIN, most_lines=MOST_ROWS + 10_000, most_cells=MOST_CELLS
    )
    lines = list(found)
    place, heads, columns = _head(lines, {name: head for name, head in (named or {}).items() if head})
    rows = lines[place + 1 :]
    if not rows:
        raise Refused("The file has a head but no rows under it.", field="file")
    if len(rows) > MOST_ROWS:
        raise Refused(f"The file has more than {MOST_ROWS:,} rows; divide it.", field="file")
    wrong = _Wrong()
    at = _times(rows, columns, zone, wrong)
    values = {name: _figures(rows, columns[name], name, heads, wrong) for name in QUANTITIES if name in columns}
    if len(rows) > 1 and np.isfinite(at).all() and (np.diff(at) < 0).all():
        # Newest first, as some loggers write.
        at, rows, values = at[::-1], rows[::-1], {name: column[::-1] for name, column in values.items()}
    _in_order(at, rows, wrong)
    nothing = np.full(at.size, np.nan)
    log = Log(at, *(values.get(name, nothing) for name in QUANTITIES))
    return Samples(
        log=log, columns={name: heads[column] for name, column in columns.items()}, heads=heads,
        not_read=tuple(head for column, head in enumerate(heads) if head and column not in columns.values()),
        first_rows=tuple((number, tuple(cells)) for number, cells in lines[place + 1 : place + 6]),
        faults=tuple(sorted(wrong.faults, key=lambda fault: fault.row or 0)), more_faults=wrong.more, rows=len(rows),
        empty={name: int(np.isnan(column).sum()) for name, column in values.items()}, media_type=media_type,
        in_fahrenheit=tuple(name for name in values if _is_fahrenheit(heads[columns[name]])),
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
    taken: set[int] = set()
    for name, head in named.items():
        if head.strip().casefold() not in lowered:
            shown = ", ".join(head for head in heads if head)[:300]
            raise Refused(f"The file has no column “{head[:40]}”. Its heads are: {shown}.", field=f"head_{name}")
        columns[name] = lowered.index(head.strip().casefold())
        taken.add(columns[name])
    for name, words in WORDS.items():
        if name in columns:
            continue
        fitting = [column for column, head in enumerate(lowered) if column not in taken and _says(head, words)]
        if len(fitting) > 1:
            both = " and ".join(f"“{heads[column]}”" for column in fitting[:3])
            raise Refused(f"{NAMES[name]} could be {both}. Say which below.", field=f"head_{name}")
        if fitting:
            columns[name] = fitting[0]
            taken.add(fitting[0])
    for column, head in enumerate(lowered):
        if column not in taken and "date" in head and "time" not in head and DATE not in columns:
            columns[DATE] = column
        elif column not in taken and ("time" in head or "stamp" in head) and TIME not in columns:
            columns[TIME] = column
    return columns


def _says(head: str, words: Sequence[str]) -> bool:
    return any(re.search(rf"(^|[^a-z]){re.escape(word)}", head) for word in words)


def _is_fahrenheit(head: str) -> bool:
    return bool(re.search(r"°\s*f\b|\bdeg\s*f\b|\(f\)|\[f\]", head.casefold()))


def _times(
    rows: Sequence[tuple[int, list[str]]], columns: Mapping[str, int], zone: ZoneInfo, wrong: _Wrong
) -> Array:  # fmt: skip
    """Moments in s since 1970; a time that the clocks showed twice is the second where the first is not after the row
    before it. NaN where a row has none that can be read."""
    places = [columns[name] for name in (DATE, TIME) if name in columns]
    found = np.full(len(rows), np.nan)
    before = -np.inf
    read: Callable[[str], datetime] = datetime.fromisoformat
    order = day_order_of(cells[places[0]] for _, cells in rows if places[0] < len(cells)) or ""
    for index, (number, cells) in enumerate(rows):
        text = " ".join(cells[place].strip().removesuffix(" 00:00:00") if len(places) > 1 else cells[place].strip()
                        for place in places if place < len(cells)).strip()  # fmt: skip
        try:
            try:
                local = read(text)
            except ValueError:
                local, read = _otherwise(text, order)
            moment = _moment(local, zone, before)
        except (ValueError, OverflowError) as fault:
            wrong.add(str(fault) or f"“{text[:40]}” is no time; {HOW_TIME}.", "time", number)
            continue
        found[index] = before = moment
    return found


def _otherwise(text: str, order: str) -> tuple[datetime, Callable[[str], datetime]]:
    if not text:
        raise ValueError(f"There is no time; {HOW_TIME}.")
    if not order and re.match(r"\d{1,2}/\d{1,2}/", text):
        raise ValueError(f"“{text[:40]}” can be read two ways; {HOW_TIME}.")
    for form in (*FORMS, ""):

        def reading(text: str, form: str = form) -> datetime:
            return datetime.strptime(text, form) if form else datetime.fromisoformat(text)  # noqa: DTZ007 - the zone's clock

        try:
            return reading(text), reading
        except ValueError:
            continue

    def in_order(text: str) -> datetime:
        _, at = written(text, order)
        if not isinstance(at, datetime):
            raise ValueError("no moment")
        return at

    try:
        return in_order(text), in_order
    except ValueError:
        raise ValueError(f"“{text[:40]}” is no time; {HOW_TIME}.") from None


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
    rows: Sequence[tuple[int, list[str]]], column: int, name: str, heads: Sequence[str], wrong: _Wrong
) -> Array:  # fmt: skip
    least, most = BOUNDS[name]
    texts = [cells[column].strip() if column < len(cells) else "" for _, cells in rows]
    found = np.array([_figure(text) for text in texts])
    unread = np.isinf(found)
    if _is_fahrenheit(heads[column]):
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
