"""Reads of climate stations. They start from what the person may see."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from uuid import UUID

from django.db.models import Count, F, Max, Q, QuerySet

from accounts.models import Person
from inspection.fieldwork.models import ClimateRecord
from inspection.projects.models import InspectionArea, Project, Station, StationArea


@dataclass(frozen=True)
class Shown:
    """A station with how many areas it serves that the person may see, and its newest readings, one a coat."""

    station: Station
    areas: int
    newest: tuple[ClimateRecord, ...]
    in_force: bool

    @property
    def until(self) -> datetime | None:
        return self.newest[0].taken_at + self.station.holds_for if self.newest else None


def stations_seen(person: Person) -> QuerySet[Station]:
    return Station.objects.visible_to(person).select_related("project")


def stations_of(person: Person, project: Project, at: datetime) -> list[Shown]:
    """The project's stations in use, then those that ended; three reads however many."""
    rows = stations_seen(person).filter(project=project)
    return shown(person, list(rows.order_by(F("ended_at").asc(nulls_first=True), "code")), at)


def shown(person: Person, stations: Iterable[Station], at: datetime) -> list[Shown]:
    found = {station.pk: station for station in stations}
    seen = InspectionArea.objects.visible_to(person)
    serving = StationArea.objects.filter(station__in=found, area__in=seen, ended_at=None).order_by()
    many = dict(serving.values_list("station").annotate(many=Count("pk")))
    counting = Q(readings__replaced_by=None)
    last = dict(
        Station.objects.filter(pk__in=found).order_by().annotate(last=Max("readings__taken_at", filter=counting))
        .values_list("pk", "last")
    )  # fmt: skip
    wanted = Q(pk__in=[])
    for pk, moment in last.items():
        if moment is not None:
            wanted |= Q(station=pk, taken_at=moment)
    newest: dict[UUID, list[ClimateRecord]] = {}
    rows = (
        ClimateRecord.objects.filter(wanted).current().select_related("coat__system", "station").order_by("coat__order")
    )
    for row in rows:
        newest.setdefault(row.station_id, []).append(row)
    return [
        Shown(
            station, many.get(pk, 0), tuple(newest.get(pk, ())),
            last[pk] is not None and last[pk] + station.holds_for >= at and station.ended_at is None,
        )
        for pk, station in found.items()
    ]  # fmt: skip


def readings_listed(station: Station) -> QuerySet[ClimateRecord]:
    """What was read at it, newest first, without versions that were replaced."""
    rows = ClimateRecord.objects.filter(station=station).current().select_related("coat__system", "taken_by", "station")
    return rows.defer("inputs", "result").newest_first()


def unread(moments: Iterable[datetime], holds_for: timedelta) -> list[tuple[datetime, datetime]]:
    """The times between readings in which the one before no longer counted."""
    return [(one + holds_for, other) for one, other in pairwise(sorted(set(moments))) if other - one > holds_for]


def areas_served(person: Person, station: Station) -> QuerySet[InspectionArea]:
    serving = StationArea.objects.filter(station=station, ended_at=None).order_by().values("area")
    return InspectionArea.objects.visible_to(person).filter(pk__in=serving).select_related("structure").order_by("code")
