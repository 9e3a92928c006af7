"""What a daily report tells of the work itself: paint that came and was mixed, and what crews did in one go."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class BatchTold:
    """A batch of paint that came that day, that something befell, or that a mix of the day took of."""

    what: str
    number: str
    received: str
    made_on: date | None
    expires_on: date | None
    # How it stood at the day's end, and whether that speaks against mixing it.
    stood: str
    is_fit: bool
    that_day: tuple[str, ...]
    used_l: float
    used_kg: float
    late: datetime | None


@dataclass(frozen=True)
class MixTold:
    """Paint mixed that day, or that a lot of the day took of. Temperature in °C, thinner in % by volume."""

    number: int
    coat: str
    mixed_at: datetime
    parts: tuple[str, ...]
    ratio: str
    thinner_pct: float | None
    paint_c: float | None
    stirred: str
    usable_from: datetime | None
    usable_until: datetime | None
    used_until: datetime | None
    gone_over: tuple[str, ...]
    reason: str
    note: str
    by: str
    late: datetime | None


@dataclass(frozen=True)
class LotTold:
    """What one crew did in one go, begun or ended that day or still under way at its end. Areas with their m²."""

    number: int
    what: str
    crew: str
    begun_at: datetime
    ended_at: datetime | None
    method: str
    settings: str
    places: tuple[tuple[str, float], ...]
    follows: tuple[int, ...]
    paint: tuple[str, ...]
    gone_over: tuple[str, ...]
    note: str
    by: str
    late: datetime | None

    @property
    def m2(self) -> float:
        return sum(m2 for _, m2 in self.places)


@dataclass(frozen=True)
class Advance:
    """How far a step of the whole project was at the day's end, in m²: in all, and what the day added to it.

    Done is as lots claim it; inspected where the thickness that stood passed; released where no hold was open.
    """

    step: str
    of_m2: float
    done: tuple[float, float]
    inspected: tuple[float, float]
    released: tuple[float, float]


@dataclass(frozen=True)
class NoticeTold:
    """A notice of inspection for the days to come, or given that day, as it stood when the day ended."""

    number: int
    begins_at: datetime
    ends_at: datetime
    meeting_place: str
    what: tuple[str, ...]
    given_by: str
    to: tuple[str, ...]
    # Given or moved later than the contract asks.
    short: bool
    # Of one given that day that calls nobody any more: held, withdrawn, with why.
    became: str = ""
