"""Measurement uncertainty after JCGM 100: a budget of components, and the budget of a thickness reading."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import NormalDist, fmean, stdev

from .registry import (
    Fault,
    InputFault,
    Source,
    calculation,
    choice,
    items,
    number,
    text,
    thickness,
    thickness_lists,
    thicknesses,
)

JCGM_100 = Source("JCGM 100", "2008", "4, 5.1, 6.2, G.4", "from memory")
OWN_MODEL = Source(
    "Uncertainty model of a thickness reading", "", "components chosen here", "common practice, no source"
)

# How a stated figure becomes a standard uncertainty (JCGM 100, 4.3): divide by this.
DIVISORS = {
    "standard uncertainty": 1.0,
    "rectangular half-width": math.sqrt(3),
    "triangular half-width": math.sqrt(6),
    "U-shaped half-width": math.sqrt(2),
}
EXPANDED = "expanded uncertainty"


@dataclass(frozen=True, kw_only=True)
class Component:
    """One line of a budget: where it comes from, its standard uncertainty and its share of the variance."""

    name: str
    evaluation: str
    standard_uncertainty: float
    sensitivity: float
    degrees_of_freedom: float | None
    share_pct: float = 0.0

    @property
    def contribution(self) -> float:
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True, kw_only=True)
class Combined:
    """Combined standard uncertainty, effective degrees of freedom (None: infinite), coverage factor, U."""

    standard_uncertainty: float
    effective_degrees_of_freedom: float | None
    coverage_factor: float
    expanded_uncertainty: float
    components: tuple[Component, ...]


def combine(components: Sequence[Component], probability: float, coverage_factor: float | None = None) -> Combined:
    """Combine independent components: u² = Σ (c u)² (JCGM 100, 5.1.2), U = k u (6.2.1).

    Without a declared coverage factor k is Student's t for the probability and the effective degrees of freedom
    of Welch and Satterthwaite, cut to the integer below (G.4.1).
    """
    variance = math.fsum(part.contribution**2 for part in components)
    combined = math.sqrt(variance)
    effective = effective_freedom(components)
    factor = coverage_factor if coverage_factor is not None else student_factor(probability, effective)
    shared = tuple(
        Component(
            name=part.name,
            evaluation=part.evaluation,
            standard_uncertainty=part.standard_uncertainty,
            sensitivity=part.sensitivity,
            degrees_of_freedom=part.degrees_of_freedom,
            share_pct=100 * part.contribution**2 / variance if variance else 0.0,
        )
        for part in components
    )
    return Combined(
        standard_uncertainty=combined,
        effective_degrees_of_freedom=effective,
        coverage_factor=factor,
        expanded_uncertainty=factor * combined,
        components=shared,
    )


def effective_freedom(components: Sequence[Component]) -> float | None:
    """Effective degrees of freedom by Welch and Satterthwaite (JCGM 100, G.2b); None where infinite."""
    variance = math.fsum(part.contribution**2 for part in components)
    weight = math.fsum(
        part.contribution**4 / part.degrees_of_freedom for part in components if part.degrees_of_freedom is not None
    )
    return variance**2 / weight if weight else None


def student_factor(probability: float, freedom: float | None) -> float:
    """Two-sided coverage factor for a probability (0 to 1) from Student's t, or the normal when freedom is None."""
    if freedom is None:
        return NormalDist().inv_cdf((1 + probability) / 2)
    from scipy.stats import t  # noqa: PLC0415  (0.7 s to load: only where a statistic needs it)

    return float(t.ppf((1 + probability) / 2, max(1, math.floor(freedom))))
