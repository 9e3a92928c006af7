"""What it costs to calibrate a gauge late: readings at stake, and how many of them to expect to measure again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from inspection.standards.drift import LEAST_SQUARES, NEW_VALUE, Line, fit_line, newest_error
from inspection.standards.intervals import LONGEST_DAYS
from inspection.standards.registry import (
    InputFault,
    Source,
    calculation,
    dated_values,
    day,
    number,
    result,
    thickness,
)

OWN_MODEL = Source("Readings at stake of a late calibration, own model", "", "", "common practice, no source")
STUDENT = Source("JCGM 100", "2008, distribution of a value over its standard uncertainty", "G.3", "from memory")

DAYS_PER_WEEK = 7


@dataclass(frozen=True, kw_only=True)
class LatenessIn:
    today: date = day("Today")
    due_on: date = day("Last day its calibration holds")
    calibrated_on: date = day("Day on which it is calibrated")
    readings_at_stake: int = number("Readings since its last calibration", help="Up to the end of today.", minimum=0)
    readings_past_due: int = number("Of these, taken after the due day", minimum=0, default=0)
    readings_per_working_day: Fraction = number("Readings a working day", minimum=0)
    working_days_per_week: Fraction = number("Working days a week", unit="d", minimum=0, maximum=DAYS_PER_WEEK,
                                             default=5)  # fmt: skip
    errors_um: tuple[tuple[date, Fraction], ...] | None = dated_values(
        "Error found at each check", help="For the probability; with the tolerance.", fewest=3, optional=True
    )
    tolerance_um: Fraction | None = thickness("Tolerance (±)", above=0, optional=True)
    cost_of_a_reading: Fraction | None = number(
        "Cost of measuring one reading again", help="All in, in your own currency.", minimum=0, optional=True
    )

    def __post_init__(self) -> None:
        if self.calibrated_on < self.today:
            raise InputFault.at("calibrated_on", "must not be before today")
        if (self.calibrated_on - self.today).days > LONGEST_DAYS:
            raise InputFault.at("calibrated_on", f"must be at most {LONGEST_DAYS} days from today")
        if self.readings_past_due > self.readings_at_stake:
            raise InputFault.at("readings_past_due", "must not be more than readings_at_stake")
        if self.readings_past_due and self.today <= self.due_on:
            raise InputFault.at("readings_past_due", "must be 0 while the calibration still holds")
        self._refuse_bad_errors()

    def _refuse_bad_errors(self) -> None:
        if (self.errors_um is None) != (self.tolerance_um is None):
            missing = "tolerance_um" if self.tolerance_um is None else "errors_um"
            raise InputFault.at(missing, "errors and tolerance are given together, or neither")
        if self.errors_um is None:
            return
        if len({on for on, _ in self.errors_um}) < 3:
            raise InputFault.at("errors_um", "give errors of at least three different days")
        if max(on for on, _ in self.errors_um) > self.today:
            raise InputFault.at("errors_um", "must not be dated after today")


@dataclass(frozen=True, kw_only=True)
class LatenessOut:
    days_past_due: int = result("Past its due day", unit="d")
    readings_at_stake: Fraction = result("Readings at stake by then")
    readings_certain: Fraction = result("Of these in question for certain")
    certain_pct: Fraction = result("Share in question for certain")
    probability_out_of_tolerance: float | None = result("Probability that it is found out of tolerance then",
                                                        optional=True)  # fmt: skip
    readings_expected: float | None = result("Readings to expect to measure again", optional=True)
    readings_added_per_day: Fraction = result("Added by each further day")
    cost_certain: Fraction | None = result("Cost of what is certain", optional=True)
    cost_expected: float | None = result("Expected cost", optional=True)
    cost_at_stake: Fraction | None = result("Cost of all at stake", optional=True)
    why: str = result("Why")


@calculation(
    "lateness-cost",
    title="What does it cost to calibrate late?",
    group="Metrology",
    sources=(OWN_MODEL, LEAST_SQUARES, NEW_VALUE, STUDENT),
    example={
        "today": "2026-03-02",
        "due_on": "2026-03-31",
        "calibrated_on": "2026-04-30",
        "readings_at_stake": 4000,
        "readings_per_working_day": 150,
        "working_days_per_week": 5,
        "errors_um": [
            {"date": "2025-04-10", "value": 0.2},
            {"date": "2025-07-10", "value": 0.8},
            {"date": "2025-10-09", "value": 1.2},
            {"date": "2026-01-08", "value": 1.9},
        ],
        "tolerance_um": 3,
        "cost_of_a_reading": 2.5,
    },
    caution="A model of our own, which no standard gives; it extends a straight line and the pace of the past. It "
    "advises: whether readings are measured again is for a qualified person, the contract and the client.",
)
def lateness_cost(inputs: LatenessIn) -> LatenessOut:
    """What is at stake when a gauge is calibrated on a given day, and how much of it to expect to measure again.

    Own model. A calibration that finds the gauge out of tolerance puts every reading since the last one in question.
    Until the day of calibration, that day included, readings grow by pace x working days / 7 a calendar day. Readings
    of days after the due day are in question for certain. The others are with the probability that the gauge is then
    found out of tolerance: that of Student's t, with n - 2 degrees of freedom, for one further check to lie outside
    ±tolerance (µm) about the line through the errors of past checks (µm), with the uncertainty of that line and the
    scatter of a check. Expected = certain + probability x (at stake - certain).
    Costs are in the currency of the cost of a reading. The probability and what follows from it are left out without
    errors, and where the last error lies outside ±tolerance: a line through the past does not tell what that check saw.
    Errors: a calibration before today or more than ten years ahead, and readings past due while it still holds.
    """
    a_day = inputs.readings_per_working_day * inputs.working_days_per_week / DAYS_PER_WEEK
    at_stake = inputs.readings_at_stake + a_day * (inputs.calibrated_on - inputs.today).days
    still_late = max(0, (inputs.calibrated_on - max(inputs.today, inputs.due_on)).days)
    certain = inputs.readings_past_due + a_day * still_late
    probability = _probability(inputs)
    expected = None if probability is None else _expected(certain, at_stake, probability)
    cost = inputs.cost_of_a_reading
    past_due = max(0, (inputs.calibrated_on - inputs.due_on).days)
    return LatenessOut(
        days_past_due=past_due,
        readings_at_stake=at_stake,
        readings_certain=certain,
        certain_pct=100 * certain / at_stake if at_stake else Fraction(0),
        probability_out_of_tolerance=probability,
        readings_expected=expected,
        readings_added_per_day=a_day,
        cost_certain=None if cost is None else cost * certain,
        cost_expected=None if cost is None or expected is None else float(cost) * expected,
        cost_at_stake=None if cost is None else cost * at_stake,
        why=_why(past_due, probability, last_outside=_last_outside(inputs)),
    )


def outside_probability(line: Line, tolerance: float, x: float) -> float:
    """Probability (0 to 1) that a check at x finds more than ±tolerance, by Student's t (JCGM 100, G.3, H.3)."""
    value, u = line.at(x), line.check_u_at(x)
    if not u:
        return float(abs(value) > tolerance)
    from scipy.stats import t  # noqa: PLC0415 - takes most of a second to load: only where a statistic needs it

    freedom = line.count - 2
    above = t.sf((tolerance - value) / u, freedom)
    below = t.cdf((-tolerance - value) / u, freedom)
    return min(1.0, float(above + below))


