"""Measurement uncertainty after JCGM 100: a budget of components, and the budget of a thickness result."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain
from statistics import NormalDist, stdev

from inspection.standards.registry import (
    InputFault,
    Source,
    calculation,
    choice,
    items,
    number,
    result,
    text,
    thickness,
    thickness_lists,
    thicknesses,
)
from inspection.standards.units import shown

GUM = Source("JCGM 100", "2008, as restated by a public statistics package", "5.1.2, G.4", "stored source")
GUM_RECALLED = Source("JCGM 100", "2008, divisors of stated figures; U = k u", "4.3, 6.2", "from memory")
DOMINANT = Source("EA-4/02 M", "others at most 0.3 of a dominant rectangular part: its own k", "S9.14", "from memory")
SHAPE = Source("JCGM 101", "2008, interval from the distribution itself: 0.95 of a half-width", "7.7", "from memory")
OWN_MODEL = Source("Components of a thickness reading", "as listed here", "", "common practice, no source")

EXPANDED, RECTANGULAR = "expanded uncertainty", "rectangular half-width"
# What a stated figure is divided by to become a standard uncertainty (JCGM 100, 4.3).
DIVISORS = {
    "standard uncertainty": 1.0,
    RECTANGULAR: math.sqrt(3),
    "triangular half-width": math.sqrt(6),
    "U-shaped half-width": math.sqrt(2),
}
BY_STATISTICS, BY_OTHER_MEANS = "A", "B"
AS_GOOD_AS_INFINITE = 1_000_000  # degrees of freedom from which t and normal agree to six digits
OTHERS_AT_MOST = 0.3  # of the dominant part, in standard uncertainties
BISECTIONS = 80
ROUNDING = 1e-9  # relative; far above what floating point loses in the sums here, far below a step of any budget


@dataclass(frozen=True, kw_only=True)
class Component:
    """One line of a budget. ``u`` is its standard uncertainty, ``freedom`` its degrees of freedom (None: infinite)."""

    name: str
    evaluation: str
    u: float
    sensitivity: float = 1.0
    freedom: float | None = None
    rectangular: bool = False

    @property
    def contribution(self) -> float:
        return abs(self.sensitivity) * self.u

    @property
    def half_width(self) -> float:
        """Of a rectangular part, in the result."""
        return self.contribution * math.sqrt(3)


@dataclass(frozen=True, kw_only=True)
class Combined:
    """Combined standard uncertainty, effective degrees of freedom (None: infinite), coverage factor, expanded."""

    u: float
    freedom: float | None
    factor: float
    expanded: float
    notes: tuple[str, ...] = ()


def combine(components: Sequence[Component], probability: float, factor: float | None = None) -> Combined:
    """Combine independent components: u² = Σ (c u)² (JCGM 100, 5.1.2), U = k u (6.2.1).

    Without a declared factor k is Student's t for the probability (0 to 1) at the effective degrees of freedom of
    Welch and Satterthwaite, cut to the whole number below (G.4.1). Where one rectangular part dominates, the sum is
    far from normal: k is then that of the shape itself (JCGM 101), and a note says so.
    """
    variance = math.fsum(part.contribution**2 for part in components)
    freedom = effective_freedom(components)
    u, usual = math.sqrt(variance), student_factor(probability, freedom)
    part = dominant_rectangle(components)
    by_shape = None if part is None else _shape_interval(part, components, probability)
    shaped = usual if by_shape is None else by_shape / u
    k = shaped if factor is None else factor
    notes = () if part is None or by_shape is None else (_dominated(part, u, by_shape, probability, usual, factor),)
    return Combined(u=u, freedom=freedom, factor=k, expanded=k * u, notes=notes)


def effective_freedom(components: Sequence[Component]) -> float | None:
    """Effective degrees of freedom of Welch and Satterthwaite (JCGM 100, G.4.1); None: infinite."""
    weights = math.fsum(part.contribution**4 / part.freedom for part in components if part.freedom is not None)
    return math.fsum(part.contribution**2 for part in components) ** 2 / weights if weights else None


def dominant_rectangle(components: Sequence[Component]) -> Component | None:
    """The rectangular part beside which all others together are at most 0.3 of it; EA-4/02, S9.14 (from memory)."""
    largest = max(components, key=lambda part: part.contribution, default=None)
    if largest is None or not largest.rectangular or not largest.contribution:
        return None
    others = math.hypot(*(part.contribution for part in components if part is not largest))
    return largest if others <= OTHERS_AT_MOST * largest.contribution else None


def _shape_interval(part: Component, components: Sequence[Component], probability: float) -> float:
    """Half the width of the interval about the result that holds the probability: rectangle plus a normal rest.

    The rest is widened by its own Student factor over the normal one, since few readings leave its size in doubt.
    """
    rest = [other for other in components if other is not part]
    widening = student_factor(probability, effective_freedom(rest)) / student_factor(probability, None)
    sigma = widening * math.hypot(*(other.contribution for other in rest))
    low, high = 0.0, part.half_width + 10 * sigma
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, part.half_width, sigma) < probability else (low, middle)
    return high


def _within(reach: float, half_width: float, sigma: float) -> float:
    """Probability that a rectangle of that half-width plus a normal of that sigma lies within ±reach."""
    if not sigma:
        return min(1.0, reach / half_width)
    normal = NormalDist()

    def integrated(z: float) -> float:
        """Integral of the normal distribution function up to z."""
        return z * normal.cdf(z) + normal.pdf(z)

    above, below = (reach + half_width) / sigma, (reach - half_width) / sigma
    return sigma / half_width * (integrated(above) - integrated(below)) - 1


def _dominated(
    part: Component, u: float, by_shape: float, probability: float, usual: float, declared: float | None
) -> str:
    share, percent = shown(100 * (part.contribution / u) ** 2, 0), shown(100 * probability, 4)
    lead = f"{part.name}: {share} % of the variance, and rectangular."
    if declared is not None:
        return f"{lead} ±{shown(by_shape, 4)} holds {percent} % (JCGM 101); the declared k gives ±{declared * u:.4g}."
    return (
        f"{lead} k is that of the rectangle, ±{shown(by_shape, 4)} for {percent} % (JCGM 101); k of Student's t, "
        f"{usual:.3g}, would give ±{usual * u:.4g}."
    )


def student_factor(probability: float, freedom: float | None) -> float:
    """Two-sided coverage factor of Student's t for a probability (0 to 1); normal when freedom is None."""
    if freedom is None or freedom > AS_GOOD_AS_INFINITE:
        return NormalDist().inv_cdf((1 + probability) / 2)
    from scipy.stats import t  # noqa: PLC0415 - takes most of a second to load: only where a statistic needs it

    return float(t.ppf((1 + probability) / 2, whole_degrees(freedom)))


