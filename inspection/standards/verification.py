"""A gauge checked against reference standards: point by point, within the combined tolerance of gauge and standard."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

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
    thickness,
    thicknesses,
)
from inspection.standards.thickness import counted, mean, refuse_crossed_limits, total

SQUARES, SUM = "root-sum-square", "sum"
COMMON_FACTOR = 2
"""What every uncertainty is brought to; a gauge's stated accuracy stands beside it as it is (own choice)."""
COMBINED = Source("ASTM D7091", "", "combined accuracy of gauge and standard, form of the combination", "from memory")
ONE_LEVEL = Source("JCGM 100", "2008", "6.2.1, U = k u: figures at different k are brought to one", "from memory")
PURPOSE = Source("ASTM D7091", "as quoted by a consultant", "verification of accuracy on standards near the expected "
                                                            "thickness", "stored source")  # fmt: skip
SQUARES_ADD = Source("JCGM 100", "2008", "5.1.2, independent contributions add in squares", "from memory")
PLAIN_SUM = Source("JCGM 100", "2008", "5.2.2, note 1, fully correlated contributions add plainly", "from memory")
WHEN = Source(
    "SSPC-PA 2", "2012 to 2018 editions", "accuracy checked at beginning and end of each shift", "from memory"
)
MARGIN = Source(
    "readings more than 10 % outside the verified range are flagged", provenance="common practice, no source"
)


@dataclass(frozen=True)
class Point:
    certified_um: tuple[Fraction, ...] = thicknesses(
        "Certified thickness", loose=True, help="A stack of shims is a list; thicknesses add.", most=20
    )
    expanded_uncertainty_um: tuple[Fraction, ...] = thicknesses(
        "Expanded uncertainty of the standard", loose=True, help="As certified; one for each shim of a stack.", most=20
    )
    coverage_factor: Fraction = number("Coverage factor", default=2, above=0, maximum=10)
    readings_um: tuple[Fraction, ...] = thicknesses("Gauge readings on it", minimum=-1000)

    def __post_init__(self) -> None:
        if len(self.certified_um) != len(self.expanded_uncertainty_um):
            raise InputFault.at("expanded_uncertainty_um", "give one uncertainty for each shim of the stack")


_ONE_POINT = ("certified_um", "expanded_uncertainty_um", "readings_um")
_OF_ONE_POINT = (*_ONE_POINT, "coverage_factor")


@dataclass(frozen=True)
class Inputs:
    points: tuple[Point, ...] | None = items("Reference standards measured", Point, most=100, optional=True)
    certified_um: tuple[Fraction, ...] | None = thicknesses(
        "Certified thickness", loose=True, optional=True, most=20, help="One standard only; instead of points."
    )
    expanded_uncertainty_um: tuple[Fraction, ...] | None = thicknesses(
        "Expanded uncertainty of the standard", loose=True, optional=True, most=20
    )
    coverage_factor: Fraction | None = number(
        "Coverage factor", help="Of that one standard; left out: 2.", above=0, maximum=10, optional=True
    )
    readings_um: tuple[Fraction, ...] | None = thicknesses("Gauge readings on it", minimum=-1000, optional=True)
    accuracy_pct: Fraction = number("Accuracy of the gauge, share of the thickness", unit="%", minimum=0, maximum=100)
    accuracy_um: Fraction = thickness("Accuracy of the gauge, fixed part", default=0, maximum=1000)
    combination: str = choice("Accuracies combine", (SQUARES, SUM), default=SQUARES)

    def __post_init__(self) -> None:
        if not self.accuracy_pct and not self.accuracy_um:
            raise InputFault.at("accuracy_pct", "give the accuracy of the gauge, in percent, as a fixed part, or both")
        if self.points is None:
            object.__setattr__(self, "points", (self._one_point(),))
        else:
            for name in _OF_ONE_POINT:
                if getattr(self, name) is not None:
                    raise InputFault.at(name, "belongs into each of the points when points are given")

    def _one_point(self) -> Point:
        certified, uncertainty, readings = self.certified_um, self.expanded_uncertainty_um, self.readings_um
        if certified is None or uncertainty is None or readings is None:
            raise InputFault.at("points", "give points, or one point by " + ", ".join(_ONE_POINT))
        return Point(
            certified_um=certified,
            expanded_uncertainty_um=uncertainty,
            coverage_factor=Fraction(COMMON_FACTOR) if self.coverage_factor is None else self.coverage_factor,
            readings_um=readings,
        )


@dataclass(frozen=True)
class PointVerdict:
    certified_um: Fraction
    readings: int
    mean_um: Fraction
    error_um: Fraction
    standard_uncertainty_um: float
    tolerance_um: float
    verdict: str


