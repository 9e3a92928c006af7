"""Measurement uncertainty after JCGM 100: a budget of components, and the budget of a thickness result."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
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

GUM = Source("JCGM 100", "2008, as restated by a public statistics package", "5.1.2, G.4", "stored source")
GUM_RECALLED = Source("JCGM 100", "2008, divisors of stated figures; U = k u", "4.3, 6.2", "from memory")
OWN_MODEL = Source("Components of a thickness reading", "as listed here", "", "common practice, no source")

EXPANDED = "expanded uncertainty"
# What a stated figure is divided by to become a standard uncertainty (JCGM 100, 4.3).
DIVISORS = {
    "standard uncertainty": 1.0,
    "rectangular half-width": math.sqrt(3),
    "triangular half-width": math.sqrt(6),
    "U-shaped half-width": math.sqrt(2),
}
BY_STATISTICS, BY_OTHER_MEANS = "A", "B"
AS_GOOD_AS_INFINITE = 1_000_000  # degrees of freedom from which t and normal agree to six digits


@dataclass(frozen=True, kw_only=True)
class Component:
    """One line of a budget. ``u`` is its standard uncertainty, ``freedom`` its degrees of freedom (None: infinite)."""

    name: str
    evaluation: str
    u: float
    sensitivity: float = 1.0
    freedom: float | None = None

    @property
    def contribution(self) -> float:
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, kw_only=True)
class Combined:
    """Combined standard uncertainty, effective degrees of freedom (None: infinite), coverage factor, expanded."""

    u: float
    freedom: float | None
    factor: float
    expanded: float


def combine(components: Sequence[Component], probability: float, factor: float | None = None) -> Combined:
    """Combine independent components: u² = Σ (c u)² (JCGM 100, 5.1.2), U = k u (6.2.1).

    Without a declared factor k is Student's t for the probability (0 to 1) at the effective degrees of freedom of
    Welch and Satterthwaite, cut to the whole number below (G.4.1).
    """
    variance = math.fsum(part.contribution**2 for part in components)
    weights = [part.contribution**4 / part.freedom for part in components if part.freedom is not None]
    freedom = variance**2 / math.fsum(weights) if math.fsum(weights) else None
    k = student_factor(probability, freedom) if factor is None else factor
    return Combined(u=math.sqrt(variance), freedom=freedom, factor=k, expanded=k * math.sqrt(variance))


def student_factor(probability: float, freedom: float | None) -> float:
    """Two-sided coverage factor of Student's t for a probability (0 to 1); normal when freedom is None."""
    if freedom is None or freedom > AS_GOOD_AS_INFINITE:
        return NormalDist().inv_cdf((1 + probability) / 2)
    from scipy.stats import t  # noqa: PLC0415  takes most of a second to load: only where a statistic needs it

    return float(t.ppf((1 + probability) / 2, max(1, math.floor(freedom))))


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


@calculation(
    "uncertainty-budget",
    title="Uncertainty budget",
    group="Metrology",
    sources=(GUM, GUM_RECALLED),
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


@calculation(
    "reading-uncertainty",
    title="Uncertainty of a thickness",
    group="Metrology",
    sources=(GUM, GUM_RECALLED, OWN_MODEL),
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
    return Component(name=name, evaluation=BY_OTHER_MEANS, u=half_width / math.sqrt(3))


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
