"""Days and times as files write them: in the orders that are in use, with the order declared where it is ambiguous."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, time

DAY_ORDERS = {"dmy": "day, month, year", "mdy": "month, day, year"}
# A worksheet that holds a time alone counts it from a day of its own (ECMA-376, part 1, 18.17.4).
NO_DAYS = {date(1899, 12, 30), date(1899, 12, 31), date(1900, 1, 1), date(1904, 1, 1)}
MONTHS = {
    "jan": 1, "feb": 2, "mar": 3, "mär": 3, "mrz": 3, "apr": 4, "may": 5, "mai": 5, "jun": 6, "jul": 7, "aug": 8,
    "sep": 9, "oct": 10, "okt": 10, "nov": 11, "dec": 12, "dez": 12,
}  # fmt: skip
CLOCK = re.compile(r"(?:^|[T ,]+)(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?\s*([ap])?\.?m?\.?$", re.IGNORECASE)
THREE = re.compile(r"(\d{1,4})([./ -])\s*(\d{1,2}|[^\W\d]{3,9})\.?\2?\s*(\d{1,4})\.?")
TWO_WAYS = re.compile(r"\s*(\d{1,2})[/-](\d{1,2})[/-](\d{2}|\d{4})(?!\d)")


class TwoWays(ValueError):
    """A day that can be read two ways, and nobody said which."""


def day_order_of(texts: Iterable[str]) -> str | None:
    """The order of days with strokes: told by a number above 12; None where both fit, empty without such days."""
    found = [match for text in texts if (match := TWO_WAYS.match(text))]
    if not found:
        return ""
    first, second = (max(int(match[place]) for match in found) for place in (1, 2))
    return "dmy" if first > 12 >= second else "mdy" if second > 12 >= first else None


def written(text: str, order: str = "") -> tuple[date | None, datetime | time | None]:
    """What a cell says: a day, a time of day, or a moment (which may bear an offset). Raises ValueError.

    Years of two digits are of this century (common practice, no source).
    """
    text = text.strip()
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        pass
    else:
        if moment.date() in NO_DAYS:
            return None, moment.time()
        return moment.date(), moment if len(text) > 10 else None
    clock = CLOCK.search(text)
    before = text[: clock.start()].strip(" ,") if clock else text
    at = _clock(clock) if clock else None
    if not before:
        return None, at
    day = _day(before, order)
    return day, datetime.combine(day, at) if at else None


def _clock(found: re.Match[str]) -> time:
    hour, minute, second, half = int(found[1]), int(found[2]), int(found[3] or 0), (found[4] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError("no hour of half a day")
        hour = hour % 12 + (12 if half == "p" else 0)
    return time(hour, minute, second)


def _day(text: str, order: str) -> date:
    found = THREE.fullmatch(text)
    if not found:
        raise ValueError("no day")
    first, mark, middle, last = found[1], found[2], found[3], found[4]
    if len(first) == 4:
        return date(int(first), _month(middle), int(last))
    year = int(last) + 2000 if len(last) == 2 else int(last)
    if not middle.isdigit() or mark == ".":
        # With a dot, or the month by its name, the day comes first (common practice, no source).
        return date(year, _month(middle), int(first))
    if order not in DAY_ORDERS:
        raise TwoWays("can be read two ways; say whether the day or the month comes first")
    day, month = (int(first), int(middle)) if order == "dmy" else (int(middle), int(first))
    return date(year, month, day)


def _month(text: str) -> int:
    if text.isdigit():
        return int(text)
    number = MONTHS.get(text[:3].casefold())
    if number is None:
        raise ValueError("no month")
    return number
