"""What falls due within the hours of a shift, and when it is told to be near."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

# Long enough to walk to the gauge or to the station; common practice, no source.
SOON = timedelta(minutes=30)


@dataclass(frozen=True)
class Due:
    """A moment by which something is to be done, seen from another one."""

    at: datetime
    now: datetime

    @property
    def is_past(self) -> bool:
        return self.at <= self.now

    @property
    def is_soon(self) -> bool:
        return self.now < self.at <= self.now + SOON

    @property
    def mark(self) -> str:
        """The state that the house's marks know: due at a time, soon, or past."""
        return "expired" if self.is_past else "expiring" if self.is_soon else "waiting"

    @property
    def minutes(self) -> int:
        """Whole minutes still left, rounded up, or gone by."""
        return abs(-int((self.now - self.at) / timedelta(minutes=1)))