def whole_degrees(freedom: float) -> float:
    """Degrees of freedom cut to the whole number below (JCGM 100, G.4.1), a whole number being what it is.

    2 degrees come out of the sums as 1.9999999999999996, and cut to 1 would treble k. Fewer than one degree stay as
    they are: the number below would be none.
    """
    return math.floor(freedom * (1 + ROUNDING)) or freedom


def share_pct(part: Component, combined: Combined) -> float:
    """Share of a component in the combined variance, in percent."""
    return 100 * (part.contribution / combined.u) ** 2 if combined.u else 0.0


@dataclass(frozen=True, kw_only=True)
class BudgetLineIn:
    name: str = text("Name")
    value: Fraction = number("Figure as stated", minimum=0)
    stated_as: str = choice("Stated as", (*DIVISORS, EXPANDED))
    coverage_factor: Fraction | None = number("Coverage factor of this figure", above=0, maximum=100, optional=True)
    sensitivity: Fraction = number("Sensitivity", minimum=-(10**12), default=1)
    degrees_of_freedom: Fraction | None = number(
        "Degrees of freedom", help="Empty: infinite.", above=0, maximum=10**9, optional=True
    )

    def __post_init__(self) -> None:
        if (self.stated_as == EXPANDED) != (self.coverage_factor is not None):
            need = "is needed for an" if self.stated_as == EXPANDED else "belongs only to an"
            raise InputFault.at("coverage_factor", f"{need} {EXPANDED}")

    def component(self) -> Component:
        divisor = float(self.coverage_factor) if self.coverage_factor is not None else DIVISORS[self.stated_as]
        freedom = None if self.degrees_of_freedom is None else float(self.degrees_of_freedom)
        return Component(
            name=self.name,
            evaluation=BY_OTHER_MEANS if freedom is None else BY_STATISTICS,
            u=float(self.value) / divisor,
            sensitivity=float(self.sensitivity),
            freedom=freedom,
            rectangular=self.stated_as == RECTANGULAR and freedom is None,
        )


