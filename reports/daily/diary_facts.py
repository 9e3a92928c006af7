"""What a daily report tells of who and what was there, and of signatures under the day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class DiaryLine:
    """An entry of the diary as it stands; the clock is the project's own. Notes to the next shift are never told."""

    kind: str
    clock: str
    told: str
    text: str
    by: str
    # Why it was corrected, if it was.
    why: str
    # When it was entered, if that was after the day had ended.
    late: datetime | None


@dataclass(frozen=True)
class PersonHours:
    """People of one organisation on site, and the hours of all of them together."""

    whose: str
    people: int
    hours: float


@dataclass(frozen=True)
class HoursLost:
    """Hours lost to one cause; `whose` is by whom it came about, empty for nobody."""

    cause: str
    whose: str
    hours: float


@dataclass(frozen=True)
class SignedDay:
    """A person's last signature under their day that stands, and what differs now from what they signed."""

    signed_as: str
    at: datetime
    covers: str
    digest: str
    since: str
