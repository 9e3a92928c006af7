"""Thickness as whole nanometres, and the units it is written in. 0.1 µm = 100 nm and 0.01 mil = 254 nm, both exact."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal, InvalidOperation
from fractions import Fraction

from django.db import models

from inspection.foundation.refusals import Fault, Refused

# Nothing inspected here is thicker; a larger figure is a slip of unit or of key.
MOST_NM = 100_000_000


class Unit(models.TextChoices):
    UM = "um", "µm"
    MIL = "mil", "mil"

    @property
    def nm(self) -> int:
        """Nanometres in one of this unit."""
        return 1_000 if self is Unit.UM else 25_400


def to_nm(value: str | int | float | Decimal, unit: Unit | str, *, field: str = "", row: int | None = None) -> int:
    """Nanometres of a thickness written in the unit, with a point or a decimal comma.

    Raises Refused, naming field and row, for text, NaN, negative or absurd values and for more digits than a
    nanometre can hold.
    """
    low, nearest, high = nm_around(value, unit, field=field, row=row)
    if low != high:
        unit = Unit(unit)
        digits = 3 if unit is Unit.UM else 2
        told = f"{str(value).strip()[:40]} {unit.label} has too many digits; give at most {digits} after the point."
        raise Refused(Fault(told, field, row))
    return nearest


def nm_around(
    value: str | int | float | Decimal, unit: Unit | str, *, field: str = "", row: int | None = None
) -> tuple[int, int, int]:
    """The whole nanometres next below, nearest to and next above a thickness, equal where it is whole.

    Halfway is rounded to the even one. Raises as `to_nm`, but for digits.
    """
    unit = Unit(unit)

    def refuse(message: str) -> Refused:
        return Refused(Fault(message, field, row))

    text = str(value).strip()
    if text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise refuse(
            f"“{str(value)[:40]}” is not a number; give the thickness in {unit.label}, such as {_example(unit)}."
        ) from None
    if not number.is_finite():
        raise refuse(f"“{text[:40]}” is not a thickness; give a number in {unit.label}.")
    if number < 0:
        raise refuse(f"{number} {unit.label} is negative; a thickness is zero or more.")
    if number > MOST_NM:
        raise refuse(f"{text[:40]} {unit.label} is beyond anything measured here; check the figure and the unit.")
    exact = number * unit.nm
    if exact > MOST_NM:
        raise refuse(
            f"{text[:40]} {unit.label} is beyond anything measured here ({MOST_NM // 1_000_000} mm); check the unit."
        )
    low, nearest, high = (int(exact.to_integral_value(way)) for way in (ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_CEILING))
    return low, nearest, high


def _example(unit: Unit) -> str:
    return "84.5" if unit is Unit.UM else "3.32"


def in_unit(nm: int | float | Fraction, unit: Unit | str, digits: int | None = None) -> str:
    """The thickness written in the unit, without the unit's sign; rounded half to even only here, at the edge."""
    unit = Unit(unit)
    if digits is None:
        digits = 1 if unit is Unit.UM else 2
    exact = Fraction(nm) / unit.nm
    return f"{Decimal(exact.numerator) / Decimal(exact.denominator):.{digits}f}"


def with_unit(nm: int | float | Fraction | None, unit: Unit | str) -> str:
    """The thickness as it is read, with its unit; a dash where there is none."""
    return "–" if nm is None else f"{in_unit(nm, unit)} {Unit(unit).label}"


def um(nm: int) -> int | float:
    """Micrometres as a JSON number that reads back exactly: 81200 nm is 81.2."""
    # A division of whole numbers is rounded once, to the very float that the decimal figure names.
    return nm // 1_000 if nm % 1_000 == 0 else nm / 1_000