@dataclass(frozen=True, kw_only=True)
class CoverageIn:
    coverage_probability_pct: Fraction = number("Coverage probability", above=50, maximum=99.9999, default=95)
    coverage_factor: Fraction | None = number(
        "Coverage factor", help="Empty: from the probability and the degrees of freedom.", above=0, maximum=100,
        optional=True,
    )  # fmt: skip

    def combine(self, components: Sequence[Component]) -> Combined:
        factor = None if self.coverage_factor is None else float(self.coverage_factor)
        return combine(components, float(self.coverage_probability_pct) / 100, factor)


@dataclass(frozen=True, kw_only=True)
class BudgetIn(CoverageIn):
    components: tuple[BudgetLineIn, ...] = items("Components", BudgetLineIn, most=200)


@dataclass(frozen=True, kw_only=True)
class BudgetLine:
    name: str
    standard_uncertainty: float
    contribution: float
    share_pct: float
    degrees_of_freedom: float | None


@dataclass(frozen=True, kw_only=True)
class BudgetOut:
    combined_standard_uncertainty: float = result("Combined standard uncertainty")
    effective_degrees_of_freedom: float | None = result("Effective degrees of freedom", optional=True)
    coverage_factor: float = result("Coverage factor")
    expanded_uncertainty: float = result("Expanded uncertainty")
    budget: tuple[BudgetLine, ...] = result("Budget")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "uncertainty-budget",
    title="Uncertainty budget",
    group="Metrology",
    sources=(GUM, GUM_RECALLED, DOMINANT, SHAPE),
    example={
        "components": [
            {"name": "certificate", "value": 2.5, "stated_as": EXPANDED, "coverage_factor": 2},
            {"name": "scatter of the mean", "value": 0.8, "stated_as": "standard uncertainty", "degrees_of_freedom": 9},
        ]
    },
    caution="Components are taken as independent; correlated ones must be joined first.",
)
def uncertainty_budget(inputs: BudgetIn) -> BudgetOut:
    """Combine stated figures of any kind into a combined and an expanded uncertainty, each line shown (JCGM 100).

    All figures times their sensitivities must be in one unit. Effective degrees of freedom after Welch and
    Satterthwaite; left out when infinite.
    """
    parts = [line.component() for line in inputs.components]
    combined = inputs.combine(parts)
    return BudgetOut(
        combined_standard_uncertainty=combined.u,
        effective_degrees_of_freedom=combined.freedom,
        coverage_factor=combined.factor,
        expanded_uncertainty=combined.expanded,
        budget=tuple(
            BudgetLine(
                name=part.name,
                standard_uncertainty=part.u,
                contribution=part.contribution,
                share_pct=share_pct(part, combined),
                degrees_of_freedom=part.freedom,
            )
            for part in parts
        ),
        notes=combined.notes,
    )


