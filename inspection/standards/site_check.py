"""An instrument compared on site with a reference: a standard solution, a voltmeter, another instrument."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    items,
    judged,
    number,
    numbers,
    result,
    text,
)
from inspection.standards.thickness import mean

# Degrees below zero are read too; a number below this is none of an instrument of ours.
LEAST = -1000
SOLUTION = Source(
    "Conductivity meters: a standard solution each shift, within 5 %", provenance="common practice, no source"
)
VOLTMETER = Source("Holiday detectors: set voltage against a voltmeter, within 5 %", provenance="from memory")


@dataclass(frozen=True, kw_only=True)
class ComparedPoint:
    reference: Fraction = number("Reference: what is certified, or what the reference instrument showed", minimum=LEAST)
    readings: tuple[Fraction, ...] = numbers("What the instrument showed, or was set to", minimum=LEAST)


@dataclass(frozen=True, kw_only=True)
class ComparedIn:
    read_in: str | None = text("Unit of reference and readings", optional=True)
    tolerance_pct: Fraction | None = number(
        "Tolerance ±, share of the reference", unit="%", minimum=0, maximum=100, optional=True
    )
    tolerance: Fraction | None = number("Tolerance ±, fixed part, in the unit", minimum=0, optional=True)
    points: tuple[ComparedPoint, ...] = items("Points", ComparedPoint, most=100)

    def __post_init__(self) -> None:
        if not self.tolerance_pct and not self.tolerance:
            raise InputFault.at("tolerance_pct", "give a tolerance, in percent, as a fixed part, or both")


@dataclass(frozen=True)
class ComparedVerdict:
    reference: Fraction
    readings: int
    mean: Fraction
    error: Fraction
    tolerance: Fraction
    verdict: str


@dataclass(frozen=True, kw_only=True)
class ComparedOut(Judged):
    points: tuple[ComparedVerdict, ...] = result("Points")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "check-instrument",
    title="An instrument checked against a reference on site",
    group="Verification",
    sources=(SOLUTION, VOLTMETER),
    caution="High voltage can kill: connect the voltmeter only as its maker says, with the detector off. After a "
    "failed check, all that was measured since the last passing one is suspect.",
    example={"read_in": "µS/cm", "tolerance_pct": 5, "points": [{"reference": 84, "readings": [83.1, 83.4]}]},
)
def check_instrument(inputs: ComparedIn) -> ComparedOut:
    """The mean of the readings against the reference of each point, within ± a share of it and a fixed part.

    The tolerance is the contract's or the company's; 5 % is usual for conductivity meters (common practice, no source)
    and for holiday detectors (from memory). A mean exactly at the tolerance passes.
    """
    points = [_judge(point, inputs) for point in inputs.points]
    checks = [_check(index, point, inputs.read_in or "") for index, point in enumerate(points)]
    verdict = judged(checks)
    return ComparedOut(
        verdict=verdict, rule="mean within the tolerance of the reference", edition="", checks=tuple(checks),
        points=tuple(points), notes=_notes(verdict),
    )  # fmt: skip


def _judge(point: ComparedPoint, inputs: ComparedIn) -> ComparedVerdict:
    tolerance = abs(point.reference) * (inputs.tolerance_pct or 0) / 100 + (inputs.tolerance or 0)
    average = mean(point.readings)
    error = average - point.reference
    return ComparedVerdict(
        reference=point.reference, readings=len(point.readings), mean=average, error=error, tolerance=tolerance,
        verdict="pass" if abs(error) <= tolerance else "fail",
    )  # fmt: skip


def _check(index: int, point: ComparedVerdict, unit: str) -> Check:
    sentence = "The mean reading differs from the reference by no more than the tolerance."
    return Check("error_within_tolerance", "tolerance of the check", sentence, point.tolerance, abs(point.error),
                 point.verdict == "pass", (index,), unit, "point", f"point {index + 1}")  # fmt: skip


def _notes(verdict: str) -> tuple[str, ...]:
    if verdict == "fail":
        return ("All that was measured since the last passing check is suspect.",)
    return ()
