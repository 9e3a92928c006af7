"""Numbers within the bounds of their field, one by one, or a whole list of plain ones at once."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Any, Protocol

from inspection.standards.units import MOST_CERTAIN_DIGITS, shown

ABSURD_NUMBER = 10**12


class Bounds(Protocol):
    @property
    def minimum(self) -> Fraction | None: ...
    @property
    def above(self) -> Fraction | None: ...
    @property
    def maximum(self) -> Fraction | None: ...


def keep_within(bounds: Bounds, amount: Fraction, scale: Fraction, unit: str) -> None:
    """Raise ValueError where the amount lies beyond a bound; the message tells the bound divided by the scale."""
    if bounds.above is not None and not _less(bounds.above, amount):
        raise ValueError(f"must be more than {shown(bounds.above / scale)}{unit}")
    if bounds.minimum is not None and _less(amount, bounds.minimum):
        raise ValueError(f"must be at least {shown(bounds.minimum / scale)}{unit}")
    if bounds.minimum is None and bounds.above is None and amount < -ABSURD_NUMBER:
        raise ValueError("this number is far outside anything measured")
    if bounds.maximum is not None and _less(bounds.maximum, amount):
        raise ValueError(f"must be at most {shown(bounds.maximum / scale)}{unit}")


def _less(one: Fraction, other: Fraction) -> bool:
    # What Fraction.__lt__ does, without asking first what sort of number each is: half the cost of reading a long list.
    return one.numerator * other.denominator < other.numerator * one.denominator


def plain_numbers(bounds: Bounds, values: Sequence[Any]) -> tuple[Fraction, ...] | None:
    """All of a list of numbers at once, as reading each would give them; None where one has to be looked at by itself.

    A record of readings is thousands of floats of three decimals or fewer: each is the thousandths that `exact` finds.
    """
    if not {type(value) for value in values} <= {int, float}:
        return None
    try:
        thousandths = [round(value * 1000) for value in values]
        edges = min(thousandths), max(thousandths)
        for edge in edges:
            keep_within(bounds, _of_thousandths(edge), Fraction(1), "")
    except (OverflowError, ValueError):
        return None
    if max(map(abs, edges)) >= 10**MOST_CERTAIN_DIGITS:
        return None
    if any(part / 1000 != value for part, value in zip(thousandths, values, strict=True)):
        return None
    return tuple(map(_of_thousandths, thousandths))


@lru_cache(maxsize=65_536)
def _of_thousandths(number: int) -> Fraction:
    """A gauge shows few figures, again and again."""
    return Fraction(number, 1000)
