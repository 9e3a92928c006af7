"""Drift of a gauge: a straight line through its dated verification errors and the day it leaves its tolerance."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from functools import partial
from typing import NamedTuple

from inspection.standards.metrology import student_factor
from inspection.standards.registry import (
    InputFault,
    Source,
    calculation,
    dated_values,
    number,
    result,
    thickness,
)

LEAST_SQUARES = Source("JCGM 100", "2008, straight line as carried in public program texts", "H.3", "stored source")
NEW_VALUE = Source("Prediction interval of one further value about a line", "u² = s² + u² of the line", "",
                   "from memory")  # fmt: skip
FORECAST = Source("Crossing of prediction interval and confidence band with the tolerance", "", "",
                  "common practice, no source")  # fmt: skip

DAYS_PER_YEAR = 365.25
BISECTIONS = 80
HORIZON_YEARS = 50  # beyond this a line through a few checks says nothing
LEAVES, MAY_LEAVE, STAYS, OUTSIDE = "leaves", "may leave", "does not leave", "already outside"


@dataclass(frozen=True, kw_only=True)
class Line:
    """Least-squares line through (x, y), held about the means; ``residual_s`` has ``count`` - 2 degrees of freedom."""

    slope: float
    mean_x: float
    mean_y: float
    residual_s: float
    spread: float
    count: int

    def at(self, x: float) -> float:
        return self.mean_y + self.slope * (x - self.mean_x)

    def u_at(self, x: float) -> float:
        """Standard uncertainty of the line, not of a single new value, at x (JCGM 100, H.3.4)."""
        return self.residual_s * math.sqrt(1 / self.count + (x - self.mean_x) ** 2 / self.spread)

    def check_u_at(self, x: float) -> float:
        """Standard uncertainty of what one further check finds at x: that of the line, and its own scatter."""
        return math.hypot(self.u_at(x), self.residual_s)

    @property
    def slope_u(self) -> float:
        return self.residual_s / math.sqrt(self.spread)


def fit_line(x: Sequence[float], y: Sequence[float]) -> Line:
    """Straight line by least squares (JCGM 100, H.3). Needs at least three points and two different x.

    Sums are taken about the means: dates are large numbers lying close together, and lose no digits this way.
    """
    count = len(x)
    mean_x, mean_y = math.fsum(x) / count, math.fsum(y) / count
    spread = math.fsum((a - mean_x) ** 2 for a in x)
    slope = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / spread
    squares = math.fsum((b - mean_y - slope * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    residual_s = math.sqrt(squares / (count - 2))
    return Line(slope=slope, mean_x=mean_x, mean_y=mean_y, residual_s=residual_s, spread=spread, count=count)


class Crossing(NamedTuple):
    """x at which a line leaves ±tolerance, a check may first find that, and the line has surely left; None: never."""

    by_line: float | None
    earliest: float | None
    latest: float | None


def leaves_tolerance(line: Line, tolerance: float, factor: float, start: float, end: float) -> Crossing:
    """Where a line leaves ±tolerance between start and end, with the interval in which that is found.

    earliest: an edge of the prediction interval of one check (line ± factor × u of a check) passes a limit. latest:
    the whole confidence band of the line (line ± factor × u of the line) lies beyond it; None when the slope is too
    uncertain to ever show that. The outer edges are convex and the inner ones concave, so that each passes zero once
    at most after start.
    """
    found = []
    for moved in (0.0, line.check_u_at), (factor, line.check_u_at), (-factor, line.u_at):
        sides = (_first_zero(partial(_beyond, line, tolerance, side, *moved), start, end) for side in (1.0, -1.0))
        found.append(min((x for x in sides if x is not None), default=None))
    return Crossing(*found)


def _beyond(line: Line, tolerance: float, side: float, times: float, u: Callable[[float], float], x: float, /) -> float:
    """How far the line, moved by a multiple of an uncertainty, lies beyond the tolerance on one side."""
    return side * line.at(x) + times * u(x) - tolerance


def _first_zero(past: Callable[[float], float], start: float, end: float) -> float | None:
    """Smallest x in [start, end] from which ``past`` is positive; None when it is not positive at the end."""
    if past(start) > 0:
        return start
    if past(end) <= 0:
        return None
    low, high = start, end
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        low, high = (low, middle) if past(middle) > 0 else (middle, high)
    return high


def newest_error(errors: Sequence[tuple[date, Fraction]]) -> Fraction:
    """The error of the newest day; of several on that day the last as given, since a day's checks come in order."""
    return sorted(errors, key=lambda dated: dated[0])[-1][1]


