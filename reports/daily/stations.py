"""What a day's report tells of climate stations: how often each was read, and what its logger says of the day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db.models import Count

from inspection.fieldwork.climate.logger_files import judged
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.station_queries import unread
from inspection.fieldwork.models import ClimateRecord
from inspection.projects.models import Coat, Project, Station, StationArea
from reports.daily.facts import LoggedDay, StationDay

HOUR_S = 3600
USUAL = "the usual margin"


def stations_told(
    project: Project, climates: Sequence[ClimateRecord], begins: datetime, ends: datetime
) -> tuple[StationDay, ...]:
    """The stations that were read or logged in the day; four reads however many there are."""
    read: dict[UUID, list[ClimateRecord]] = defaultdict(list)
    for record in climates:
        if record.station_id:
            read[record.station_id].append(record)
    files: dict[UUID, list[LoggerFile]] = defaultdict(list)
    rows: Any = LoggerFile.objects.filter(station__project=project, first_at__lt=ends, last_at__gt=begins)
    for file in rows.that_count().order_by("received_at", "pk"):
        files[file.station_id].append(file)
    wanted = {*read, *files}
    if not wanted:
        return ()
    serving = StationArea.objects.filter(station__in=wanted, begun_at__lt=ends).exclude(ended_at__lte=begins)
    serves = dict(serving.order_by().values_list("station").annotate(many=Count("area", distinct=True)))
    return tuple(
        _told(station, read[station.pk], tuple(files[station.pk]), serves.get(station.pk, 0), begins, ends)
        for station in Station.objects.filter(pk__in=wanted).order_by("code")
    )


def _told(
    station: Station, read: Sequence[ClimateRecord], files: tuple[LoggerFile, ...], serves: int, begins: datetime,
    ends: datetime,
) -> StationDay:  # fmt: skip
    moments = {record.taken_at for record in read}
    coats = {record.coat.pk: record.coat for record in read if record.coat}
    asked: list[Coat | None] = [*sorted(coats.values(), key=lambda coat: (coat.order, coat.name))]
    return StationDay(
        station=str(station), where=str(station.get_where_display()), serves=serves, readings=len(moments),
        unread=tuple(unread(moments, station.holds_for)), holds_h=station.holds_h,
        logged=tuple(_logged(files, coat, begins, ends) for coat in (asked or [None]) if files),
    )  # fmt: skip


def _logged(files: tuple[LoggerFile, ...], coat: Coat | None, begins: datetime, ends: datetime) -> LoggedDay:
    window = judged(files, begins, ends, coat)
    assert window is not None  # noqa: S101 - there are files
    share, longest = window.judged.all, window.judged.longest_breach
    margin = window.judged.found.get("margin_c")
    return LoggedDay(
        file=", ".join(file.file_name for file in files), limits=coat.told if coat else USUAL,
        within_h=share.within_s / HOUR_S, outside_h=share.outside_s / HOUR_S, unknown_h=share.unknown_s / HOUR_S,
        longest_breach_h=(longest[1] - longest[0]) / HOUR_S if longest else 0.0,
        breach_from=datetime.fromtimestamp(longest[0], UTC) if longest else None,
        least_margin_c=margin.least if margin else None,
    )  # fmt: skip
