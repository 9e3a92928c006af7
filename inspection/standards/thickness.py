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
    where: str = "", unfinished: frozenset[int] = frozenset(),
) -> Check:  # fmt: skip
    """Every value is at or above the limit; observed is the lowest. What is ``unfinished`` breaks nothing yet."""
    breaking = [i for i, value in enumerate(values) if value < limit]
    edge = min(_counting(values, breaking, unfinished))
    return _each(limit, values, breaking, edge, unfinished, name, clause, sentence, counted_in, where)


def each_at_most(
    limit: Fraction, values: Sequence[Fraction], *, name: str, clause: str, sentence: str, counted_in: str,
    where: str = "", unfinished: frozenset[int] = frozenset(),
) -> Check:  # fmt: skip
    """Every value is at or below the limit; observed is the highest. What is ``unfinished`` breaks nothing yet."""
    breaking = [i for i, value in enumerate(values) if value > limit]
    edge = max(_counting(values, breaking, unfinished))
    return _each(limit, values, breaking, edge, unfinished, name, clause, sentence, counted_in, where)


def _counting(values: Sequence[Fraction], breaking: Sequence[int], unfinished: frozenset[int]) -> Sequence[Fraction]:
    """The values a check shows one of: those that break it for good, else all."""
    return [values[i] for i in breaking if i not in unfinished] or values


def _each(
    limit: Fraction, values: Sequence[Fraction], breaking: Sequence[int], edge: Fraction, unfinished: frozenset[int],
    name: str, clause: str, sentence: str, counted_in: str, where: str,
) -> Check:  # fmt: skip
    for_good = tuple(i for i in breaking if i not in unfinished)
    passed = False if for_good else None if breaking else True
    decided_by = for_good or tuple(i for i, value in enumerate(values) if value == edge)
    return Check(name, clause, sentence, limit, edge, passed, decided_by, "um", counted_in, where, decides_alone=True)


def refuse_crossed_limits(lower: Fraction | None, upper: Fraction | None, lower_name: str, upper_name: str) -> None:
    """A maximum below its minimum can never be met; say so instead of failing every reading."""
    if lower is not None and upper is not None and upper < lower:
        raise InputFault.at(upper_name, f"must not be less than {lower_name}")


def counted(count: int, one: str, many: str = "") -> str:
    """ "1 spot", "3 spots"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