@dataclass(frozen=True, kw_only=True)
class ForecastIn:
    errors_um: tuple[tuple[date, Fraction], ...] = dated_values("Error found at each check", fewest=3)
    tolerance_um: Fraction = thickness("Tolerance (±)", above=0)
    confidence_pct: Fraction = number("Confidence of the interval", minimum=50, maximum=99.99, default=95)

    def __post_init__(self) -> None:
        if len({on for on, _ in self.errors_um}) < 3:
            raise InputFault.at("errors_um", "give errors of at least three different days")


@dataclass(frozen=True, kw_only=True)
class ForecastOut:
    state: str = result("The tolerance")
    leaves_on: date | None = result("Left by the line on", optional=True)
    earliest: date | None = result("A check may find it outside from", optional=True)
    latest: date | None = result("The line has left at the latest", optional=True)
    slope_per_year_um: float = result("Drift a year")
    slope_standard_uncertainty_per_year_um: float = result("Standard uncertainty of the drift a year")
    degrees_of_freedom: int = result("Degrees of freedom")
    coverage_factor: float = result("Coverage factor")
    residual_standard_deviation_um: float = result("Scatter about the line")
    error_at_last_check_um: float = result("Error by the line at the last check")
    why: str = result("Why")


@calculation(
    "drift-forecast",
    title="When will the gauge leave its tolerance?",
    group="Metrology",
    sources=(LEAST_SQUARES, NEW_VALUE, FORECAST),
    example={
        "errors_um": [
            {"date": "2025-01-10", "value": 0.2},
            {"date": "2025-04-11", "value": 0.5},
            {"date": "2025-07-10", "value": 0.6},
            {"date": "2025-10-09", "value": 1.0},
        ],
        "tolerance_um": 3,
    },
    caution="A line through past checks knows nothing of a fall or a worn probe tip. Errors must be as found, with the "
    "same method and shims, and without an adjustment between them.",
)
def drift_forecast(inputs: ForecastIn) -> ForecastOut:
    """Drift by a straight line through dated errors, and the days around which it leaves ±tolerance.

    ``earliest``: the first day on which one check may find it outside, by the prediction interval; ``latest``: the day
    by which the line has left, by its confidence band. ``leaves``: the drift is shown and has a latest day. ``may
    leave``: the line or an edge leaves, but the slope could be none. ``does not leave``: not within 50 years of the
    last check. ``already outside``: the line or the last error itself lies outside at the last check, so that there is
    no day ahead to tell.
    """
    first, last = min(on for on, _ in inputs.errors_um), max(on for on, _ in inputs.errors_um)
    line = fit_line([(on - first).days for on, _ in inputs.errors_um], [float(value) for _, value in inputs.errors_um])
    factor = student_factor(float(inputs.confidence_pct) / 100, line.count - 2)
    start = float((last - first).days)
    tolerance = float(inputs.tolerance_um)
    crossing = leaves_tolerance(line, tolerance, factor, start, start + HORIZON_YEARS * DAYS_PER_YEAR)
    failed = abs(newest_error(inputs.errors_um)) > inputs.tolerance_um
    state = _state(failed or abs(line.at(start)) > tolerance, crossing)
    if state == OUTSIDE:
        crossing = Crossing(None, None, None)  # it left before the last check: there is nothing to forecast
    return ForecastOut(
        state=state,
        leaves_on=_day(first, crossing.by_line, math.floor),
        earliest=_day(first, crossing.earliest, math.floor),
        latest=_day(first, crossing.latest, math.ceil),
        slope_per_year_um=line.slope * DAYS_PER_YEAR,
        slope_standard_uncertainty_per_year_um=line.slope_u * DAYS_PER_YEAR,
        degrees_of_freedom=line.count - 2,
        coverage_factor=factor,
        residual_standard_deviation_um=line.residual_s,
        error_at_last_check_um=line.at(start),
        why=LAST_ERROR_OUTSIDE if failed else WHY[state],
    )


LAST_ERROR_OUTSIDE = "The last error lies outside the tolerance: check and calibrate now."
WHY = {
    OUTSIDE: "At the last check the line already lies outside the tolerance: check and calibrate now.",
    LEAVES: "The drift is larger than its uncertainty: the whole confidence band leaves the tolerance.",
    MAY_LEAVE: "The drift is not larger than its uncertainty: only single checks may be found outside the tolerance.",
    STAYS: f"Neither the line nor the interval of a single check leaves the tolerance within {HORIZON_YEARS} years.",
}


def _state(outside: bool, crossing: Crossing) -> str:
    if outside:
        return OUTSIDE
    if crossing.latest is not None:
        return LEAVES
    return STAYS if crossing.by_line is None and crossing.earliest is None else MAY_LEAVE


def _day(first: date, days: float | None, whole: Callable[[float], int]) -> date | None:
    if days is None or whole(days) > (date.max - first).days:
        return None
    return first + timedelta(days=whole(days))
