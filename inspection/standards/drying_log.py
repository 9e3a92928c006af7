"""Drying and overcoating over a logged temperature: shares of the declared times add up, interval by interval."""

from __future__ import annotations

from collections.abc import Iterator
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
    number,
    result,
    text,
    timed_values,
)
from inspection.standards.units import shown

DATA_SHEET = Source("Data sheet of the product", "times as declared", "", "common practice, no source")
SUMMED = Source("Sum of the shares of time", "time at a temperature over the time stated for it", "",
                "common practice, no source")  # fmt: skip
HOTTEST = Source("UFGS 09971", "recoat row by the highest surface temperature held for an hour", "", "stored source")
BY_HOTTEST, BY_SHARES = "hottest reading", "summed shares"
HOUR_S = 3600


@dataclass(frozen=True, kw_only=True)
class TimesRow:
    temperature_c: Fraction = number("Temperature", minimum=-40, maximum=100)
    up_to_c: Fraction | None = number(
        "Up to", help="Where the sheet gives a range.", minimum=-40, maximum=100, optional=True
    )
    minimum_hours: Fraction = number("Least time", unit="h", above=0, maximum=100_000)
    maximum_hours: Fraction | None = number("Greatest time", unit="h", above=0, maximum=100_000, optional=True)

    @property
    def highest_c(self) -> Fraction:
        return self.temperature_c if self.up_to_c is None else self.up_to_c

    def __post_init__(self) -> None:
        if self.highest_c < self.temperature_c:
            raise InputFault.at("up_to_c", "must not be below temperature_c")
        if self.maximum_hours is not None and self.maximum_hours < self.minimum_hours:
            raise InputFault.at("maximum_hours", "must not be shorter than minimum_hours")


@dataclass(frozen=True, kw_only=True)
class LogIn:
    applied_at: str = text("Coat finished at", help="Date and time with its offset, as 2026-05-31T08:30+02:00.")
    moment: str = text("Moment asked about", help="Date and time with its offset.")
    data_sheet: tuple[TimesRow, ...] = items("Times of the data sheet", TimesRow, most=50)
    log_c: tuple[tuple[datetime, Fraction], ...] = timed_values(
        "Surface temperature logged", minimum=-90, maximum=150, most=50_000
    )
    longest_gap_hours: Fraction = number(
        "Longest time between readings that is no gap",
        unit="h",
        above=0,
        maximum=48,
    )
    closing_by: str = choice(
        "Greatest time by", (BY_HOTTEST, BY_SHARES), default=BY_HOTTEST,
        help="The hottest reading closes earlier and is the more careful one.",
    )  # fmt: skip

    def __post_init__(self) -> None:
        applied, moment = _moment(self.applied_at, "applied_at"), _moment(self.moment, "moment")
        if moment < applied:
            raise InputFault.at("moment", "must not be before applied_at")
        for place, ((before, _), (after, _)) in enumerate(pairwise(self.log_c), start=1):
            if after <= before:
                raise InputFault.at(f"log_c[{place}]", "must be later than the reading before it")
        _refuse_odd_table(self.data_sheet)


def _moment(written: str, field: str) -> datetime:
    try:
        return moment_of(written)
    except ValueError as wrong:
        raise InputFault.at(field, str(wrong)) from None


def _refuse_odd_table(table: tuple[TimesRow, ...]) -> None:
    rows = sorted(table, key=lambda row: row.temperature_c)
    stated = [row.maximum_hours is not None for row in rows]
    if any(stated) and not all(stated):
        raise InputFault.at("data_sheet", "give a greatest time in every row or in none")
    for cooler, warmer in pairwise(rows):
        if warmer.temperature_c <= cooler.highest_c:
            raise InputFault.at("data_sheet", f"{shown(warmer.temperature_c)} °C is stated twice")
        if warmer.minimum_hours > cooler.minimum_hours or (warmer.maximum_hours or 0) > (cooler.maximum_hours or 0):
            raise InputFault.at("data_sheet", f"the times at {shown(warmer.temperature_c)} °C are longer than below it")


@dataclass(frozen=True)
class Stretch:
    """A time with the coldest and hottest it can have been; None where no reading says."""

    begins: datetime
    hours: Fraction
    coldest_c: Fraction | None
    hottest_c: Fraction | None


