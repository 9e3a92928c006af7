"""For which areas a record counts: its own and, of a climate station's reading, all that the station served then."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F, OuterRef, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from inspection.fieldwork.models import ClimateRecord, Record
from inspection.projects.models import InspectionArea, StationArea

# What a reading may be taken for and be counted.
COUNTING = [purpose for purpose in Record.Purpose.values if purpose != Record.Purpose.INVESTIGATION]


def station_of(record: Record) -> UUID | None:
    """The station a record was read at, if at one."""
    if record.kind != ClimateRecord.KIND:
        return None
    if isinstance(record, ClimateRecord):
        return record.station_id
    return ClimateRecord.objects.filter(pk=record.pk).values_list("station", flat=True).first()


def read_for(area: Any, *also: Q) -> QuerySet[Any]:
    """The areas, given by ids or as the outer row's, with each of the `station__readings` that served them, if it
    stands and counts and all else asked of it is true as well.

    All is asked in one `filter`, since a second one would ask it of some other reading of the station.
    """
    how = "area" if isinstance(area, OuterRef) else "area__in" if isinstance(area, QuerySet) else "area__among"
    which = {how: list(area) if how == "area__among" else area}
    found: QuerySet[Any] = StationArea.objects.filter(
        Q(ended_at=None) | Q(ended_at__gt=F("station__readings__taken_at")),
        *also,
        begun_at__lte=F("station__readings__taken_at"),
        station__readings__replaced_by=None,
        station__readings__purpose__in=COUNTING,
        **which,
    )
    return found.order_by()


def served_areas(station: UUID, at: datetime) -> QuerySet[InspectionArea]:
    """The areas that a station serves at the moment, in the order of their codes."""
    serving = StationArea.objects.filter(station=station).at(at)
    return InspectionArea.objects.filter(pk__in=serving.order_by().values("area")).order_by("code", "pk")


def newest_read(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Of `read_for` rows, the newest reading of each area and coat, with the area's system and the coat's."""
    newest = Window(
        RowNumber(),
        partition_by=[F("area"), F("station__readings__coat")],
        order_by=[F("station__readings__taken_at").desc(), F("station__readings__pk").desc()],
    )
    named: QuerySet[Any] = rows.annotate(
        place=newest, coat=F("station__readings__coat"), at=F("station__readings__taken_at"),
        record=F("station__readings__pk"), has=F("area__system"), of=F("station__readings__coat__system"),
    ).filter(place=1)  # fmt: skip
    return named.values_list("area_id", "coat", "at", "record", "has", "of")


def climate_of(
    areas: Iterable[UUID], coats: Iterable[UUID | None], *, for_no_coat: bool = False
) -> dict[tuple[UUID, UUID | None], list[Any]]:
    """By area and coat, the climate records that count there, oldest first; three reads however many there are.

    With `for_no_coat` also those that were taken for no coat, under None.
    """
    wanted, asked = set(areas), set(coats) - {None}
    which = Q(coat__in=asked) | Q(coat=None) if for_no_coat else Q(coat__in=asked)
    rows = ClimateRecord.objects.filter(which).current().that_count().select_related("taken_by", "station")
    found: dict[tuple[UUID, UUID | None], list[Any]] = defaultdict(list)
    for row in rows.filter(area__in=wanted, station=None):
        found[row.area_id, row.coat_id].append(row)
    serving = list(StationArea.objects.filter(area__in=wanted))
    by_station: dict[UUID, list[Any]] = defaultdict(list)
    if serving:
        for row in rows.filter(station__in={each.station_id for each in serving}):
            by_station[row.station_id].append(row)
    for each in serving:
        for row in by_station[each.station_id]:
            if each.holds_at(row.taken_at):
                found[each.area_id, row.coat_id].append(row)
    for listed in found.values():
        listed.sort(key=lambda row: (row.taken_at, row.pk))
    return found