def _expected(certain: Fraction, at_stake: Fraction, probability: float) -> float:
    return min(float(certain) + probability * float(at_stake - certain), float(at_stake))


def _probability(inputs: LatenessIn) -> float | None:
    if inputs.errors_um is None or inputs.tolerance_um is None or _last_outside(inputs):
        return None
    first = min(on for on, _ in inputs.errors_um)
    line = fit_line([(on - first).days for on, _ in inputs.errors_um], [float(value) for _, value in inputs.errors_um])
    return outside_probability(line, float(inputs.tolerance_um), (inputs.calibrated_on - first).days)


def _last_outside(inputs: LatenessIn) -> bool:
    if inputs.errors_um is None or inputs.tolerance_um is None:
        return False
    return abs(newest_error(inputs.errors_um)) > inputs.tolerance_um


def _why(past_due: int, probability: float | None, *, last_outside: bool) -> str:
    certain = (
        "Checks made after the due day cannot be relied on, so the readings of those days are in question for certain."
        if past_due
        else "Nothing is in question for certain while the calibration holds."
    )
    if last_outside:
        return (
            f"{certain} The last error lies outside the tolerance: until a passing check or a calibration settles it "
            "no probability is told."
        )
    rest = (
        "Without errors of past checks nothing can be said of the other readings."
        if probability is None
        else "The other readings fall into question with the probability that the gauge is found out of tolerance."
    )
    return f"{certain} {rest}"
