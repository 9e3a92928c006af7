"""What a daily report tells of chains: what had to come before the work and was not met, and who went on over it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class LinkNotMet:
    """A link of the chain of a lot of the day, or of a point released that day, that is not met."""

    what: str
    area: str
    at: datetime
    link: str
    found: str
    asked_by: str
    # Of a point: why it was released all the same, and by whom.
    accepted: str = ""
