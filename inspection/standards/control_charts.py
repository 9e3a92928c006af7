"""Control charts on verification errors: individuals and exponentially weighted moving average."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from inspection.standards.registry import Check, Judged, Source, calculation, judged, number, numbers, result

INDIVIDUALS = Source("NIST/SEMATECH e-Handbook", "2012", "6.3.2.2", "stored source")
EWMA = Source("NIST/SEMATECH e-Handbook", "2012", "6.3.2.4", "stored source")

SPAN_OF_TWO_D2 = 1.128

Number = float | Fraction


def beyond(values: Sequence[Number], lower: Number, upper: Number) -> tuple[int, ...]:
    """Positions, counted from 0, of the values outside the limits; a value on a limit gives no signal."""
    return tuple(index for index, value in enumerate(values) if not lower <= value <= upper)


def _signal_check(values: Sequence[Number], lower: Number, upper: Number, clause: str) -> Check:
    signals = beyond(values, lower, upper)
    worst = max(values, key=lambda value: max(value - upper, lower - value))
    limit = upper if worst - upper >= lower - worst else lower
    return Check("within the control limits", clause, "No point may lie outside the control limits.", limit, worst,
                 not signals, signals, counted_in="point")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class IndividualsIn:
    values: tuple[Fraction, ...] = numbers("Values in the order they were taken", minimum=-(10**12), fewest=2)
    d2: Fraction = number("d2", help="1.128 for moving ranges of two.", above=0, maximum=10, default=SPAN_OF_TWO_D2)
    k: Fraction = number("Limits at so many sigma", above=0, maximum=10, default=3)


@dataclass(frozen=True, kw_only=True)
class IndividualsOut(Judged):
    centre: float = result("Centre line")
    mean_moving_range: float = result("Mean moving range")
    sigma: float = result("Sigma")
    upper: float = result("Upper limit")
    lower: float = result("Lower limit")
    signals: tuple[int, ...] = result("Signals, counted from 0")


@calculation(
    "drift-individuals",
    title="Individuals chart",
    group="Metrology",
    sources=(INDIVIDUALS,),
    example={"values": [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]},
    caution="Limits from fewer than about twenty values are themselves uncertain.",
)
def drift_individuals(inputs: IndividualsIn) -> IndividualsOut:
    """Individuals chart: mean ± k × mean moving range / d2 (NIST e-Handbook 6.3.2.2)."""
    values = inputs.values
    centre = sum(values, Fraction(0)) / len(values)
    moving = sum((abs(later - earlier) for earlier, later in pairwise(values)), Fraction(0)) / (len(values) - 1)
    sigma = moving / inputs.d2
    upper, lower = centre + inputs.k * sigma, centre - inputs.k * sigma
    check = _signal_check(values, lower, upper, "NIST e-Handbook 6.3.2.2")
    return IndividualsOut(
        verdict=judged([check]),
        rule="individuals chart",
        edition="",
        checks=(check,),
        centre=float(centre),
        mean_moving_range=float(moving),
        sigma=float(sigma),
        upper=float(upper),
        lower=float(lower),
        signals=check.decided_by,
    )


@dataclass(frozen=True, kw_only=True)
class EwmaIn:
    values: tuple[float, ...] = numbers("Values in the order they were taken", minimum=-(10**12))
    lambda_: float = number("λ, weight of the newest value", above=0, maximum=1)
    target: float = number("Target", minimum=-(10**12))
    sigma: float = number("Sigma of single values", above=0)
    k: float = number("Limits at so many sigma", help="Some tools use 3.092: name it.", above=0, maximum=10, default=3)


@dataclass(frozen=True, kw_only=True)
class EwmaOut(Judged):
    ewma: tuple[float, ...] = result("Weighted averages")
    upper: float = result("Upper limit")
    lower: float = result("Lower limit")
    signals: tuple[int, ...] = result("Signals, counted from 0")


@calculation(
    "drift-ewma",
    title="EWMA chart",
    group="Metrology",
    sources=(EWMA,),
    example={"values": [52.0, 47.0, 53.0, 49.3, 50.1], "lambda": 0.3, "target": 50, "sigma": 2.0539},
    caution="Steady-state limits: wider than exact ones for the first few points, where a signal may be missed.",
)
def drift_ewma(inputs: EwmaIn) -> EwmaOut:
    """Exponentially weighted moving average, begun at the target; limits target ± k σ √(λ / (2 - λ)).

    NIST e-Handbook 6.3.2.4.
    """
    averages, last = [], inputs.target
    for value in inputs.values:
        last = inputs.lambda_ * value + (1 - inputs.lambda_) * last
        averages.append(last)
    reach = inputs.k * inputs.sigma * math.sqrt(inputs.lambda_ / (2 - inputs.lambda_))
    upper, lower = inputs.target + reach, inputs.target - reach
    check = _signal_check(averages, lower, upper, "NIST e-Handbook 6.3.2.4")
    return EwmaOut(
        verdict=judged([check]),
        rule="EWMA chart",
        edition="",
        checks=(check,),
        ewma=tuple(averages),
        upper=upper,
        lower=lower,
        signals=check.decided_by,
    )
