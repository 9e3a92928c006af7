"""The recoat clock: when a coat may be painted over, and until when, by the steel temperatures measured since.

The rule is common practice, no source: an hour at a temperature uses up one part in as many as the data sheet states
hours at that temperature; the window opens when the parts of the least time make a whole, and closes when those of the
longest time do. Between two stated temperatures the hours run straight; beyond them nothing is guessed. A reading
stands until the next one, the first also for the time before it, and the last for the time to come.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import pairwise

from inspection.standards.drying import (
    CLOSED,
    CLOSING,
    DATA_SHEET,
    LINEAR,
    NOT_YET_OPEN,
    OPEN,
    RecoatRow,
    scaled_hours,
)
from inspection.standards.drying_log import SUMMED
from inspection.standards.moments import moment_of
from inspection.standards.registry import InputFault, calculation, items, number, result, text, timed_values
from inspection.standards.units import shown

NOT_KNOWN = "not known"
MICROSECONDS_PER_HOUR = 3_600_000_000
Steel = tuple[datetime, Fraction]
HoursAt = Callable[[Fraction], Fraction | None]


@dataclass(frozen=True, kw_only=True)
class Stated:
    """A line of a data sheet: hours at a temperature in °C; without one the hours count at any temperature."""

    temperature_c: Fraction | None
    least_h: Fraction | None = None
    most_h: Fraction | None = None


@dataclass(frozen=True, kw_only=True)
class Clock:
    """How the window stands; a moment that is None is not stated or not known, as the notes say."""

    state: str
    opens_at: datetime | None = None
    closes_at: datetime | None = None
    notes: tuple[str, ...] = ()


def clock_of(
    stated: Sequence[Stated], *, first_end: datetime, last_end: datetime, steel: Sequence[Steel], at: datetime,
    closing_h: Fraction = Fraction(4),
) -> Clock:  # fmt: skip
    """The window of a coat whose parts ended between two moments, as it stands at a third.

    It opens by the part that ended last, and closes by the one that ended first. Steel temperatures in °C, oldest
    first. Raises InputFault for a temperature stated twice and for times that grow with temperature.
    """
    least, most = _points(stated, "least_h"), _points(stated, "most_h")
    if not least and not most:
        return Clock(state=NOT_KNOWN, notes=("The data sheet states no time to the next coat.",))
    notes = [_basis(least or most, steel)]
    opens = _reached(last_end, steel, _hours(least, steel)) if least else last_end
    closes = _reached(first_end, steel, _hours(most, steel)) if most else None
    for points, found in ((least, opens), (most, closes)):
        if points and found is None and steel:
            reach = f"{shown(min(_warmths(points)))} to {shown(max(_warmths(points)))} °C"
            notes.append(f"The steel was or is outside {reach}, for which times are stated; nothing is guessed beyond.")
            break
    state = _state(opens, closes, at, timedelta(hours=float(closing_h)))
    return Clock(state=state, opens_at=opens, closes_at=closes, notes=tuple(notes))


def _points(stated: Sequence[Stated], name: str) -> list[tuple[Fraction | None, Fraction]]:
    return [(row.temperature_c, hours) for row in stated if (hours := getattr(row, name)) is not None]


def _warmths(points: Sequence[tuple[Fraction | None, Fraction]]) -> list[Fraction]:
    return sorted({temperature for temperature, _ in points if temperature is not None})


def _hours(points: Sequence[tuple[Fraction | None, Fraction]], steel: Sequence[Steel]) -> HoursAt:
    """The hours stated at a temperature; None beyond the stated ones, or where no temperature is known."""
    known = [(temperature, hours) for temperature, hours in points if temperature is not None]
    if not known:
        return lambda _: points[0][1]
    if not steel:
        return lambda _: known[0][1] if len(known) == 1 else None
    scaled_hours(known, min(_warmths(points)), LINEAR, "data_sheet")

    def at(temperature: Fraction) -> Fraction | None:
        if not min(_warmths(points)) <= temperature <= max(_warmths(points)):
            return None
        return scaled_hours(known, temperature, LINEAR, "data_sheet")

    return at


def _reached(start: datetime, steel: Sequence[Steel], hours_at: HoursAt) -> datetime | None:
    """When the parts of the stated time make a whole; None where a temperature before that has no stated time."""
    share = Fraction(0)
    for begins, ends, temperature in _stretches(start, steel):
        hours = hours_at(temperature)
        if hours is None:
            return None
        left = (1 - share) * hours
        if ends is None or _hours_between(begins, ends) >= left:
            return begins + timedelta(seconds=round(float(left) * 3600))
        share += _hours_between(begins, ends) / hours
    return None


def _stretches(start: datetime, steel: Sequence[Steel]) -> list[tuple[datetime, datetime | None, Fraction]]:
    """The time from the end of the coat on, cut at the readings, each with its temperature; the last has no end."""
    if not steel:
        return [(start, None, Fraction(0))]
    before = [reading for reading in steel if reading[0] <= start][-1:] or list(steel[:1])
    cuts = [(start, before[0][1]), *(reading for reading in steel if reading[0] > start)]
    return [(begins, ends, temperature) for (begins, temperature), (ends, _) in pairwise(cuts)] + [
        (cuts[-1][0], None, cuts[-1][1])
    ]


def _hours_between(begins: datetime, ends: datetime) -> Fraction:
    return Fraction((ends - begins) // timedelta(microseconds=1), MICROSECONDS_PER_HOUR)


def _basis(points: Sequence[tuple[Fraction | None, Fraction]], steel: Sequence[Steel]) -> str:
    warmths = _warmths(points)
    if not warmths:
        return "By hours stated for no temperature."
    if steel:
        last = shown(steel[-1][1])
        readings = "1 reading" if len(steel) == 1 else f"{len(steel)} readings"
        return f"By {readings} of the steel since; what is to come, at the last of them, {last} °C."
    if len(warmths) == 1:
        return f"No steel temperature was measured since: taken as at the stated {shown(warmths[0])} °C."
    told = " and ".join((", ".join(map(shown, warmths[:-1])), shown(warmths[-1])))
    return f"No steel temperature was measured since, and times are stated at {told} °C: not known."


def _state(opens: datetime | None, closes: datetime | None, at: datetime, closing: timedelta) -> str:
    if closes is not None and at > closes:
        return CLOSED
    if opens is None:
        return NOT_KNOWN
    if at < opens:
        return NOT_YET_OPEN
    return CLOSING if closes is not None and closes - at <= closing else OPEN


# --- at hand ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class RecoatClockIn:
    applied_at: str = text("Coat finished at", help="Date and time with its offset, as 2026-05-31T08:30+02:00.")
    moment: str = text("Moment asked about", help="Date and time with its offset, as 2026-06-01T10:00+02:00.")
    data_sheet: tuple[RecoatRow, ...] = items("Overcoating times of the data sheet", RecoatRow, most=50)
    steel_c: tuple[tuple[datetime, Fraction], ...] = timed_values(
        "Steel temperature measured", minimum=-90, maximum=150, most=5_000
    )
    closing_hours: Fraction = number(
        "Call it closing for the last", unit="h", help="Hours before the window closes.", minimum=0, default=4
    )

    def __post_init__(self) -> None:
        if _moment(self.moment, "moment") < _moment(self.applied_at, "applied_at"):
            raise InputFault.at("moment", "must not be before applied_at")
        for place, ((before, _), (after, _)) in enumerate(pairwise(self.steel_c), start=1):
            if after <= before:
                raise InputFault.at(f"steel_c[{place}]", "must be later than the reading before it")
        stated = [row.maximum_hours is not None for row in self.data_sheet]
        if any(stated) and not all(stated):
            raise InputFault.at("data_sheet", "give a greatest time in every row or in none")
        for index, row in enumerate(self.data_sheet):
            if row.maximum_hours is not None and row.maximum_hours < row.minimum_hours:
                raise InputFault.at(f"data_sheet[{index}].maximum_hours", "must not be shorter than minimum_hours")


def _moment(written: str, field: str) -> datetime:
    try:
        return moment_of(written)
    except ValueError as wrong:
        raise InputFault.at(field, str(wrong)) from None


@dataclass(frozen=True, kw_only=True)
class RecoatClockOut:
    state: str = result("The window is")
    opens_at: str | None = result("Opens at", optional=True)
    closes_at: str | None = result("Closes at", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "recoat-clock",
    title="Recoat clock by the steel temperatures measured",
    group="Paint",
    sources=(DATA_SHEET, SUMMED),
    example={
        "applied_at": "2026-05-31T08:00+02:00", "moment": "2026-05-31T20:00+02:00",
        "data_sheet": [{"temperature_c": 10, "minimum_hours": 16, "maximum_hours": 96},
                       {"temperature_c": 20, "minimum_hours": 8, "maximum_hours": 48}],
        "steel_c": [{"at": "2026-05-31T08:00+02:00", "value": 20}, {"at": "2026-05-31T12:00+02:00", "value": 10}],
    },
    caution="An estimate from declared times: film thickness, air and humidity change it. Touch and prove. A window "
    "missed needs the paint maker’s advice, usually abrading or sweeping before the next coat.",
)  # fmt: skip
def recoat_clock(inputs: RecoatClockIn) -> RecoatClockOut:
    """When the overcoating window opens and closes: hours at each temperature over the hours stated there, summed.

    Between stated temperatures the hours run straight (linear); beyond them the answer is not known. A reading stands
    until the next one, the last for the time to come. Temperatures in °C, times in hours; both ends belong to the
    window. `drying-log` is the more careful reading of the same sheet, row by row.
    """
    applied = _moment(inputs.applied_at, "applied_at")
    rows = [
        Stated(temperature_c=row.temperature_c, least_h=row.minimum_hours, most_h=row.maximum_hours)
        for row in inputs.data_sheet
    ]
    found = clock_of(
        rows, first_end=applied, last_end=applied, steel=inputs.steel_c, at=_moment(inputs.moment, "moment"),
        closing_h=inputs.closing_hours,
    )  # fmt: skip
    return RecoatClockOut(
        state=found.state, opens_at=_written(found.opens_at), closes_at=_written(found.closes_at), notes=found.notes
    )


def _written(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()
