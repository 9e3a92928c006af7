"""What climate was recorded at places, as the rooms that hold climate tell it; this room holds none."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any
from uuid import UUID

from inspection.works.models import Lot
from inspection.works.signals import climate_asked


@dataclass(frozen=True)
class ClimateTold:
    """Of one area: when, the coldest steel in °C, and whether it was fit for the coat that it was taken for."""

    area: UUID
    at: datetime
    steel_c: Fraction
    coat: UUID | None
    passed: bool


def climate_at(areas: Collection[UUID], since: datetime, until: datetime | None) -> dict[UUID, list[ClimateTold]]:
    """By area what was recorded from one moment to another, oldest first."""
    found: dict[UUID, list[ClimateTold]] = defaultdict(list)
    answers: list[tuple[Any, Any]] = climate_asked.send(sender=Lot, areas=list(areas), since=since, until=until)
    for told in sorted((each for _, rows in answers for each in rows), key=lambda each: each.at):
        found[told.area].append(told)
    return found
