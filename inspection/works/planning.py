"""From a working pattern to its shifts: which days, from what time to what time. Pure but for the project's clock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time, timedelta
from math import ceil

from inspection.foundation.refusals import Fault, Refused
from inspection.projects.models import Project
from inspection.works.belonging import Span
from inspection.works.models import LONGEST_SHIFT

MOST_AT_ONCE = 200
LONGEST_STRETCH = timedelta(days=366)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Shifts from `begins` to `ends` on the weekdays (0 is Monday) of a stretch of days, first and last among them.

    Times are those of the project's clocks; an end not after the beginning is one on the next day.
    """

    first: date
    last: date
    weekdays: frozenset[int]
    begins: time
    ends: time


def shifts_of(pattern: Pattern, project: Project) -> list[Span]:
    """The shifts of the pattern in UTC, in order. Raises Refused for none, for too many, and for too long ones.

    In the night in which clocks change a shift is an hour longer or shorter than its times say.
    """
    if faults := list(_faults(pattern)):
        raise Refused(faults)
    over_midnight = timedelta(days=pattern.ends <= pattern.begins)
    found = [
        (project.moment_on(day, pattern.begins), project.moment_on(day + over_midnight, pattern.ends))
        for day in _days(pattern)
    ]
    if not found:
        raise Refused("None of these weekdays lies between the two days.", field="weekdays")
    if len(found) > MOST_AT_ONCE:
        raise Refused(f"These are {len(found)} shifts; plan at most {MOST_AT_ONCE} at once.", field="last")
    for begin, end in found:
        if not timedelta(0) < end - begin <= LONGEST_SHIFT:
            raise Refused(length_fault(begin.astimezone(project.zone).date(), end - begin, "ends"))
    return found


def length_fault(day: date, length: timedelta, field: str) -> Fault:
    """That a shift cannot be so long."""
    if length <= timedelta(0):
        return Fault(f"The shift of {day} would end before it begins.", field)
    hours, minutes = divmod(ceil(length / timedelta(minutes=1)), 60)
    told = f"{hours} h {minutes} min" if minutes else f"{hours} h"
    most = LONGEST_SHIFT // timedelta(hours=1)
    return Fault(f"The shift of {day} would last {told}; a shift is at most {most} h.", field)


def _days(pattern: Pattern) -> Iterator[date]:
    day = pattern.first
    while day <= pattern.last:
        if day.weekday() in pattern.weekdays:
            yield day
        day += timedelta(days=1)


def _faults(pattern: Pattern) -> Iterator[Fault]:
    if pattern.last < pattern.first:
        yield Fault("The last day lies before the first.", "last")
    elif pattern.last - pattern.first > LONGEST_STRETCH:
        yield Fault(f"Plan at most {LONGEST_STRETCH.days} days at once.", "last")
    if pattern.first.year < 2000 or pattern.last.year > 2100:
        yield Fault("Give days between 2000 and 2100; check the year.", "first")
    if not pattern.weekdays or not pattern.weekdays <= set(range(7)):
        yield Fault("Choose at least one weekday.", "weekdays")
