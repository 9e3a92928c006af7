"""Recoat windows of places: when what lies there may be painted over, and until when.

A place that was coated in several lots opens by the one that ended last and closes by the one that ended first.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from uuid import UUID

from inspection.projects.models import Coat, DataSheetRow, InspectionArea
from inspection.standards import InputFault
from inspection.standards.drying import CLOSED, CLOSING, NOT_YET_OPEN, OPEN
from inspection.standards.recoat_clock import NOT_KNOWN, Clock, Stated, clock_of
from inspection.works.climate_told import ClimateTold, climate_at
from inspection.works.films import films_of
from inspection.works.models import Lot, LotPlace

# A reading so long before the end of a coat still stands at its end (common practice, no source).
BEFORE = timedelta(hours=4)
MARKS = {NOT_KNOWN: "plain", NOT_YET_OPEN: "waiting", OPEN: "pass", CLOSING: "incomplete", CLOSED: "fail"}
COATS = (Lot.Activity.COAT, Lot.Activity.REPAIR)


@dataclass(frozen=True)
class Window:
    """Of one place: what lies on top, since when, what goes on next, and how its window stands."""

    area: InspectionArea
    lots: tuple[Lot, ...]
    coat: Coat
    following: Coat
    clock: Clock

    @property
    def ended_at(self) -> datetime:
        return max(lot.ended_at for lot in self.lots if lot.ended_at)

    @property
    def mark(self) -> str:
        return MARKS[self.clock.state]

    @property
    def no_end(self) -> str:
        """What stands where no moment of closing is known."""
        stated = any(row.recoat_max_hours is not None for row in rows_for(self.coat, self.following))
        return "not known" if stated else "no limit stated"


@dataclass(frozen=True)
class Asked:
    """An area at a moment; `upto` is the order of the coat that is about to go on, where some of it may lie already."""

    area: InspectionArea
    at: datetime
    upto: int | None = None


def windows_of(areas: Sequence[InspectionArea], at: datetime, *, upto: dict[UUID, int] | None = None) -> list[Window]:
    """The windows of the areas as they stand at a moment, by what was coated before it; areas without one are left out.

    `upto`: by area the order of the coat that is about to go on, where something of it may lie there already.
    """
    found = windows_at([Asked(area, at, (upto or {}).get(area.pk)) for area in areas])
    return [window for window in found if window]


def windows_at(asked: Sequence[Asked]) -> list[Window | None]:
    """The window of each area at its own moment, None where none waits; as many reads for many as for one."""
    if not asked:
        return []
    areas = {each.area.pk: each.area for each in asked}
    last = max(each.at for each in asked)
    films, lots = films_of(areas.values()), _lots_on(areas, last)
    tops = [
        _top(films[each.area.pk], [lot for lot in lots[each.area.pk] if lot.begun_at < each.at], each.upto)
        for each in asked
    ]
    ends = [lot.ended_at for top in tops if top for lot in top[2] if lot.ended_at]
    on_top = {each.area.pk for each, top in zip(asked, tops, strict=True) if top}
    climate = climate_at(on_top, min(ends) - BEFORE, last) if ends else {}
    return [
        _window(each, top, climate.get(each.area.pk, [])) if top else None
        for each, top in zip(asked, tops, strict=True)
    ]


def _window(asked: Asked, top: tuple[Coat, Coat, list[Lot]], climate: Sequence[ClimateTold]) -> Window:
    coat, following, lots = top
    told = [each for each in climate if each.at <= asked.at]
    return Window(asked.area, tuple(lots), coat, following, _clock(coat, following, lots, told, asked.at))


def _lots_on(areas: Collection[UUID], before: datetime) -> dict[UUID, list[Lot]]:
    found: dict[UUID, list[Lot]] = defaultdict(list)
    rows = LotPlace.objects.filter(area__in=areas, lot__in=Lot.objects.that_count().filter(begun_at__lt=before))
    rows = rows.filter(lot__activity__in=COATS, lot__coat__isnull=False).select_related("lot")
    for row in rows.order_by("lot__begun_at"):
        found[row.area_id].append(row.lot)
    return found


def _top(film: Sequence[Coat], lots: Sequence[Lot], upto: int | None) -> tuple[Coat, Coat, list[Lot]] | None:
    """The coat on top with its successor and the lots that made it; None where it is unfinished or the last."""
    places = {coat.pk: number for number, coat in enumerate(film) if upto is None or coat.order < upto}
    on = [(places[lot.coat_id], lot) for lot in lots if lot.coat_id in places]
    if not on:
        return None
    top = max(number for number, _ in on)
    made = [lot for number, lot in on if number == top]
    if top + 1 >= len(film) or any(lot.ended_at is None for lot in made):
        return None
    return film[top], film[top + 1], made


def rows_for(coat: Coat, following: Coat) -> list[DataSheetRow]:
    """The lines of the data sheet for the next product: those that name it, else those for any."""
    rows = coat.recoat_rows
    named = [row for row in rows if row.next_product.casefold() == following.product.casefold()]
    return named or [row for row in rows if not row.next_product]


def _clock(coat: Coat, following: Coat, lots: Sequence[Lot], climate: Sequence[ClimateTold], at: datetime) -> Clock:
    stated = [
        Stated(temperature_c=_exact(row.temperature_c), least_h=_exact(row.recoat_min_hours),
               most_h=_exact(row.recoat_max_hours))
        for row in rows_for(coat, following)
    ]  # fmt: skip
    ends = [lot.ended_at for lot in lots if lot.ended_at]
    steel = {told.at: told.steel_c for told in climate if told.at >= min(ends) - BEFORE}
    try:
        return clock_of(stated, first_end=min(ends), last_end=max(ends), steel=sorted(steel.items()), at=at)
    except InputFault as wrong:
        told = " ".join(fault.message for fault in wrong.faults)
        return Clock(state=NOT_KNOWN, notes=(f"The data sheet cannot be read so: {told}.",))


def _exact(value: object) -> Fraction | None:
    return None if value is None else Fraction(str(value))
