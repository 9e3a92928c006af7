"""How likely a measured value conforms to its limits, and the guard band that keeps the risk small (JCGM 106)."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from statistics import NormalDist

from inspection.standards.registry import Check, InputFault, Judged, Source, calculation, judged, number, result

JCGM_106 = Source("JCGM 106", "2012", "7, 8.3", "stored source")
JCGM_106_EXAMPLES = Source("JCGM 106", "2012, worked examples", "7.3.2, 7.4", "from memory")

ACCEPT, REJECT, UNSURE, NEVER = "accept", "reject", "within the guard band", "no value is sure enough"
TOO_UNSURE = (
    "No value between the limits reaches the wanted probability: the uncertainty is too large for this tolerance."
)
BISECTIONS = 80


def conforming(observed: float, u: float, lower: float | None, upper: float | None) -> float:
    """Probability that the true value lies within the limits: normal about the observed value (JCGM 106, 7)."""
    normal = NormalDist(observed, u)
    below_upper = 1.0 if upper is None else normal.cdf(upper)
    below_lower = 0.0 if lower is None else normal.cdf(lower)
    return below_upper - below_lower


@dataclass(frozen=True, kw_only=True)
class RiskIn:
    observed: Fraction = number("Observed value", minimum=-(10**12))
    standard_uncertainty: Fraction = number("Standard uncertainty", above=0)
    lower_limit: Fraction | None = number("Lower limit", minimum=-(10**12), optional=True)
    upper_limit: Fraction | None = number("Upper limit", minimum=-(10**12), optional=True)
    conformance_probability_pct: Fraction = number("Wanted probability", minimum=50, maximum=99.9999, default=95)

    def __post_init__(self) -> None:
        if self.lower_limit is None and self.upper_limit is None:
            raise InputFault.at("lower_limit", "give lower_limit, upper_limit or both")
        if self.lower_limit is not None and self.upper_limit is not None and self.lower_limit > self.upper_limit:
            raise InputFault.at("upper_limit", "must not be below lower_limit")


@dataclass(frozen=True, kw_only=True)
class RiskOut(Judged):
    probability_conforming: float = result("Probability of conforming")
    guard_band: float | None = result("Guard band", optional=True)
    acceptance_lower: float | None = result("Accept from", optional=True)
    acceptance_upper: float | None = result("Accept up to", optional=True)
    decision: str = result("With the guard band")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "conformance-risk",
    title="Risk of a wrong acceptance",
    group="Metrology",
    sources=(JCGM_106, JCGM_106_EXAMPLES),
    example={"observed": 105, "standard_uncertainty": 4, "lower_limit": 100},
    caution="The verdict compares the observed value with the limits alone, as coating standards do. A guard band "
    "counts only where the parties agreed on it.",
)
def conformance_risk(inputs: RiskIn) -> RiskOut:
    """Probability that the true value conforms, and the limits to accept by so that the risk stays small.

    One limit: guard band w = z u, with z the one-sided normal quantile of the wanted probability (95 %: 1.645). Two
    limits: w is the least with which a value observed at an acceptance limit conforms with the wanted probability to
    both. Where the uncertainty is too large for the tolerance, not even a value midway does: there is then no guard
    band, and nothing is accepted.
    """
    observed, u = float(inputs.observed), float(inputs.standard_uncertainty)
    lower = None if inputs.lower_limit is None else float(inputs.lower_limit)
    upper = None if inputs.upper_limit is None else float(inputs.upper_limit)
    wanted = float(inputs.conformance_probability_pct) / 100
    guard = guard_band(u, wanted, None if lower is None or upper is None else upper - lower)
    checks = _limit_checks(inputs)
    from_ = None if lower is None or guard is None else lower + guard
    to = None if upper is None or guard is None else upper - guard
    inside = guard is not None and (from_ is None or observed >= from_) and (to is None or observed <= to)
    unsure = UNSURE if guard is not None else NEVER
    return RiskOut(
        verdict=judged(checks),
        rule="simple acceptance",
        edition="JCGM 106:2012",
        checks=checks,
        probability_conforming=conforming(observed, u, lower, upper),
        guard_band=guard,
        acceptance_lower=from_,
        acceptance_upper=to,
        decision=ACCEPT if inside else unsure if all(check.passed for check in checks) else REJECT,
        notes=() if guard is not None else (TOO_UNSURE,),
    )


def guard_band(u: float, probability: float, tolerance: float | None) -> float | None:
    """How far inside its limits a value must be observed to conform with a probability (0.5 to 1).

    ``tolerance`` is the distance between two limits, None where there is one only. None where no value would do.
    """
    one_sided = NormalDist().inv_cdf(probability) * u
    if tolerance is None:
        return one_sided
    if conforming(tolerance / 2, u, 0, tolerance) < probability:
        return None
    low, high = one_sided, tolerance / 2
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        low, high = (middle, high) if conforming(middle, u, 0, tolerance) < probability else (low, middle)
    return high


def _limit_checks(inputs: RiskIn) -> tuple[Check, ...]:
    value, checks = inputs.observed, []
    if inputs.lower_limit is not None:
        sentence = "The observed value must not be below the lower limit."
        passed = value >= inputs.lower_limit
        checks.append(Check("lower limit", "specification", sentence, inputs.lower_limit, value, passed))
    if inputs.upper_limit is not None:
        sentence = "The observed value must not be above the upper limit."
        passed = value <= inputs.upper_limit
        checks.append(Check("upper limit", "specification", sentence, inputs.upper_limit, value, passed))
    return tuple(checks)