READING, SPOT_MEAN, AREA_MEAN = "reading", "spot mean", "area mean"


@dataclass(frozen=True, kw_only=True)
class ThicknessUncertaintyIn(CoverageIn):
    of: str = choice("Uncertainty of", (READING, SPOT_MEAN, AREA_MEAN))
    reading_um: Fraction | None = thickness("The reading", help="For the uncertainty of one reading.", optional=True)
    spots_um: tuple[tuple[Fraction, ...], ...] | None = thickness_lists("Readings of each spot", optional=True)
    gauge_accuracy_pct: Fraction = number("Gauge accuracy, share of reading", minimum=0, maximum=100, default=0)
    gauge_accuracy_um: Fraction = thickness("Gauge accuracy, fixed part", default=0)
    shim_expanded_uncertainty_um: Fraction = thickness("Expanded uncertainty of the shim", default=0)
    shim_coverage_factor: Fraction = number("Coverage factor of the shim", above=0, maximum=100, default=2)
    adjustment_readings_um: tuple[Fraction, ...] | None = thicknesses(
        "Readings on the shim at adjustment", optional=True, fewest=2
    )
    correction_um: Fraction = thickness("Profile correction subtracted", default=0)
    correction_half_width_um: Fraction = thickness("The correction is right within ±", default=0)
    resolution_um: Fraction = thickness("Step of the display", default=0)

    def __post_init__(self) -> None:
        if not self.gauge_accuracy_pct and not self.gauge_accuracy_um:
            raise InputFault.at("gauge_accuracy_pct", "give the gauge's stated accuracy: a share, a fixed part or both")
        needs = {READING: ("reading_um", 0), SPOT_MEAN: ("spots_um", 1), AREA_MEAN: ("spots_um", 2)}
        field, fewest = needs[self.of]
        if getattr(self, field) is None:
            raise InputFault.at(field, f"is needed for the uncertainty of a {self.of}")
        if self.of != READING and self.reading_um is not None:
            raise InputFault.at("reading_um", f"leave out for a {self.of}")
        spots = self.spots_um or ()
        if self.of == SPOT_MEAN and len(spots) != 1:
            raise InputFault.at("spots_um", "give the readings of one spot")
        if len(spots) < fewest:
            raise InputFault.at("spots_um", f"give at least {fewest} spots for the scatter of their means")
        if self.correction_um > min([*([self.reading_um] if self.reading_um is not None else []), *chain(*spots)]):
            raise InputFault.at("correction_um", "is larger than a reading it is subtracted from: read both again")
        if self.of != AREA_MEAN and spots and not any(len(spot) > 1 for spot in spots):
            raise InputFault.at("spots_um", "one spot at least needs two readings to show the scatter")


@dataclass(frozen=True, kw_only=True)
class ThicknessBudgetLine:
    name: str
    evaluation: str
    standard_uncertainty_um: float
    share_pct: float
    degrees_of_freedom: float | None