@dataclass(frozen=True, kw_only=True)
class Outputs(Judged):
    points: tuple[PointVerdict, ...] = result("Points")
    mean_um: Fraction | None = result("Mean reading", optional=True)
    error_um: Fraction | None = result("Error", optional=True)
    tolerance_um: float | None = result("Combined tolerance ±", optional=True)
    verified_from_um: Fraction | None = result("Verified from", optional=True)
    verified_to_um: Fraction | None = result("Verified to", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "verify-gauge",
    title="Verification of a thickness gauge",
    group="Verification",
    sources=(PURPOSE, COMBINED, SQUARES_ADD, PLAIN_SUM, ONE_LEVEL, WHEN),
    caution="Whether gauge and standard combine in squares or by plain sum is not settled between the sources: the "
            "organisation names its choice. After a failed check, all readings since the last passing one are suspect.",
    example={"accuracy_pct": 1, "accuracy_um": 1,
             "points": [{"certified_um": 127, "expanded_uncertainty_um": 1.3, "readings_um": [128.1, 128.4, 127.9]},
                        {"certified_um": [250, 50], "expanded_uncertainty_um": [2.5, 1],
                         "readings_um": [301.2, 300.4, 302]}]},
)  # fmt: skip
def verify_gauge(inputs: Inputs) -> Outputs:
    """Compares the mean reading on each standard with its certified value, within the combined tolerance.

    The uncertainty of a standard is brought to k = 2 before it is combined, so that a certificate that states it at
    k = 1 or 3 gives the same tolerance.
    """
    points = [_judge(point, inputs) for point in inputs.points or ()]
    checks = [_check(index, point) for index, point in enumerate(points)]
    verdict = judged(checks)
    certified = [point.certified_um for point in points]
    only = points[0] if len(points) == 1 else None
    return Outputs(
        verdict=verdict,
        rule=f"combined tolerance of gauge and standard, {inputs.combination}",
        edition="ASTM D7091, form of the combination from memory",
        checks=tuple(checks),
        points=tuple(points),
        mean_um=only.mean_um if only else None,
        error_um=only.error_um if only else None,
        tolerance_um=only.tolerance_um if only else None,
        verified_from_um=min(certified) if verdict == "pass" else None,
        verified_to_um=max(certified) if verdict == "pass" else None,
        notes=_notes(verdict, certified),
    )


def _judge(point: Point, inputs: Inputs) -> PointVerdict:
    certified = total(point.certified_um)
    own = certified * inputs.accuracy_pct / 100 + inputs.accuracy_um
    to_common = COMMON_FACTOR / point.coverage_factor
    squares = total([(u * to_common) ** 2 for u in point.expanded_uncertainty_um])
    average = mean(point.readings_um)
    passed = within_tolerance(abs(average - certified), own, squares, inputs.combination)
    return PointVerdict(
        certified_um=certified,
        readings=len(point.readings_um),
        mean_um=average,
        error_um=average - certified,
        standard_uncertainty_um=math.sqrt(squares) / COMMON_FACTOR,
        tolerance_um=combined(float(own), math.sqrt(squares), inputs.combination),
        verdict="pass" if passed else "fail",
    )


def _check(index: int, point: PointVerdict) -> Check:
    sentence = "The mean reading differs from the certified value by no more than the combined tolerance."
    return Check("error_within_tolerance", "combined accuracy", sentence, point.tolerance_um, abs(point.error_um),
                 point.verdict == "pass", (index,), "um", "point", f"point {index + 1}")  # fmt: skip


def within_tolerance(error: Fraction, own: Fraction, squares: Fraction, combination: str) -> bool:
    """Whether an error (not negative) lies within the combined tolerance, without taking a root.

    ``own`` is the gauge's part, ``squares`` the sum of the squared expanded uncertainties (k = 2) of the standard.
    """
    if combination == SQUARES:
        return error * error <= own * own + squares
    return error <= own or (error - own) ** 2 <= squares


def combined(own: float, standard: float, combination: str) -> float:
    """The combined tolerance as a number to show."""
    return math.hypot(own, standard) if combination == SQUARES else own + standard


def _notes(verdict: str, certified: Sequence[Fraction]) -> tuple[str, ...]:
    if verdict == "fail":
        return ("No range is verified. Readings since the last passing check are suspect.",)
    if len(set(certified)) == 1:
        return ("One point only: a second standard on the other side of the expected thickness makes it a range.",)
    return ()


@dataclass(frozen=True)
class CombinedInputs:
    gauge_accuracy_pct: Fraction = number("Accuracy of the gauge", unit="%", minimum=0, maximum=100)
    standard_accuracy_pct: Fraction = number("Accuracy of the standard", unit="%", minimum=0, maximum=100)


@dataclass(frozen=True)
class CombinedOutputs:
    combined_pct_root_sum_square: float = result("Combined in squares", unit="%")
    combined_pct_plain_sum: Fraction = result("Combined by plain sum", unit="%")


