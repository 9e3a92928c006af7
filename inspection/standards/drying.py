"""Drying and overcoating: times scaled between the temperatures of a data sheet, and the overcoating window."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import pairwise

from inspection.standards.moments import moment_of
from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    items,
    judged,
    number,
    result,
    text,
)
from inspection.standards.units import shown

DATA_SHEET = Source("Data sheet of the product", "times as declared", "", "common practice, no source")
INTERPOLATION = Source("Interpolation between data-sheet temperatures", "", "", "common practice, no source")
LOGARITHMIC, LINEAR = "logarithmic", "linear"
NOT_YET_OPEN, OPEN, CLOSING, CLOSED = "not yet open", "open", "closing", "closed"


@dataclass(frozen=True, kw_only=True)
class DryingRow:
    temperature_c: Fraction = number("Temperature", minimum=-40, maximum=100)
    hours: Fraction = number("Time", unit="h", above=0, maximum=100_000)


Point = tuple[Fraction, Fraction]


def scaled_hours(points: Sequence[Point], temperature_c: Fraction, interpolation: str, field: str) -> Fraction:
    """Hours at a temperature, from (temperature °C, hours) of a data sheet.

    Between two neighbouring temperatures the logarithm of the time (or the time itself: "linear") runs straight;
    at a stated temperature the stated time is returned unchanged. Raises InputFault outside the data sheet, for a
    temperature stated twice and for times that grow with temperature.
    """
    rows = sorted(points)
    for (cooler, longer), (warmer, shorter) in pairwise(rows):
        if cooler == warmer:
            raise InputFault.at(field, f"{shown(cooler)} °C is stated twice")
        if shorter > longer:
            raise InputFault.at(
                field,
                f"the time at {shown(warmer)} °C ({shown(shorter)} h) is longer than at {shown(cooler)} °C "
                f"({shown(longer)} h): drying does not slow down as it gets warmer",
            )
    if not rows[0][0] <= temperature_c <= rows[-1][0]:
        raise InputFault.at(
            "temperature_c",
            f"the data sheet reaches from {shown(rows[0][0])} to {shown(rows[-1][0])} °C; nothing is guessed beyond",
        )
    for (cooler, longer), (warmer, shorter) in pairwise(rows):
        if temperature_c in (cooler, warmer):
            return longer if temperature_c == cooler else shorter
        if cooler < temperature_c < warmer:
            share = (temperature_c - cooler) / (warmer - cooler)
            if interpolation == LINEAR or longer == shorter:
                return longer + share * (shorter - longer)
            return Fraction(math.exp((1 - share) * math.log(longer) + share * math.log(shorter)))
    return rows[0][1]


@dataclass(frozen=True, kw_only=True)
class DryingIn:
    temperature_c: Fraction = number("Temperature during drying", minimum=-40, maximum=100)
    data_sheet: tuple[DryingRow, ...] = items("Times of the data sheet", DryingRow, fewest=2, most=50)
    interpolation: str = choice("Between the temperatures", (LOGARITHMIC, LINEAR), default=LOGARITHMIC)


@dataclass(frozen=True, kw_only=True)
class DryingOut:
    hours: Fraction = result("Time at this temperature", unit="h")


@calculation(
    "drying-time",
    title="Drying time between data-sheet temperatures",
    group="Film",
    sources=(INTERPOLATION, DATA_SHEET),
    example={
        "temperature_c": 15,
        "data_sheet": [{"temperature_c": 10, "hours": 16}, {"temperature_c": 20, "hours": 8}],
    },
    caution="An estimate between stated values: film thickness, air movement and humidity change it. Touch and prove.",
)
def drying_time(inputs: DryingIn) -> DryingOut:
    """Drying time at a temperature between those of the data sheet; nothing is given outside them.

    Logarithmic interpolation follows the usual shape of data sheets (each step of warming shortens the time by
    the same share); linear gives the longer, more careful time.
    """
    points = [(row.temperature_c, row.hours) for row in inputs.data_sheet]
    return DryingOut(hours=scaled_hours(points, inputs.temperature_c, inputs.interpolation, "data_sheet"))


@dataclass(frozen=True, kw_only=True)
class RecoatRow:
    temperature_c: Fraction = number("Temperature", minimum=-40, maximum=100)
    minimum_hours: Fraction = number("Least time to next coat", unit="h", above=0, maximum=100_000)
    maximum_hours: Fraction | None = number(
        "Greatest time to next coat", unit="h", above=0, maximum=100_000, optional=True
    )


@dataclass(frozen=True, kw_only=True)
class RecoatIn:
    applied_at: str = text("Coat finished at", help="Date and time with its offset, as 2026-05-31T08:30+02:00.")
    moment: str = text("Moment asked about", help="Date and time with its offset, as 2026-06-01T10:00+02:00.")
    minimum_hours: Fraction | None = number(
        "Least time to next coat", unit="h", minimum=0, maximum=100_000, optional=True
    )
    maximum_hours: Fraction | None = number(
        "Greatest time to next coat", unit="h", help="Empty: no limit.", above=0, maximum=100_000, optional=True
    )
    temperature_c: Fraction | None = number("Temperature since then", minimum=-40, maximum=100, optional=True)
    data_sheet: tuple[RecoatRow, ...] | None = items(
        "Overcoating times of the data sheet", RecoatRow, fewest=2, most=50, optional=True
    )
    interpolation: str = choice(
        "Between the temperatures", (LOGARITHMIC, LINEAR), default=LOGARITHMIC,
        help="Of the least time; linear is the longer. The greatest time is always logarithmic, the shorter.",
    )  # fmt: skip
    closing_hours: Fraction = number(
        "Call it closing for the last", unit="h", help="Hours before the window closes.", minimum=0, default=4
    )

    def __post_init__(self) -> None:
        if (self.minimum_hours is None) == (self.data_sheet is None):
            raise InputFault.at("minimum_hours", "give either minimum_hours or a data_sheet with temperature_c")
        if self.data_sheet is None:
            least, most = self.minimum_hours, self.maximum_hours
            if least is not None and most is not None and least > most:
                raise InputFault.at("maximum_hours", "must not be shorter than minimum_hours")
            return
        if self.maximum_hours is not None:
            raise InputFault.at("maximum_hours", "give the greatest times in the rows of the data_sheet")
        if self.temperature_c is None:
            raise InputFault.at("temperature_c", "is needed to read the times from the data_sheet")
        stated = [row.maximum_hours is not None for row in self.data_sheet]
        if any(stated) and not all(stated):
            raise InputFault.at("data_sheet", "give a greatest time in every row or in none")
        for index, row in enumerate(self.data_sheet):
            if row.maximum_hours is not None and row.maximum_hours < row.minimum_hours:
                raise InputFault.at(f"data_sheet[{index}].maximum_hours", "must not be shorter than minimum_hours")


@dataclass(frozen=True, kw_only=True)
class RecoatOut(Judged):
    state: str = result("The window is")
    elapsed_hours: Fraction = result("Time since the coat", unit="h")
    minimum_hours: Fraction = result("Least time", unit="h")
    maximum_hours: Fraction | None = result("Greatest time", unit="h", optional=True)
    opens_at: str = result("Opens at")
    closes_at: str | None = result("Closes at", optional=True)


@calculation(
    "recoat-window",
    title="Overcoating window",
    group="Film",
    sources=(DATA_SHEET, INTERPOLATION),
    example={
        "applied_at": "2026-05-31T08:30+02:00",
        "moment": "2026-06-01T10:00+02:00",
        "minimum_hours": 12,
        "maximum_hours": 72,
    },
    caution="Times are the maker's for the temperature stated. A closed window needs the maker's advice, "
    "usually abrading or sweeping before the next coat.",
)
def recoat_window(inputs: RecoatIn) -> RecoatOut:
    """Is the overcoating window not yet open, open, closing or closed? Both ends belong to the window.

    Times are stated for the temperature, or read between the temperatures of the data sheet: the greatest time always
    on the logarithmic, shorter side.
    """
    applied, moment = _moment(inputs.applied_at, "applied_at"), _moment(inputs.moment, "moment")
    if moment < applied:
        raise InputFault.at("moment", "must not be before applied_at")
    least, most = _times(inputs)
    elapsed = Fraction((moment - applied) // timedelta(microseconds=1), 3_600_000_000)
    checks = [_least_check(elapsed, least)]
    if most is not None:
        checks.append(_most_check(elapsed, most))
    return RecoatOut(
        verdict=judged(checks),
        rule="overcoating times of the data sheet",
        edition="",
        checks=tuple(checks),
        state=_state(elapsed, least, most, inputs.closing_hours),
        elapsed_hours=elapsed,
        minimum_hours=least,
        maximum_hours=most,
        opens_at=_after(applied, least),
        closes_at=None if most is None else _after(applied, most),
    )


def _moment(written: str, field: str) -> datetime:
    try:
        return moment_of(written)
    except ValueError as wrong:
        raise InputFault.at(field, str(wrong)) from None


def _times(inputs: RecoatIn) -> tuple[Fraction, Fraction | None]:
    if inputs.minimum_hours is not None:
        return inputs.minimum_hours, inputs.maximum_hours
    rows = inputs.data_sheet or ()
    how = (inputs.temperature_c or Fraction(0), inputs.interpolation, "data_sheet")
    least = scaled_hours([(row.temperature_c, row.minimum_hours) for row in rows], *how)
    longest = [(row.temperature_c, row.maximum_hours) for row in rows if row.maximum_hours is not None]
    # A straight line gives the longer time: careful for the least time, lax for the greatest.
    careful = (inputs.temperature_c or Fraction(0), LOGARITHMIC, "data_sheet")
    return least, scaled_hours(longest, *careful) if longest else None


def _state(elapsed: Fraction, least: Fraction, most: Fraction | None, closing: Fraction) -> str:
    if elapsed < least:
        return NOT_YET_OPEN
    if most is None:
        return OPEN
    if elapsed > most:
        return CLOSED
    return CLOSING if most - elapsed <= closing else OPEN


def _least_check(elapsed: Fraction, least: Fraction) -> Check:
    sentence = "The coat must have dried for at least the least overcoating time."
    return Check("least time", "data sheet", sentence, least, elapsed, elapsed >= least, unit="h")


def _most_check(elapsed: Fraction, most: Fraction) -> Check:
    sentence = "The next coat must follow within the greatest overcoating time."
    return Check("greatest time", "data sheet", sentence, most, elapsed, elapsed <= most, unit="h")


def _after(applied: datetime, hours: Fraction) -> str:
    """The moment so many hours later, to the second."""
    return (applied + timedelta(seconds=round(float(hours) * 3600))).isoformat()