@dataclass(frozen=True, kw_only=True)
class LogOut(Judged):
    state: str = result("The coat is")
    dried_pct: Fraction = result("Of the least time reached")
    opens_at: str | None = result("Least time reached at", optional=True)
    maximum_used_pct: Fraction | None = result("Of the greatest time used", optional=True)
    closed_at: str | None = result("Greatest time ran out at", optional=True)
    coldest_c: Fraction | None = result("Coldest reading that counts", optional=True)
    hottest_c: Fraction | None = result("Hottest reading that counts", optional=True)
    gap_hours: Fraction = result("Time without readings", unit="h")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "drying-log",
    title="Drying and overcoating over a logged temperature",
    group="Paint",
    sources=(DATA_SHEET, SUMMED, HOTTEST),
    example={
        "applied_at": "2026-05-31T08:00+02:00", "moment": "2026-05-31T20:00+02:00",
        "data_sheet": [{"temperature_c": 10, "minimum_hours": 16, "maximum_hours": 96},
                       {"temperature_c": 20, "minimum_hours": 8, "maximum_hours": 48}],
        "log_c": [{"at": f"2026-05-31T{hour:02}:00+02:00", "value": value}
                  for hour, value in ((8, 11), (10, 15), (12, 19), (14, 20), (16, 18), (18, 14), (20, 11))],
        "longest_gap_hours": 2,
    },
    caution="An estimate from declared times: film thickness, air and humidity change it. Touch and prove. A window "
    "missed needs the paint maker's advice, usually abrading or sweeping before the next coat.",
)  # fmt: skip
def drying_log(inputs: LogIn) -> LogOut:
    """How far a coat has dried over a logged temperature, and whether its overcoating window is open.

    Between two readings the time counts, for the least time, at the colder of them and the row at or below it; for the
    greatest time at the hotter and the row at or above it; nothing is interpolated. The greatest time runs by the
    hottest reading so far (the more careful) or by summed shares. Colder than the table nothing dries; in a gap nothing
    dries and the greatest time runs by the hottest row; hotter than the table the greatest time is unknown. The first
    and last reading stand for the time before and after them unless that is a gap. Surface −90 to 150 °C, times in
    hours; both ends belong to the window.
    """
    applied, moment = _moment(inputs.applied_at, "applied_at"), _moment(inputs.moment, "moment")
    table = sorted(inputs.data_sheet, key=lambda row: row.temperature_c)
    stretches = list(_stretches(inputs, applied, moment))
    opening = _run(stretches, [_least_hours(table, stretch) for stretch in stretches])
    closing, unknown = None, False
    if table[0].maximum_hours is not None:
        limits = _greatest_hours(table, stretches, inputs.closing_by)
        unknown = None in limits
        closing = _run(stretches, limits)
    return _answer(inputs, stretches, opening, closing, unknown)


def _stretches(inputs: LogIn, applied: datetime, moment: datetime) -> Iterator[Stretch]:
    """The time from the coat to the moment, cut at the readings; what is no reading's neighbour is a gap."""
    log = inputs.log_c
    before = [reading for reading in log if reading[0] <= applied][-1:]
    after = [reading for reading in log if reading[0] >= moment][:1]
    inside = [reading for reading in log if applied < reading[0] < moment]
    points: list[tuple[datetime, Fraction | None]] = [*before, *inside, *after]
    if not before:
        points.insert(0, (applied, None))
    if not after:
        points.append((moment, None))
    for (start, first), (end, second) in pairwise(points):
        begins, ends = max(start, applied), min(end, moment)
        known = [value for value in (first, second) if value is not None]
        is_gap = not known or _hours(end - start) > inputs.longest_gap_hours
        if ends > begins:
            yield Stretch(begins, _hours(ends - begins), *((None, None) if is_gap else (min(known), max(known))))


