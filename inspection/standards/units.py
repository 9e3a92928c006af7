"""Exact numbers: what a person typed becomes a fraction, and stays exact until it is shown.

A thickness is judged in micrometres as a ``Fraction``; 1 mil is 25.4 µm by definition of the inch, so both unit
systems are exact and no limit is missed by rounding.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from numbers import Integral, Rational
from typing import Any

UM_PER_MIL = Fraction(127, 5)
MOST_DIGITS = 30
MOST_CERTAIN_DIGITS = 15
LARGEST_EXPONENT = 30


def exact(value: object) -> Fraction:
    """The number exactly as it was written; a float counts as the shortest decimal that names it.

    Raises ValueError, with a message fit for the person who typed it, for anything that is not a finite number.
    """
    if isinstance(value, bool) or type(value).__name__ in ("bool", "bool_"):
        raise ValueError("give a number, not true or false")
    if isinstance(value, Integral):
        return _whole(int(value))
    if isinstance(value, float):
        return _of_float(value)
    if isinstance(value, Decimal):
        return _decimal(value)
    if isinstance(value, Rational):
        return Fraction(int(value.numerator), int(value.denominator))
    if isinstance(value, str):
        raise ValueError("give a number, not text (no quotation marks)")
    if value is None:
        raise ValueError("give a number; this one is missing")
    if isinstance(value, list | tuple):
        raise ValueError("give one number, not a list")
    raise ValueError("give a number")


def _of_float(value: float) -> Fraction:
    # Nearly every reading has three decimals or fewer. Of fifteen digits or fewer only one decimal names a float,
    # so the one that is found is the shortest as well, at a tenth of the cost.
    if abs(value) < 10**MOST_CERTAIN_DIGITS / 1000 and (thousandths := round(value * 1000)) / 1000 == value:
        return Fraction(thousandths, 1000)
    return _decimal(Decimal(float.__repr__(value)))


def _whole(value: int) -> Fraction:
    if value.bit_length() > 100:
        raise ValueError("this number is far too large")
    return Fraction(value)


def _decimal(value: Decimal) -> Fraction:
    if not value.is_finite():
        raise ValueError("give a finite number (not NaN or infinity)")
    if not value:
        return Fraction(0)
    if abs(value.adjusted()) > LARGEST_EXPONENT:
        raise ValueError("this number is far outside anything measured")
    if len(value.as_tuple().digits) > MOST_DIGITS:
        raise ValueError(f"give at most {MOST_DIGITS} digits")
    return Fraction(value)


def plain(value: Fraction) -> int | float:
    """A number for JSON: whole numbers as int, all others as the nearest float."""
    return value.numerator if value.denominator == 1 else float(value)


def shown(value: object, decimals: int = 3) -> str:
    """A number for people: at most so many decimals, no trailing zeros."""
    if isinstance(value, bool) or not isinstance(value, int | float | Fraction):
        return str(value)
    text = f"{float(value):.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


FIGURES, FEWEST_FIGURES, MOST_DECIMALS = 4, 3, 12
DECIMALS_OF = {"µm": 1, "mil": 2, "°C": 2}  # what is held against a limit shows at least what an instrument shows


def legible(value: object, unit: str = "") -> str:
    """A result for people: a thickness to 0.1 µm or 0.01 mil, °C to 0.01, any other number to four figures.

    Whole digits are never rounded away, a small thickness keeps three figures, and what only nearly reaches a whole
    number of µm, mil or °C never looks as if it did.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | Fraction):
        return str(value)
    size = abs(float(value))
    before = math.floor(math.log10(size)) + 1 if size else 1
    if unit not in DECIMALS_OF:
        return shown(value, min(max(FIGURES - before, 0), MOST_DECIMALS))
    fewest = min(max(DECIMALS_OF[unit], FEWEST_FIGURES - before), MOST_DECIMALS)
    texts = (shown(value, decimals) for decimals in range(fewest, fewest + 3))
    return next((text for text in texts if "." in text), shown(value, fewest))


def told_apart(
    one: object, other: object, figure: Callable[[object, int], str] = shown, digits: int = 3
) -> tuple[str, str]:
    """Two numbers as text, with as many digits as it takes to tell them apart: a near miss is never shown as a hit."""
    first, second = figure(one, digits), figure(other, digits)
    while first == second and one != other and digits < MOST_DIGITS:
        digits += 1
        first, second = figure(one, digits), figure(other, digits)
    return first, second


def excluded(check: Mapping[str, Any]) -> str:
    """What stands behind the limit of a check that was met exactly and yet not passed: "fewer than", "below"."""
    at_limit = check["limit"] is not None and check["limit"] == check["observed"]
    return " (limit excluded)" if at_limit and check["passed"] is False else ""


def plain_apart(limit: Fraction, observed: Fraction) -> tuple[int | float, int | float]:
    """Both as numbers for JSON, never equal unless they are: a value just beside a limit stays beside it."""
    first, second = plain(limit), plain(observed)
    if limit != observed and first == second:
        second = math.nextafter(second, math.inf if observed > limit else -math.inf)
    return first, second
