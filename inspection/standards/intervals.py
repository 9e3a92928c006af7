"""Advice on the interval between checks of a gauge, after ILAC-G24 / OIML D 10."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from inspection.standards.drift import LAST_ERROR_OUTSIDE, OUTSIDE, ForecastIn, drift_forecast, newest_error
from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    dated_values,
    day,
    judged,
    number,
    result,
    thickness,
)

METHODS = Source("ILAC-G24 / OIML D 10", "2022, methods 1 staircase and 2 control chart", "contents", "stored source")
STAIRCASE_RULE = Source("ILAC-G24 / OIML D 10", "2022, longer within 80 %, shorter outside", "", "from memory")
FIRST_OUTSIDE = Source("Control chart: from the calibration to the first day a check may find it outside, own rule",
                       "95 % prediction interval", "", "common practice, no source")  # fmt: skip
LONGEST = Source("NIST GMP 11 (IR 6969)", "10 years at most without exceptional evidence", "", "stored source")

STAIRCASE, CONTROL_CHART = "staircase", "control chart"
LENGTHEN, KEEP, SHORTEN, CALIBRATE_NOW = "lengthen", "keep", "shorten", "calibrate now"
LONGEST_DAYS = 3652
SCATTER_ALONE = (
    "The scatter of the checks alone may carry one outside the tolerance, on the day of the last check already: look "
    "at gauge, standards and tolerance first."
)


@dataclass(frozen=True, kw_only=True)
class IntervalIn:
    method: str = choice("Method", (STAIRCASE, CONTROL_CHART))
    errors_um: tuple[tuple[date, Fraction], ...] = dated_values(
        "Error as found at each check", help="Those of one day in the order in which they were found."
    )
    tolerance_um: Fraction = thickness("Tolerance (±)", above=0)
    current_interval_days: int = number("Interval now", unit="d", minimum=1, maximum=LONGEST_DAYS)
    calibrated_on: date | None = day(
        "Calibrated on", help="Control chart: the interval counts from here; left out, from the last check.",
        optional=True,
    )  # fmt: skip
    well_inside_pct: Fraction = number("Well inside means within", unit="%", above=0, maximum=100, default=80)
    lengthen_pct: Fraction | None = number("Lengthen by", help="Staircase: the step is yours to declare.", above=0,
                                           maximum=1000, optional=True)  # fmt: skip
    shorten_pct: Fraction | None = number("Shorten by", help="Staircase: the step is yours to declare.", above=0,
                                          maximum=99, optional=True)  # fmt: skip
    least_days: int = number("Never shorter than", unit="d", minimum=1, maximum=LONGEST_DAYS, default=1)
    greatest_days: int = number("Never longer than", unit="d", minimum=1, maximum=LONGEST_DAYS, default=LONGEST_DAYS)

    def __post_init__(self) -> None:
        if self.least_days > self.greatest_days:
            raise InputFault.at("greatest_days", "must not be below least_days")
        if self.method == STAIRCASE:
            for name in ("lengthen_pct", "shorten_pct"):
                if getattr(self, name) is None:
                    raise InputFault.at(name, "is needed for the staircase method")
        elif len({on for on, _ in self.errors_um}) < 3:
            raise InputFault.at("errors_um", "the control chart method needs errors of at least three different days")
        if self.calibrated_on and self.calibrated_on > max(on for on, _ in self.errors_um):
            raise InputFault.at("calibrated_on", "must not be after the last check, which tells of it")


@dataclass(frozen=True, kw_only=True)
class IntervalOut(Judged):
    advice: str = result("Advice")
    next_interval_days: int | None = result("Next interval", unit="d", optional=True)
    why: str = result("Why")


@calculation(
    "interval-advice",
    title="Interval between checks",
    group="Metrology",
    sources=(METHODS, STAIRCASE_RULE, FIRST_OUTSIDE, LONGEST),
    example={
        "method": STAIRCASE,
        "errors_um": [{"date": "2026-03-02", "value": 0.8}],
        "tolerance_um": 3,
        "current_interval_days": 365,
        "lengthen_pct": 20,
        "shorten_pct": 50,
    },
    caution="Advice only: laws, contracts and the laboratory's own programme set the interval.",
)
def interval_advice(inputs: IntervalIn) -> IntervalOut:
    """Advise the next interval from errors found at the checks.

    Staircase: longer when the last error lies well inside the tolerance, shorter when outside, by steps you declare.
    Control chart: from the calibration up to the earliest day on which a check may find the gauge outside the tolerance
    (days, own rule); no interval where it lies outside by the last error, or by the line at the last check: calibrate
    now. A last error outside never lengthens the interval, whatever the bounds.
    """
    last = newest_error(inputs.errors_um)
    check = Check(
        "error as found", "tolerance of the check", "The last error must lie within the tolerance.",
        inputs.tolerance_um, abs(last), abs(last) <= inputs.tolerance_um, unit="um", counted_in="check",
    )  # fmt: skip
    days, why = _staircase(inputs, abs(last)) if inputs.method == STAIRCASE else _control_chart(inputs)
    if days is not None:
        days = min(max(days, inputs.least_days), inputs.greatest_days)
        if not check.passed:
            days = min(days, inputs.current_interval_days)
    return IntervalOut(
        verdict=judged([check]),
        rule=f"ILAC-G24 {inputs.method}",
        edition="2022",
        checks=(check,),
        advice=_advice(days, inputs.current_interval_days),
        next_interval_days=days,
        why=why,
    )


def _advice(days: int | None, now: int) -> str:
    if days is None:
        return CALIBRATE_NOW
    return LENGTHEN if days > now else SHORTEN if days < now else KEEP


def _staircase(inputs: IntervalIn, error: Fraction) -> tuple[int, str]:
    now = inputs.current_interval_days
    if error > inputs.tolerance_um:
        shorter = now * (1 - (inputs.shorten_pct or 0) / 100)
        return math.floor(shorter), f"{LAST_ERROR_OUTSIDE} The interval is for the time after it."
    if error <= inputs.tolerance_um * inputs.well_inside_pct / 100:
        longer = now * (1 + (inputs.lengthen_pct or 0) / 100)
        return math.floor(longer), "The last error lies well inside the tolerance."
    return now, "The last error lies inside the tolerance, but not well inside."


def _control_chart(inputs: IntervalIn) -> tuple[int | None, str]:
    forecast = drift_forecast(ForecastIn(errors_um=inputs.errors_um, tolerance_um=inputs.tolerance_um,
                                         confidence_pct=Fraction(95)))  # fmt: skip
    if forecast.state == OUTSIDE:
        return None, forecast.why
    if forecast.earliest is None:
        return inputs.greatest_days, "By the fitted drift no check is to be expected outside the tolerance in sight."
    last = max(on for on, _ in inputs.errors_um)
    begun = inputs.calibrated_on or last
    if forecast.earliest <= last:
        return (last - begun).days, SCATTER_ALONE
    return (
        forecast.earliest - begun
    ).days, "Up to the earliest day on which a check may find it outside the tolerance."
