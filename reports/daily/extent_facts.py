"""What a daily report tells of how far a nonconformance reaches, and of the part of its area that is repaired."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class SpotOutward:
    """One spot of the search in nm as the gauge showed it, or why its direction ends."""

    direction: int
    readings_nm: tuple[int, ...]
    ended: str


@dataclass(frozen=True)
class Reaching:
    """The search for the extent as far as it had come; `area_m2` is what it encloses at most, once it has ended."""

    minimum_nm: int
    maximum_nm: int | None
    by_units: bool
    finished: bool
    spots: tuple[SpotOutward, ...]
    area_m2: float | None


@dataclass(frozen=True)
class RepairedTold:
    """A repaired part: what the rest of the area is without it, and what was measured on it last."""

    part: str
    area_m2: float
    left_out: tuple[int, ...]
    made_at: datetime
    undone_at: datetime | None
    undone_why: str
    rest: str
    rest_digest: str
    rest_words: tuple[str, ...]
    record: str
    measured_at: datetime | None
    verdict: str
    standing: str
