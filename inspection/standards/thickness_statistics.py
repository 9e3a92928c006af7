"""What many thickness readings say together, and the film of one coat from readings before and after it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import stdev

from inspection.standards.metrology import student_factor
from inspection.standards.registry import (
    Fault,
    InputFault,
    Source,
    calculation,
    choice,
    number,
    numbers,
    result,
    thickness,
    thicknesses,
)
from inspection.standards.thickness import mean
from inspection.standards.units import shown

SPREAD = Source("JCGM 100", "2008, standard deviation with n - 1, s / √n of a mean", "4.2", "stored source")
PERCENTILE = Source(
    "NIST/SEMATECH e-Handbook", "rank p (n + 1), as quoted by a public test suite", "7.2.6.2", "stored source"
)
OTHER_PERCENTILE = Source("Hyndman and Fan 1996", "types 1 and 7", "", "from memory")
DIFFERENCE = Source("Difference of two means", "s² = s₁²/n₁ + s₂²/n₂", "", "common practice, no source")
WELCH = Source("Welch 1947; Satterthwaite 1946", "degrees of freedom of a difference of means", "", "from memory")
LAYERS = Source("ASTM D7091", "2005, partial text: a gauge shows the sum of all layers", "", "stored source")

N_PLUS_1, N_MINUS_1, A_READING = "rank p (n + 1)", "rank 1 + p (n - 1)", "smallest reading with p at or below it"


def percentile(ordered: Sequence[Fraction], pct: Fraction, definition: str) -> Fraction | None:
    """The value below which ``pct`` percent lie, of at least one ordered value; None where the definition has none.

    By rank p (n + 1) a percentile lies between two readings only from 100/(n + 1) to 100 n/(n + 1) percent.
    """
    share, count = pct / 100, len(ordered)
    if definition == A_READING:
        return ordered[max(math.ceil(share * count), 1) - 1]
    rank = share * (count + 1) if definition == N_PLUS_1 else 1 + share * (count - 1)
    if not 1 <= rank <= count:
        return None
    below = math.floor(rank)
    low, high = ordered[below - 1], ordered[min(below, count - 1)]
    return low + (rank - below) * (high - low)


def in_order(values: Sequence[Fraction]) -> list[Fraction]:
    """Values from the least to the greatest; floats put nearly all in order, which spares slow comparisons."""
    return sorted(sorted(values, key=float))


@dataclass(frozen=True, kw_only=True)
class StatisticsIn:
    readings_um: tuple[Fraction, ...] = thicknesses("Readings as shown by the gauge")
    correction_um: Fraction = thickness(
        "Correction subtracted from each", help="For the profile under the film; 0 when there is none.", default=0
    )
    percentiles_pct: tuple[Fraction, ...] | None = numbers(
        "Percentiles wanted", unit="%", above=0, maximum=100, most=20, optional=True, help="For instance 5 50 95."
    )
    percentile_definition: str = choice(
        "Percentile is", (N_PLUS_1, N_MINUS_1, A_READING), default=N_PLUS_1,
        help="Definitions differ for few readings; the answer names the one used.",
    )  # fmt: skip

    def __post_init__(self) -> None:
        refuse_too_large_a_correction(self.readings_um, self.correction_um, "readings_um")


def refuse_too_large_a_correction(readings: Sequence[Fraction], correction: Fraction, field: str) -> None:
    """A film cannot be thinner than nothing: name every reading that the correction exceeds."""
    below = [index for index, reading in enumerate(readings) if reading < correction]
    if below:
        raise InputFault(Fault(f"{field}[{index}]", "is smaller than the correction to subtract") for index in below)


@dataclass(frozen=True, kw_only=True)
class Percentile:
    percentile_pct: Fraction
    value_um: Fraction


@dataclass(frozen=True, kw_only=True)
class StatisticsOut:
    readings: int = result("Readings")
    mean_um: Fraction = result("Mean")
    median_um: Fraction = result("Median")
    lowest_um: Fraction = result("Lowest")
    highest_um: Fraction = result("Highest")
    standard_deviation_um: float | None = result("Standard deviation s (n − 1)", optional=True)
    coefficient_of_variation_pct: float | None = result("Coefficient of variation", unit="%", optional=True)
    standard_error_um: float | None = result("Standard uncertainty of the mean, s / √n", optional=True)
    percentiles: tuple[Percentile, ...] | None = result("Percentiles", optional=True)
    percentile_definition: str | None = result("Percentile is", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-statistics",
    title="Statistics of thickness readings",
    group="Thickness",
    sources=(SPREAD, PERCENTILE, OTHER_PERCENTILE),
    caution="Describes readings and accepts nothing: a rule of acceptance judges spots, readings or means by its own "
    "limits. Readings of several areas or coats together describe none of them.",
    example={"readings_um": [231, 246, 238, 219, 252, 240, 261, 229, 244, 235], "percentiles_pct": [10, 50, 90]},
)
def dft_statistics(inputs: StatisticsIn) -> StatisticsOut:
    """Mean, median, least, greatest, standard deviation (n - 1), coefficient of variation and percentiles.

    Thicknesses in µm or mil, 0 to 100 000 µm, after subtracting the correction. Standard deviation and what follows
    from it need two readings. A percentile that its definition does not give for so few readings is left out and
    named in the notes, never replaced by the least or greatest reading.
    """
    values = in_order([reading - inputs.correction_um for reading in inputs.readings_um])
    average = mean(values)
    spread = stdev([float(value) for value in values]) if len(values) > 1 else None
    asked = {pct: percentile(values, pct, inputs.percentile_definition) for pct in inputs.percentiles_pct or ()}
    return StatisticsOut(
        readings=len(values),
        mean_um=average,
        median_um=(values[(len(values) - 1) // 2] + values[len(values) // 2]) / 2,
        lowest_um=values[0],
        highest_um=values[-1],
        standard_deviation_um=spread,
        coefficient_of_variation_pct=None if spread is None or not average else 100 * spread / float(average),
        standard_error_um=None if spread is None else spread / math.sqrt(len(values)),
        percentiles=tuple(Percentile(percentile_pct=pct, value_um=value) for pct, value in asked.items()
                          if value is not None) or None,
        percentile_definition=inputs.percentile_definition if asked else None,
        notes=_statistics_notes(len(values), [pct for pct, value in asked.items() if value is None]),
    )  # fmt: skip


def _statistics_notes(count: int, missing: Sequence[Fraction]) -> tuple[str, ...]:
    notes = []
    if count == 1:
        notes.append("One reading shows no scatter.")
    for pct in missing:
        needed = math.ceil(100 / min(pct, 100 - pct)) - 1 if pct < 100 else None
        enough = f"it needs at least {needed}" if needed else "it has none for any number of readings"
        notes.append(f"No {shown(pct)} % percentile by {N_PLUS_1} from {count} readings: {enough}.")
    return tuple(notes)


@dataclass(frozen=True, kw_only=True)
class CoatIn:
    before_readings_um: tuple[Fraction, ...] | None = thicknesses(
        "Readings before the coat", optional=True, fewest=2, help="Or the mean, s and number below."
    )
    before_mean_um: Fraction | None = thickness("Mean before the coat", optional=True)
    before_s_um: Fraction | None = thickness("Standard deviation before", optional=True)
    before_count: int | None = number("Number of readings before", optional=True, minimum=2, maximum=10**6)
    before_correction_um: Fraction = thickness("Correction subtracted before", default=0)
    after_readings_um: tuple[Fraction, ...] | None = thicknesses(
        "Readings after the coat", optional=True, fewest=2, help="Of the same area. Or the mean, s and number below."
    )
    after_mean_um: Fraction | None = thickness("Mean after the coat", optional=True)
    after_s_um: Fraction | None = thickness("Standard deviation after", optional=True)
    after_count: int | None = number("Number of readings after", optional=True, minimum=2, maximum=10**6)
    after_correction_um: Fraction = thickness("Correction subtracted after", default=0)
    adjusted_alike: str = choice(
        "Gauge adjusted on the same kind of steel both times", ("yes", "no"),
        help="Smooth both times, or the blasted surface both times: otherwise the difference holds the profile.",
    )  # fmt: skip
    coverage_probability_pct: Fraction = number("Coverage probability", above=50, maximum=99.9999, default=95)

    def __post_init__(self) -> None:
        faults = [*self._faults_of("before"), *self._faults_of("after")]
        if self.before_correction_um != self.after_correction_um:
            faults.append(Fault("after_correction_um", "must equal the correction before the coat, "
                                "or the difference holds the profile as well"))  # fmt: skip
        if self.adjusted_alike == "no":
            faults.append(Fault("adjusted_alike", "the film of the coat cannot be told from readings of a gauge "
                                "adjusted in two ways: measure both times alike"))  # fmt: skip
        if faults:
            raise InputFault(faults)

    def _faults_of(self, when: str) -> list[Fault]:
        readings = getattr(self, f"{when}_readings_um")
        names = (f"{when}_mean_um", f"{when}_s_um", f"{when}_count")
        given = [name for name in names if getattr(self, name) is not None]
        if readings is not None:
            correction = getattr(self, f"{when}_correction_um")
            too_small = [i for i, reading in enumerate(readings) if reading < correction]
            return [
                *(Fault(name, f"leave out: the readings {when} are given") for name in given),
                *(Fault(f"{when}_readings_um[{i}]", "is smaller than the correction to subtract") for i in too_small),
            ]
        if not given:
            return [Fault(f"{when}_readings_um", f"is missing; give the readings {when} the coat, or their mean, "
                          "standard deviation and number")]  # fmt: skip
        return [Fault(name, "is needed with the other two") for name in names if name not in given]

    def of(self, when: str) -> tuple[Fraction, float, int]:
        """Mean, standard deviation and number of the readings before or after the coat."""
        readings = getattr(self, f"{when}_readings_um")
        if readings is not None:
            return mean(readings), stdev([float(reading) for reading in readings]), len(readings)
        return getattr(self, f"{when}_mean_um"), float(getattr(self, f"{when}_s_um")), getattr(self, f"{when}_count")


@dataclass(frozen=True, kw_only=True)
class CoatOut:
    coat_um: Fraction = result("Film of the coat")
    standard_uncertainty_um: float = result("Standard uncertainty of the difference")
    effective_degrees_of_freedom: float | None = result("Effective degrees of freedom", optional=True)
    coverage_factor: float = result("Coverage factor")
    expanded_uncertainty_um: float = result("Expanded uncertainty, from scatter alone")
    lowest_um: float = result("From")
    highest_um: float = result("To")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "coat-by-difference",
    title="Film of one coat by difference of means",
    group="Thickness",
    sources=(DIFFERENCE, WELCH, LAYERS),
    caution="A difference of means of one area, not of single readings. The uncertainty holds only the scatter of the "
    "readings; what the gauge adds to both means alike cancels, what it adds to one does not. Acceptance stays on the "
    "total unless the contract names the coats. A coat not yet cured reads otherwise later.",
    example={"before_readings_um": [168, 190, 179, 196, 172], "after_readings_um": [251, 283, 262, 240, 274],
             "adjusted_alike": "yes"},
)  # fmt: skip
def coat_by_difference(inputs: CoatIn) -> CoatOut:
    """Mean after a coat less mean before it, with u = √(s₁²/n₁ + s₂²/n₂) and Welch's degrees of freedom.

    In µm or mil. The correction for the profile must be the same before and after, so it cancels. A negative answer is
    told as an alarm and never set to nothing.
    """
    (before, s_before, n_before), (after, s_after, n_after) = inputs.of("before"), inputs.of("after")
    parts = ((s_before**2 / n_before, n_before - 1), (s_after**2 / n_after, n_after - 1))
    variance = math.fsum(part for part, _ in parts)
    weights = math.fsum(part**2 / freedom for part, freedom in parts)
    freedom = variance**2 / weights if weights else None
    factor = student_factor(float(inputs.coverage_probability_pct) / 100, freedom)
    expanded = factor * math.sqrt(variance)
    coat = after - before
    return CoatOut(
        coat_um=coat,
        standard_uncertainty_um=math.sqrt(variance),
        effective_degrees_of_freedom=freedom,
        coverage_factor=factor,
        expanded_uncertainty_um=expanded,
        lowest_um=float(coat) - expanded,
        highest_um=float(coat) + expanded,
        notes=_coat_notes(coat, expanded),
    )


LESS_THAN_BEFORE = (
    "Less film after the coat than before it: another place, another adjustment, a correction used once, or a gauge "
    "that drifted. Find out which before going on."
)
NOT_SHOWN = "The scatter is as large as the difference: these readings do not show that the coat is there."


def _coat_notes(coat: Fraction, expanded: float) -> tuple[str, ...]:
    if coat < 0:
        return (LESS_THAN_BEFORE,)
    return (NOT_SHOWN,) if coat <= expanded else ()