@dataclass(frozen=True, kw_only=True)
class ThicknessUncertaintyOut:
    value_um: Fraction = result("Thickness, corrected")
    combined_standard_uncertainty_um: float = result("Combined standard uncertainty")
    effective_degrees_of_freedom: float | None = result("Effective degrees of freedom", optional=True)
    coverage_factor: float = result("Coverage factor")
    expanded_uncertainty_um: float = result("Expanded uncertainty")
    lowest_um: float = result("From")
    highest_um: float = result("To")
    budget: tuple[ThicknessBudgetLine, ...] = result("Budget")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "reading-uncertainty",
    title="Uncertainty of a thickness",
    group="Metrology",
    sources=(GUM, GUM_RECALLED, DOMINANT, SHAPE, OWN_MODEL),
    example={
        "of": SPOT_MEAN,
        "spots_um": [[104, 98, 107]],
        "gauge_accuracy_pct": 1,
        "gauge_accuracy_um": 1,
        "shim_expanded_uncertainty_um": 1,
        "correction_um": 25,
        "correction_half_width_um": 10,
    },
    caution="Scatter of an area mean includes real differences of the film. Standards of acceptance compare readings "
    "without their uncertainty: this tells what a reading is worth, not whether the area passes.",
)
def reading_uncertainty(inputs: ThicknessUncertaintyIn) -> ThicknessUncertaintyOut:
    """Uncertainty of one reading, a spot mean or an area mean, each component shown.

    Model: thickness = indication + gauge + shim + adjustment + display - profile correction. Gauge accuracy, profile
    correction and display step are rectangular and common to all readings; they do not shrink with more readings.
    Scatter is that of single readings (pooled over spots), of the mean of a spot, or of the spot means.
    """
    parts = [part for part in (*_common_parts(inputs), _scatter(inputs)) if part is not None and part.u > 0]
    combined = inputs.combine(parts)
    value = _indicated(inputs) - inputs.correction_um
    return ThicknessUncertaintyOut(
        value_um=value,
        combined_standard_uncertainty_um=combined.u,
        effective_degrees_of_freedom=combined.freedom,
        coverage_factor=combined.factor,
        expanded_uncertainty_um=combined.expanded,
        lowest_um=float(value) - combined.expanded,
        highest_um=float(value) + combined.expanded,
        budget=tuple(
            ThicknessBudgetLine(
                name=part.name,
                evaluation=part.evaluation,
                standard_uncertainty_um=part.u,
                share_pct=share_pct(part, combined),
                degrees_of_freedom=part.freedom,
            )
            for part in parts
        ),
        notes=combined.notes,
    )


def _mean(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def _indicated(inputs: ThicknessUncertaintyIn) -> Fraction:
    if inputs.reading_um is not None:
        return inputs.reading_um
    return _mean([_mean(spot) for spot in inputs.spots_um or ()])


def _common_parts(inputs: ThicknessUncertaintyIn) -> list[Component | None]:
    accuracy = inputs.gauge_accuracy_pct / 100 * _indicated(inputs) + inputs.gauge_accuracy_um
    shim = inputs.shim_expanded_uncertainty_um / inputs.shim_coverage_factor
    return [
        _rectangular("gauge accuracy", float(accuracy)),
        Component(name="shim", evaluation=BY_OTHER_MEANS, u=float(shim)),
        _of_mean("adjustment", inputs.adjustment_readings_um),
        _rectangular("profile correction", float(inputs.correction_half_width_um)),
        _rectangular("display step", float(inputs.resolution_um) / 2),
    ]


def _rectangular(name: str, half_width: float) -> Component:
    return Component(name=name, evaluation=BY_OTHER_MEANS, u=half_width / math.sqrt(3), rectangular=True)


def _of_mean(name: str, values: Sequence[Fraction] | None) -> Component | None:
    """Standard uncertainty of a mean: s / √n with n - 1 degrees of freedom (JCGM 100, 4.2.3)."""
    if values is None or len(values) < 2:
        return None
    u = stdev([float(value) for value in values]) / math.sqrt(len(values))
    return Component(name=name, evaluation=BY_STATISTICS, u=u, freedom=len(values) - 1)


def _scatter(inputs: ThicknessUncertaintyIn) -> Component | None:
    spots = inputs.spots_um or ()
    if inputs.of == AREA_MEAN:
        return _of_mean("scatter of the spot means", [_mean(spot) for spot in spots])
    if inputs.of == SPOT_MEAN:
        return _of_mean("scatter in the spot", spots[0])
    several = [[float(value) for value in spot] for spot in spots if len(spot) > 1]
    if not several:
        return None
    freedom = sum(len(spot) - 1 for spot in several)
    pooled = math.sqrt(math.fsum((len(spot) - 1) * stdev(spot) ** 2 for spot in several) / freedom)
    return Component(name="scatter of single readings", evaluation=BY_STATISTICS, u=pooled, freedom=freedom)
