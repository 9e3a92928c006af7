"""How much working time lies between a notice and the inspection it speaks of. Arithmetic of the calendar alone.

Common practice, no source: 24 h in a yard, 48 to 72 h for outside parties. A contract says which hours count; here they
are those of the project's working days, between its working hours where it declares them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

HOURS, DAYS = "hours", "days"
# Beyond so many days nobody asks for more notice.
FARTHEST = 1000


@dataclass(frozen=True)
class Calendar:
    """Days worked (Monday is 1, Sunday 7) but those closed, and their hours; without hours the whole day counts."""

    zone: ZoneInfo
    weekdays: frozenset[int] = frozenset({1, 2, 3, 4, 5})
    begins: time | None = None
    ends: time | None = None
    closed: Collection[date] = field(default_factory=frozenset)

    def works_on(self, day: date) -> bool:
        return day.isoweekday() in self.weekdays and day not in self.closed

    def hours_of(self, day: date) -> tuple[datetime, datetime]:
        """The working hours of a day as UTC [begin, end); a day on which clocks change is an hour shorter or longer."""
        begin = self._moment(day, self.begins or time())
        return begin, self._moment(day, self.ends) if self.ends else self._moment(day + timedelta(days=1), time())

    def _moment(self, day: date, clock: time) -> datetime:
        return datetime.combine(day, clock, tzinfo=self.zone).astimezone(UTC)


@dataclass(frozen=True)
class Lead:
    """Working time from one moment to another: in working hours, and in working days, each a whole one however long."""

    hours: Fraction
    days: Fraction

    def in_unit(self, unit: str) -> Fraction:
        return self.days if unit == DAYS else self.hours


def lead_left(calendar: Calendar, given_at: datetime, held_at: datetime) -> Lead:
    """The working time between giving notice and the inspection; none where the inspection comes first.

    Of each day worked, the part of its working hours that lies between the two moments. Counted to `FARTHEST` days.
    """
    hours = days = Fraction(0)
    for day in _days(calendar, given_at, held_at):
        begin, end = calendar.hours_of(day)
        part = _seconds(min(end, held_at) - max(begin, given_at))
        if part > 0:
            hours += part / 3600
            days += part / _seconds(end - begin)
    return Lead(hours, days)


def short_by(calendar: Calendar, given_at: datetime, held_at: datetime, lead: int, unit: str) -> Fraction:
    """By how much of its unit the notice is shorter than the lead time asked for; 0 when it is not."""
    return max(Fraction(0), lead - lead_left(calendar, given_at, held_at).in_unit(unit))


def _days(calendar: Calendar, given_at: datetime, held_at: datetime) -> Iterator[date]:
    first = given_at.astimezone(calendar.zone).date()
    last = min(held_at.astimezone(calendar.zone).date(), first + timedelta(days=FARTHEST))
    return (
        day
        for day in (first + timedelta(days=number) for number in range((last - first).days + 1))
        if calendar.works_on(day)
    )


def _seconds(span: timedelta) -> Fraction:
    return Fraction(span // timedelta(microseconds=1), 1_000_000)


def latest_giving(calendar: Calendar, held_at: datetime, lead: int, unit: str) -> datetime | None:
    """The last moment (UTC) at which notice has the lead asked for an inspection then; None beyond `FARTHEST` days."""
    left, last = Fraction(lead), held_at.astimezone(calendar.zone).date()
    for number in range(FARTHEST + 1):
        day = last - timedelta(days=number)
        if calendar.works_on(day):
            begin, end = calendar.hours_of(day)
            whole = _worth(begin, end, unit)
            end = min(end, held_at)
            if left <= (part := _seconds(end - begin) / whole):
                return end.astimezone(UTC) - _span(left * whole)
            left -= max(part, Fraction(0))
    return None


def earliest_held(calendar: Calendar, given_at: datetime, lead: int, unit: str) -> datetime | None:
    """The first moment (UTC) of an inspection that has the lead asked for; None beyond `FARTHEST` days."""
    left, first = Fraction(lead), given_at.astimezone(calendar.zone).date()
    for number in range(FARTHEST + 1):
        day = first + timedelta(days=number)
        if calendar.works_on(day):
            begin, end = calendar.hours_of(day)
            whole = _worth(begin, end, unit)
            begin = max(begin, given_at)
            if left <= (part := _seconds(end - begin) / whole):
                return begin.astimezone(UTC) + _span(left * whole)
            left -= max(part, Fraction(0))
    return None


def _worth(begin: datetime, end: datetime, unit: str) -> Fraction:
    """The seconds of one unit on a day with these working hours."""
    return _seconds(end - begin) if unit == DAYS else Fraction(3600)


def _span(seconds: Fraction) -> timedelta:
    return timedelta(microseconds=round(seconds * 1_000_000))
