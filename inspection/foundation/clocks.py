"""Times as a project's clocks show them, and the moments they mean, also in the nights in which clocks change."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from inspection.foundation.refusals import Refused
from inspection.foundation.written_times import written


def day_of(text: str) -> date:
    """A day written as 2026-03-04, 4 March 2026 or, with dots, as 04.03.2026: dots stand where the day comes first
    (common practice, no source); with strokes the order is anybody's guess, so those are refused. Raises ValueError."""
    day, at = written(text)
    if day is None or at is not None:
        raise ValueError("no day alone")
    return day


class Unclear(Refused):
    """The clocks showed the time twice that night, or not at all; the sentence says how to write what was meant."""


def moment_of(local: datetime, zone: ZoneInfo) -> datetime:
    """The moment in UTC that a clock of the zone showed, or that an offset written with it says.

    Raises Unclear when the clocks showed the time twice or not at all, OverflowError at the ends of the calendar.
    """
    if local.tzinfo is not None:
        return local.astimezone(UTC)
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first.astimezone(UTC)
    clock = f"{local:%H:%M}"
    shown = first.astimezone(UTC).astimezone(zone)
    if shown.replace(tzinfo=None) == local:
        raise Unclear(
            f"{clock} came twice that night, since the clocks were put back. Write {with_offset(first)} for the "
            f"first time or {with_offset(second)} for the second."
        )
    raise Unclear(
        f"There was no {clock} that night, since the clocks were put forward. Look at the clock that was used: one "
        f"that had not been put forward meant {with_offset(shown)}."
    )


def comes_twice(moment: datetime, zone: ZoneInfo) -> bool:
    """Whether the zone's clocks showed this moment's time twice that night."""
    local = moment.astimezone(zone)
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def with_offset(local: datetime) -> str:
    """As 2026-10-25 02:30+01:00."""
    return local.isoformat(sep=" ", timespec="minutes")