@calculation(
    "combined-accuracy",
    title="Combined accuracy of gauge and standard",
    group="Verification",
    sources=(COMBINED, SQUARES_ADD, PLAIN_SUM),
    caution="Which of the two a contract means must be agreed and named.",
    example={"gauge_accuracy_pct": 5, "standard_accuracy_pct": 5},
)
def combined_accuracy(inputs: CombinedInputs) -> CombinedOutputs:
    """The accuracies of gauge and standard combined, both ways."""
    gauge, standard = inputs.gauge_accuracy_pct, inputs.standard_accuracy_pct
    return CombinedOutputs(
        combined_pct_root_sum_square=math.hypot(gauge, standard), combined_pct_plain_sum=gauge + standard
    )


@dataclass(frozen=True)
class RangeInputs:
    verified_from_um: Fraction = thickness("Verified from")
    verified_to_um: Fraction = thickness("Verified to", above=0)
    readings_um: tuple[Fraction, ...] = thicknesses("Readings", minimum=-1000)
    margin_pct: Fraction = number("Margin allowed outside", default=10, minimum=0, maximum=100)

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.verified_from_um, self.verified_to_um, "verified_from_um", "verified_to_um")


@dataclass(frozen=True)
class RangeOutputs:
    all_within: bool = result("All readings within the range")
    lowest_um: Fraction = result("Lowest reading not flagged")
    highest_um: Fraction = result("Highest reading not flagged")
    flagged_indices: tuple[int, ...] = result("Readings flagged")


@calculation(
    "verified-range",
    title="Readings outside the verified range",
    group="Verification",
    sources=(MARGIN,),
    caution="A flagged reading is not wrong: the gauge was not shown to be accurate there. Verify it near that value.",
    example={"verified_from_um": 127, "verified_to_um": 300, "readings_um": [142, 188, 251, 343, 96]},
)
def verified_range(inputs: RangeInputs) -> RangeOutputs:
    """Flags each reading more than the margin below the thinnest or above the thickest standard used."""
    lowest = inputs.verified_from_um * (100 - inputs.margin_pct) / 100
    highest = inputs.verified_to_um * (100 + inputs.margin_pct) / 100
    flagged = tuple(i for i, reading in enumerate(inputs.readings_um) if not lowest <= reading <= highest)
    return RangeOutputs(all_within=not flagged, lowest_um=lowest, highest_um=highest, flagged_indices=flagged)


@dataclass(frozen=True)
class ReadingsInputs:
    readings_um: tuple[Fraction, ...] = thicknesses("Trial readings on the shim", minimum=-1000, fewest=2, most=10_000)
    wanted_um: Fraction = thickness("Mean to be good within ±", above=0, help="Half the width of the interval wanted.")
    confidence_pct: float = number("Confidence", default=95, above=0, maximum=99.99)


@dataclass(frozen=True)
class ReadingsOutputs:
    readings_needed: int = result("Readings needed in all")
    further_readings: int = result("Further readings")
    scatter_um: float = result("Standard deviation of the trial readings")
    mean_um: Fraction = result("Mean of the trial readings")
    good_within_um: float = result("The trial mean is good within ±")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "shim-readings-needed",
    title="How many readings a shim needs",
    group="Verification",
    sources=(
        Source("Stein, Annals of Mathematical Statistics 16", "1945", "two-stage sample size", "from memory"),
        Source("JCGM 100", "2008", "4.2.3 and annex G, mean and t-factor", "from memory"),
    ),
    caution="Scatter only: the uncertainty of the shim and an offset of the gauge do not shrink with more readings.",
    example={"readings_um": [127.4, 128.9, 126.8, 128.2, 127.5], "wanted_um": 0.5},
)
def shim_readings_needed(inputs: ReadingsInputs) -> ReadingsOutputs:
    """From the scatter of trial readings: how many are needed for the mean to be good within the wanted interval."""
    from scipy.special import stdtrit  # noqa: PLC0415 - slow to load, and used here only

    count = len(inputs.readings_um)
    average = mean(inputs.readings_um)
    variance = total([(reading - average) ** 2 for reading in inputs.readings_um]) / (count - 1)
    scatter = math.sqrt(variance)
    factor = float(stdtrit(count - 1, 0.5 + inputs.confidence_pct / 200))
    ratio = (factor * scatter / float(inputs.wanted_um)) ** 2
    if ratio > 10**6:
        raise InputFault.at("wanted_um", "cannot be reached with this scatter by any sensible number of readings")
    needed = max(count, math.ceil(ratio))
    same = "All trial readings are equal: the gauge's resolution hides the scatter; take at least three."
    return ReadingsOutputs(
        readings_needed=needed,
        further_readings=needed - count,
        scatter_um=scatter,
        mean_um=average,
        good_within_um=factor * scatter / math.sqrt(count),
        notes=(same,) if not variance else (f"{counted(count, 'trial reading')} used.",),
    )
