"""What loggers noted for areas while their stations served them: read for many areas and times at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inspection.fieldwork.climate.logger_files import Window, judged
from inspection.fieldwork.climate.models import LoggerFile
from inspection.projects.models import Coat, StationArea

Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class ServedLog:
    """The files of a station that served an area, in the order in which they came."""

    serving: StationArea
    files: tuple[LoggerFile, ...]

    def over(self, begins: datetime, ends: datetime, coat: Coat) -> Window | None:
        """What it noted for the coat within a time, while the station served the area; None where nothing."""
        begins = max(begins, self.serving.begun_at)
        ends = min(ends, self.serving.ended_at or ends)
        files = tuple(file for file in self.files if file.first_at < ends and file.last_at > begins)
        return judged(files, begins, ends, coat) if ends > begins else None


def logs_of(areas: Iterable[UUID], spans: Sequence[Span]) -> dict[UUID, list[ServedLog]]:
    """By area what reaches into one of the times; no more than three reads, however many areas, times and files."""
    if not spans:
        return {}
    since, until = min(begins for begins, _ in spans), max(ends for _, ends in spans)
    serving = list(
        StationArea.objects.filter(area__among=list(areas), begun_at__lt=until)
        .exclude(ended_at__lte=since).select_related("station__project").order_by("begun_at", "pk")
    )  # fmt: skip
    if not serving:
        return {}
    stations = {each.station_id for each in serving}
    there = LoggerFile.objects.that_count().filter(station__in=stations, first_at__lt=until, last_at__gt=since)
    wanted = [
        pk for pk, first, last in there.order_by().values_list("pk", "first_at", "last_at")
        if any(first < ends and last > begins for begins, ends in spans)
    ]  # fmt: skip
    if not wanted:
        return {}
    files: dict[UUID, list[LoggerFile]] = defaultdict(list)
    for file in LoggerFile.objects.filter(pk__among=wanted).order_by("received_at", "pk"):
        files[file.station_id].append(file)
    found: dict[UUID, list[ServedLog]] = defaultdict(list)
    for each in serving:
        if each.station_id in files:
            found[each.area_id].append(ServedLog(each, tuple(files[each.station_id])))
    return found
