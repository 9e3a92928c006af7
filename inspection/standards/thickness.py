"""What the thickness rules share: exact means and the two kinds of limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from inspection.standards.faults import InputFault
from inspection.standards.registry import Check


def total(values: Sequence[Fraction]) -> Fraction:
    """Exact sum; one common denominator is much quicker than adding fractions one by one."""
    denominator = math.lcm(*{value.denominator for value in values})
    return Fraction(sum(value.numerator * (denominator // value.denominator) for value in values), denominator)


def mean(values: Sequence[Fraction]) -> Fraction:
    """Exact arithmetic mean of at least one value."""
    return total(values) / len(values)


def each_at_least(
    limit: Fraction, values: Sequence[Fraction], *, name: str, clause: str, sentence: str, counted_in: str,
    where: str = "",
) -> Check:  # fmt: skip
    """Every value is at or above the limit; observed is the lowest."""
    lowest = min(values)
    breaking = tuple(i for i, value in enumerate(values) if value < limit)
    return Check(name, clause, sentence, limit, lowest, not breaking, breaking or _all_at(lowest, values), "um",
                 counted_in, where)  # fmt: skip


def each_at_most(
    limit: Fraction, values: Sequence[Fraction], *, name: str, clause: str, sentence: str, counted_in: str,
    where: str = "",
) -> Check:  # fmt: skip
    """Every value is at or below the limit; observed is the highest."""
    highest = max(values)
    breaking = tuple(i for i, value in enumerate(values) if value > limit)
    return Check(name, clause, sentence, limit, highest, not breaking, breaking or _all_at(highest, values), "um",
                 counted_in, where)  # fmt: skip


def _all_at(edge: Fraction, values: Sequence[Fraction]) -> tuple[int, ...]:
    return tuple(i for i, value in enumerate(values) if value == edge)


def refuse_crossed_limits(lower: Fraction | None, upper: Fraction | None, lower_name: str, upper_name: str) -> None:
    """A maximum below its minimum can never be met; say so instead of failing every reading."""
    if lower is not None and upper is not None and upper < lower:
        raise InputFault.at(upper_name, f"must not be less than {lower_name}")


def counted(count: int, one: str, many: str = "") -> str:
    """ "1 spot", "3 spots"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
