"""What the thickness rules share: exact means and the two kinds of limit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TypeVar

from inspection.standards.faults import InputFault
from inspection.standards.registry import Check

Number = TypeVar("Number", int, Fraction)


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
    return each_within(limit, values, breaking=breaking, edge=min, name=name, clause=clause, sentence=sentence,
                       counted_in=counted_in, where=where, unfinished=unfinished)  # fmt: skip


def each_at_most(
    limit: Fraction, values: Sequence[Fraction], *, name: str, clause: str, sentence: str, counted_in: str,
    where: str = "", unfinished: frozenset[int] = frozenset(),
) -> Check:  # fmt: skip
    """Every value is at or below the limit; observed is the highest. What is ``unfinished`` breaks nothing yet."""
    breaking = [i for i, value in enumerate(values) if value > limit]
    return each_within(limit, values, breaking=breaking, edge=max, name=name, clause=clause, sentence=sentence,
                       counted_in=counted_in, where=where, unfinished=unfinished)  # fmt: skip


def each_within(
    limit: Fraction, values: Sequence[Number], *, breaking: Sequence[int],
    edge: Callable[[Sequence[Number]], Number], name: str, clause: str, sentence: str, counted_in: str,
    where: str = "", unfinished: frozenset[int] = frozenset(), as_observed: Callable[[Number], Fraction] = Fraction,
) -> Check:  # fmt: skip
    """The check of a limit that the values at ``breaking`` were found to break.

    Observed is the ``edge`` (min or max) of those that break it for good, or, where none does, of all; where the values
    are in another unit than the limit, ``as_observed`` tells what it is in that.
    """
    for_good = tuple(i for i in breaking if i not in unfinished)
    found = edge([values[i] for i in for_good] or values)
    passed = False if for_good else None if breaking else True
    decided_by = for_good or tuple(i for i, value in enumerate(values) if value == found)
    return Check(
        name, clause, sentence, limit, as_observed(found), passed, decided_by, "um", counted_in, where,
        decides_alone=True,
    )  # fmt: skip


def refuse_crossed_limits(lower: Fraction | None, upper: Fraction | None, lower_name: str, upper_name: str) -> None:
    """A maximum below its minimum can never be met; say so instead of failing every reading."""
    if lower is not None and upper is not None and upper < lower:
        raise InputFault.at(upper_name, f"must not be less than {lower_name}")


def counted(count: int, one: str, many: str = "") -> str:
    """ "1 spot", "3 spots"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