def _hours(time: timedelta) -> Fraction:
    return Fraction(time // timedelta(microseconds=1), HOUR_S * 1_000_000)


def _least_hours(table: list[TimesRow], stretch: Stretch) -> Fraction | None:
    """The least time stated at or below the coldest of a stretch; None while nothing dries."""
    if stretch.coldest_c is None:
        return None
    rows = [row for row in table if row.temperature_c <= stretch.coldest_c]
    return rows[-1].minimum_hours if rows else None


def _greatest_hours(table: list[TimesRow], stretches: list[Stretch], closing_by: str) -> list[Fraction | None]:
    """The greatest time that governs each stretch; None where the table does not reach so high."""
    limits: list[Fraction | None] = []
    for stretch in stretches:
        if stretch.hottest_c is None:
            limits.append(table[-1].maximum_hours)
            continue
        rows = [row for row in table if row.highest_c >= stretch.hottest_c]
        limits.append(rows[0].maximum_hours if rows else None)
    if closing_by == BY_SHARES:
        return limits
    shortest = None if None in limits else min((limit for limit in limits if limit is not None), default=None)
    return [shortest] * len(limits)


@dataclass(frozen=True)
class Run:
    """Shares of a stated time summed up: how much in all, and when they reached the whole."""

    share: Fraction
    reached: datetime | None


def _run(stretches: list[Stretch], limits: list[Fraction | None]) -> Run:
    share, reached = Fraction(0), None
    for stretch, limit in zip(stretches, limits, strict=True):
        if limit is None:
            continue
        if share < 1 <= share + stretch.hours / limit:
            seconds = float((1 - share) * limit) * HOUR_S
            reached = stretch.begins + timedelta(seconds=round(seconds))
        share += stretch.hours / limit
    return Run(share, reached)


def _answer(inputs: LogIn, stretches: list[Stretch], opening: Run, closing: Run | None, unknown: bool) -> LogOut:
    checks = [_check("least time", "The shares of the least time must add up to the whole.", opening.share,
                     opening.share >= 1)]  # fmt: skip
    closed = closing is not None and closing.share > 1
    if closing is not None and (closed or not unknown):
        sentence = "The greatest time must not have run out."
        checks.append(_check("greatest time", sentence, closing.share, not closed))
    verdict = "fail" if not all(check.passed for check in checks) else "not judged" if unknown else "pass"
    readings = [c for one in stretches for c in (one.coldest_c, one.hottest_c) if c is not None]
    return LogOut(
        verdict=verdict,
        rule=f"times of the data sheet, summed; greatest time by {inputs.closing_by}",
        edition="",
        checks=tuple(checks),
        state=_state(opening, closed, unknown, closing is not None),
        dried_pct=100 * opening.share,
        opens_at=_written(opening.reached),
        maximum_used_pct=None if closing is None or unknown else 100 * closing.share,
        closed_at=_written(closing.reached) if closing is not None and closed else None,
        coldest_c=min(readings, default=None),
        hottest_c=max(readings, default=None),
        gap_hours=sum((one.hours for one in stretches if one.coldest_c is None), Fraction(0)),
        notes=tuple(_notes(inputs, stretches, unknown)),
    )


def _check(name: str, sentence: str, share: Fraction, passed: bool) -> Check:
    return Check(name, "data sheet", sentence, 100, 100 * share, passed, unit="%", counted_in="share of time")


def _state(opening: Run, closed: bool, unknown: bool, has_closing: bool) -> str:
    if closed:
        return "past its greatest time"
    if opening.share < 1:
        return "not yet dry by the least time"
    if unknown:
        return "dry by the least time; the greatest time is unknown"
    return "within its window" if has_closing else "dry by the least time"


def _written(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _notes(inputs: LogIn, stretches: list[Stretch], unknown: bool) -> Iterator[str]:
    table = sorted(inputs.data_sheet, key=lambda row: row.temperature_c)
    gaps = [one for one in stretches if one.coldest_c is None]
    for gap in gaps[:10]:
        ends = gap.begins + timedelta(seconds=round(float(gap.hours) * HOUR_S))
        yield f"No readings from {gap.begins.isoformat()} to {ends.isoformat()}: nothing counts as dried there."
    if len(gaps) > 10:
        yield f"{len(gaps) - 10} more gaps."
    if gaps and table[0].maximum_hours is not None:
        yield "Because of that the greatest time runs as at the hottest temperature of the data sheet."
    cold = sum((s.hours for s in stretches if s.coldest_c is not None and s.coldest_c < table[0].temperature_c),
               Fraction(0))  # fmt: skip
    if cold:
        lowest = shown(table[0].temperature_c)
        yield f"{shown(cold)} h colder than {lowest} °C, where the data sheet begins: not counted as dried."
    if unknown:
        yield f"Hotter than {shown(table[-1].highest_c)} °C, where the data sheet ends: its greatest time is unknown."
