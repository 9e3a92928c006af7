"""Limits of dry film thickness, of one coat or of all up to one; each may be missing, and what is missing stays so."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


class Limits(NamedTuple):
    """Minimum, nominal and maximum dry film thickness in nm; None where none is stated."""

    minimum: int | None
    nominal: int | None
    maximum: int | None


def summed(coats: Iterable[Limits]) -> Limits:
    """The limits of several coats added up, each None where any of them has none."""
    return Limits(*(None if None in column else sum(column) for column in zip(*coats, strict=True)))


def stated_or_summed(stated: Limits, sums: Limits) -> Limits:
    """Each limit as it is stated for the whole film, or else the sum of those of its coats."""
    return Limits(*(total if total is not None else added for total, added in zip(stated, sums, strict=True)))
