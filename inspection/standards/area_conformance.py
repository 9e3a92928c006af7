"""How probable it is that an area conforms, from its spots, its gauge, its standards and its profile (JCGM 106).

Never a verdict: coating standards compare what was observed with the limits. What is told here holds if the scatter
stays as measured.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from statistics import NormalDist

import numpy as np

from inspection.standards.conformity import JCGM_106
from inspection.standards.metrology import BY_OTHER_MEANS, BY_STATISTICS, GUM_RECALLED
from inspection.standards.registry import (
    InputFault,
    Source,
    calculation,
    items,
    number,
    result,
    thickness,
    thickness_lists,
    thicknesses,
)

S1 = Source("JCGM 101", "2008, a mean of few values: scaled and shifted t", "6.4.9", "from memory")
CORRECTED = Source("JCGM 100", "2008, a recognised error is corrected", "3.2.4, 4.2, 4.3", "from memory")
OWN_MODEL = Source("Components of an area's thickness", "as listed here", "", "common practice, no source")

SETTLED = 0.95
"""Above it, or below one less it, the probability counts as settled; our own limits, no standard gives any."""
MOST_SPOTS = 10_000
NODES = 96
BISECTIONS = 60


@dataclass(frozen=True, kw_only=True)
class Part:
    """One component of uncertainty, its standard uncertainty in µm."""

    name: str
    evaluation: str
    standard_uncertainty_um: float


@dataclass(frozen=True, kw_only=True)
class Film:
    """What is known of a film, in µm: the best estimate of its mean and the scatter between ``count`` spots.

    ``common_u`` is the standard uncertainty of what all spots have in common and more spots do not lessen.
    """

    mean: float
    scatter: float
    count: int
    common_u: float


def mean_between(film: Film, lower: float | None, upper: float | None) -> float:
    """Probability (0 to 1) that the mean of the area lies within the limits in µm, either of which may be None.

    JCGM 106, 7: the share of the distribution of the mean within the limits. That distribution is Student's t of the
    spots, s / √n with n - 1 degrees of freedom (JCGM 101, 6.4.9), plus a normal one of what they have in common.
    """

    def within(sigma: np.ndarray, u: np.ndarray) -> np.ndarray:
        below = _normal(film.mean - lower, u) if lower is not None else np.ones_like(u)
        return below - (_normal(film.mean - upper, u) if upper is not None else 0)

    return _over_scatter(film, within)


def share_at_most(film: Film, limit: float, share: float) -> float:
    """Probability (0 to 1) that no more than a share (0 to 1) of the surface is thinner than the limit in µm.

    The surface is normal about its mean, as thick from spot to spot as the spots scatter: its share below is at most p
    where mean - z σ reaches the limit, z being the normal quantile of 1 - p.
    """
    z = NormalDist().inv_cdf(1 - share)
    return _over_scatter(film, lambda sigma, u: _normal(film.mean - z * sigma - limit, u))


def share_below(film: Film, limit: float) -> float:
    """The share (0 to 1) of the surface to be expected below the limit in µm."""
    return _over_scatter(film, lambda sigma, u: _normal(limit - film.mean, np.hypot(sigma, u)))


def largest_share(film: Film, limit: float, probability: float = SETTLED) -> float:
    """The share (0 to 1) below the limit that is not exceeded with that probability."""
    low, high = -8.0, 8.0
    for _ in range(BISECTIONS):
        z = (low + high) / 2
        enough = share_at_most(film, limit, NormalDist().cdf(z)) >= probability
        low, high = (low, z) if enough else (z, high)
    return NormalDist().cdf(high)


def more_spots(film: Film, probability: Callable[[Film], float]) -> int | None:
    """How many more spots settle the question if mean and scatter stay as measured; None: no number of them does.

    The fewest with which the probability leaves the stretch from 5 to 95 %. What the spots have in common does not
    shrink with their number, so that there may be none.
    """

    def settled(count: int) -> bool:
        found = probability(replace(film, count=count))
        return not 1 - SETTLED < found < SETTLED

    if settled(film.count):
        return 0
    if film.count >= MOST_SPOTS or not settled(MOST_SPOTS):
        return None
    low, high = film.count, MOST_SPOTS
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if settled(middle) else (middle, high)
    return high - film.count


def _over_scatter(film: Film, of: Callable[[np.ndarray, np.ndarray], np.ndarray]) -> float:
    """The mean of a function of the scatter and the standard uncertainty of the mean, over what the scatter may be.

    (n - 1) s² / σ² is distributed as chi-square with n - 1 degrees of freedom (JCGM 101, 6.4.9): the integral over its
    probability by Gauss and Legendre.
    """
    at, weights = _nodes()
    freedom = film.count - 1
    sigma = film.scatter * np.sqrt(freedom / _chi_square(at, freedom))
    u = np.sqrt(sigma**2 / film.count + film.common_u**2)
    return float(np.clip(np.sum(weights * of(sigma, u)), 0, 1))


@cache
def _nodes() -> tuple[np.ndarray, np.ndarray]:
    """Gauss-Legendre on (0, 1), drawn towards both ends by t = x² (3 - 2 x), where the quantile is steep."""
    x, weights = np.polynomial.legendre.leggauss(NODES)
    x, weights = (x + 1) / 2, weights / 2
    return x**2 * (3 - 2 * x), weights * 6 * x * (1 - x)


def _chi_square(probability: np.ndarray, freedom: int) -> np.ndarray:
    from scipy.special import gammaincinv  # noqa: PLC0415 - slow to load, and used here only

    found: np.ndarray = 2 * gammaincinv(freedom / 2, probability)
    return found


def _normal(distance: np.ndarray | float, u: np.ndarray) -> np.ndarray:
    """Φ(distance / u); where there is no uncertainty at all, whether the limit is reached."""
    from scipy.special import ndtr  # noqa: PLC0415 - slow to load, and used here only

    distance = np.broadcast_to(distance, u.shape)
    certain = u == 0
    found: np.ndarray = np.where(certain, distance >= 0, ndtr(distance / np.where(certain, 1, u)))
    return found


# --- what goes into it ------------------------------------------------------------------------------------------------
@dataclass(frozen=True, kw_only=True)
class GaugeCheck:
    """The gauge on one reference standard, before or after the work."""

    certified_um: Fraction = thickness("Certified value", above=0)
    expanded_uncertainty_um: Fraction = thickness("Its expanded uncertainty", default=0)
    coverage_factor: Fraction = number("Its coverage factor", above=0, maximum=100, default=2)
    readings_um: tuple[Fraction, ...] = thicknesses("Readings on it", fewest=1)


@dataclass(frozen=True, kw_only=True)
class Instrument:
    """What gauge and profile add, in µm: the error that was found, and the parts of the uncertainty."""

    error: float
    parts: tuple[Part, ...]

    @property
    def u(self) -> float:
        return math.sqrt(math.fsum(part.standard_uncertainty_um**2 for part in self.parts))


def instrument(
    checks: Sequence[GaugeCheck], *, accuracy_um: float, half_width_um: float, correction_readings: Sequence[float] = ()
) -> Instrument:
    """The gauge by its checks, or by its stated accuracy where it has none, and the correction for the profile.

    The error found on the standards is corrected for (JCGM 100, 3.2.4). What is left: scatter of the readings on the
    standards (A, pooled s / √n), how far the errors lie apart (B, rectangular over their range), the certificate (B,
    U / k, the largest one: one laboratory's certificates go together), the correction (B, rectangular) and the base
    metal readings behind it (A, s / √n).
    """
    error, parts = _by_checks(checks) if checks else (0.0, [_rectangle("stated accuracy of the gauge", accuracy_um)])
    if half_width_um:
        parts.append(_rectangle("profile correction", half_width_um))
    if len(correction_readings) > 1:
        u = float(np.std(correction_readings, ddof=1)) / math.sqrt(len(correction_readings))
        parts.append(Part(name="base metal readings", evaluation=BY_STATISTICS, standard_uncertainty_um=u))
    return Instrument(error=error, parts=tuple(parts))


def _by_checks(checks: Sequence[GaugeCheck]) -> tuple[float, list[Part]]:
    values = [[float(value) for value in check.readings_um] for check in checks]
    errors = [
        math.fsum(read) / len(read) - float(check.certified_um) for read, check in zip(values, checks, strict=True)
    ]
    parts = []
    freedom = sum(len(read) - 1 for read in values)
    if freedom:
        pooled = math.fsum(float(np.var(read)) * len(read) for read in values) / freedom
        u = math.sqrt(pooled * math.fsum(1 / len(read) for read in values)) / len(values)
        parts.append(Part(name="scatter on the standards", evaluation=BY_STATISTICS, standard_uncertainty_um=u))
    if len(errors) > 1:
        parts.append(_rectangle("errors between standards and checks", (max(errors) - min(errors)) / 2))
    certified = max(float(check.expanded_uncertainty_um / check.coverage_factor) for check in checks)
    if certified:
        name = "certificate of the standard"
        parts.append(Part(name=name, evaluation=BY_OTHER_MEANS, standard_uncertainty_um=certified))
    return math.fsum(errors) / len(errors), parts


def _rectangle(name: str, half_width_um: float) -> Part:
    return Part(name=name, evaluation=BY_OTHER_MEANS, standard_uncertainty_um=half_width_um / math.sqrt(3))


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What is asked, in µm and as a share (0 to 1); None: not asked."""

    mean_lower: float | None = None
    mean_upper: float | None = None
    share_limit: float | None = None
    share: float | None = None


@dataclass(frozen=True, kw_only=True)
class Told:
    """What can be told of an area; thicknesses in µm, probabilities and shares from 0 to 1. None: not asked."""

    film: Film
    sampling_u: float
    mean_conforms: float | None
    more_spots_for_mean: int | None
    share_conforms: float | None
    more_spots_for_share: int | None
    expected_share: float | None
    share_up_to: float | None


def tell(film: Film, limits: Limits) -> Told:
    """All that is asked of one film."""
    mean_conforms = share_conforms = expected = up_to = None
    for_mean = for_share = None
    if limits.mean_lower is not None or limits.mean_upper is not None:

        def mean_holds(of: Film) -> float:
            return mean_between(of, limits.mean_lower, limits.mean_upper)

        mean_conforms, for_mean = mean_holds(film), more_spots(film, mean_holds)
    if (limit := limits.share_limit) is not None:
        expected, up_to = share_below(film, limit), largest_share(film, limit)
        if (share := limits.share) is not None:

            def share_holds(of: Film) -> float:
                return share_at_most(of, limit, share)

            share_conforms, for_share = share_holds(film), more_spots(film, share_holds)
    return Told(
        film=film,
        sampling_u=film.scatter / math.sqrt(film.count),
        mean_conforms=mean_conforms,
        more_spots_for_mean=for_mean,
        share_conforms=share_conforms,
        more_spots_for_share=for_share,
        expected_share=expected,
        share_up_to=up_to,
    )


# --- the calculation --------------------------------------------------------------------------------------------------
@dataclass(frozen=True, kw_only=True)
class AreaConformanceIn:
    spots_um: tuple[tuple[Fraction, ...], ...] = thickness_lists(
        "Readings, spot by spot, as the gauge showed them", loose=True
    )
    correction_um: Fraction = thickness("Profile correction subtracted", default=0)
    correction_half_width_um: Fraction = thickness("The correction is right within ±", default=0)
    mean_minimum_um: Fraction | None = thickness("Mean of the area at least", optional=True)
    mean_maximum_um: Fraction | None = thickness("Mean of the area at most", optional=True)
    share_limit_um: Fraction | None = thickness("Thickness the share of the surface is counted below", optional=True)
    share_allowed_pct: Fraction | None = number(
        "Share of the surface allowed below it", above=0, maximum=50, optional=True
    )
    gauge_accuracy_um: Fraction = thickness(
        "Stated accuracy of the gauge, ±", default=0, help="Used where there is no check on a standard."
    )
    gauge_checks: tuple[GaugeCheck, ...] | None = items("Checks of the gauge", GaugeCheck, most=100, optional=True)

    def __post_init__(self) -> None:
        if len(self.spots_um) < 2:
            raise InputFault.at("spots_um", "give at least two spots; one shows no scatter from spot to spot")
        if all(limit is None for limit in (self.mean_minimum_um, self.mean_maximum_um, self.share_limit_um)):
            raise InputFault.at("mean_minimum_um", "give a limit of the mean, or share_limit_um for the surface below")
        low, high = self.mean_minimum_um, self.mean_maximum_um
        if low is not None and high is not None and low > high:
            raise InputFault.at("mean_maximum_um", "must not be below mean_minimum_um")
        if self.share_allowed_pct is not None and self.share_limit_um is None:
            raise InputFault.at("share_limit_um", "is missing; share_allowed_pct is a share below it")
        if not self.gauge_checks and not self.gauge_accuracy_um:
            raise InputFault.at("gauge_checks", "give checks of the gauge, or gauge_accuracy_um in their place")


@dataclass(frozen=True, kw_only=True)
class AreaConformanceOut:
    mean_um: float = result("Mean of the area, corrected")
    spot_scatter_um: float = result("Scatter from spot to spot")
    spots: int = result("Spots")
    gauge_error_um: float = result("Error of the gauge corrected for")
    standard_uncertainty_um: float = result("Standard uncertainty of the mean")
    probability_mean_conforms: float | None = result("Probability that the mean conforms", optional=True)
    more_spots_for_mean: int | None = result("More spots to settle it, if the scatter stays", optional=True)
    expected_share_below_pct: float | None = result("Share of the surface expected below", optional=True)
    share_below_up_to_pct: float | None = result("At most, with 95 % probability", optional=True)
    probability_share_conforms: float | None = result("Probability that the share conforms", optional=True)
    more_spots_for_share: int | None = result("More spots to settle the share, if the scatter stays", optional=True)
    budget: tuple[Part, ...] = result("Budget")
    notes: tuple[str, ...] = result("Notes")


NO_NUMBER = (
    "Not even {most} spots like these would settle the {what}: the limit lies within what gauge, standard and "
    "correction leave unsure."
)


@calculation(
    "area-conformance",
    title="Probability that an area conforms",
    group="Metrology",
    sources=(JCGM_106, S1, CORRECTED, GUM_RECALLED, OWN_MODEL),
    example={
        "spots_um": [[262, 258, 271], [249, 255, 252], [270, 266, 261], [246, 251, 243], [259, 263, 257]],
        "mean_minimum_um": 250,
        "share_limit_um": 250,
        "share_allowed_pct": 20,
        "gauge_checks": [
            {"certified_um": 124.6, "expanded_uncertainty_um": 1.2, "readings_um": [125.1, 125.4, 124.9]},
            {"certified_um": 498.3, "expanded_uncertainty_um": 2.4, "readings_um": [499.8, 500.3, 499.5]},
        ],
    },
    caution="Never a verdict: coating standards compare what was observed with the limits. It holds if the scatter "
    "stays as measured and the spots were chosen without looking for good or bad places.",
)
def area_conformance(inputs: AreaConformanceIn) -> AreaConformanceOut:
    """Probability that the mean of an area, or the share of its surface below a limit, conforms (JCGM 106, 7).

    Thicknesses in µm or mil. Estimate = mean of the spot means - error of the gauge on its standards - profile
    correction. Mean: P(lower ≤ mean ≤ upper), the mean being distributed as Student's t of the spots, s / √n with n - 1
    degrees of freedom, plus a normal part of gauge, certificate and correction. Share: probability that mean - z σ
    reaches the limit, z the normal quantile of the share allowed. More spots: the fewest with which the probability
    leaves 5 to 95 %, mean and scatter staying as they are.
    """
    means = [float(sum(spot, Fraction(0)) / len(spot)) for spot in inputs.spots_um]
    gauge = instrument(
        inputs.gauge_checks or (),
        accuracy_um=float(inputs.gauge_accuracy_um),
        half_width_um=float(inputs.correction_half_width_um),
    )
    film = film_of(means, gauge, correction_um=float(inputs.correction_um))
    share = None if inputs.share_allowed_pct is None else float(inputs.share_allowed_pct) / 100
    limits = Limits(
        mean_lower=_float(inputs.mean_minimum_um), mean_upper=_float(inputs.mean_maximum_um),
        share_limit=_float(inputs.share_limit_um), share=share,
    )  # fmt: skip
    told = tell(film, limits)
    return AreaConformanceOut(
        mean_um=film.mean,
        spot_scatter_um=film.scatter,
        spots=film.count,
        gauge_error_um=gauge.error,
        standard_uncertainty_um=math.hypot(told.sampling_u, film.common_u),
        probability_mean_conforms=told.mean_conforms,
        more_spots_for_mean=told.more_spots_for_mean,
        expected_share_below_pct=_percent(told.expected_share),
        share_below_up_to_pct=_percent(told.share_up_to),
        probability_share_conforms=told.share_conforms,
        more_spots_for_share=told.more_spots_for_share,
        budget=budget(told, gauge),
        notes=notes_of(told),
    )


def film_of(spot_means_um: Sequence[float], gauge: Instrument, *, correction_um: float) -> Film:
    """The film behind at least two spot means as the gauge showed them."""
    count = len(spot_means_um)
    mean = math.fsum(spot_means_um) / count
    scatter = math.sqrt(math.fsum((value - mean) ** 2 for value in spot_means_um) / (count - 1))
    return Film(mean=mean - gauge.error - correction_um, scatter=scatter, count=count, common_u=gauge.u)


def budget(told: Told, gauge: Instrument) -> tuple[Part, ...]:
    """Every component of the uncertainty of the mean, that of the spots first."""
    name = f"scatter of {told.film.count} spots"
    return (Part(name=name, evaluation=BY_STATISTICS, standard_uncertainty_um=told.sampling_u), *gauge.parts)


def notes_of(told: Told) -> tuple[str, ...]:
    """What no number of spots can settle, in words."""
    asked = (("mean", told.mean_conforms, told.more_spots_for_mean),
             ("share", told.share_conforms, told.more_spots_for_share))  # fmt: skip
    return tuple(
        NO_NUMBER.format(what=what, most=f"{MOST_SPOTS:,}")
        for what, chance, more in asked
        if chance is not None and more is None
    )


def _float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share
