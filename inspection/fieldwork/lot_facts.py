"""What this room tells of lots: the climate that was recorded where they are."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from fractions import Fraction
from itertools import chain
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.dispatch import receiver

from inspection.fieldwork.models import ClimateRecord, Latest, Record, ThicknessRecord
from inspection.fieldwork.served import read_for
from inspection.projects.models import Project
from inspection.works.climate_told import ClimateTold
from inspection.works.lots.progress import Told
from inspection.works.signals import climate_asked, progress_asked


@receiver(climate_asked, dispatch_uid="fieldwork")
def climate_there(
    sender: Any, areas: Collection[UUID], since: datetime, until: datetime | None, **sent: Any
) -> list[ClimateTold]:
    wanted = list(areas)
    rows = ClimateRecord.objects.filter(area__among=wanted, taken_at__gte=since, replaced_by=None, station=None)
    rows = rows.exclude(purpose=Record.Purpose.INVESTIGATION).order_by()
    then = Q(station__readings__taken_at__gte=since)
    if until:
        rows, then = rows.filter(taken_at__lte=until), then & Q(station__readings__taken_at__lte=until)
    columns = ("taken_at", "surface_c", "coat", "verdict")
    found = chain(
        rows.values_list("area", *columns),
        read_for(wanted, then).values_list("area", *(f"station__readings__{name}" for name in columns)),
    )
    return [
        ClimateTold(area, at, Fraction(steel), coat, verdict == Record.Verdict.PASS)
        for area, at, steel, coat, verdict in found
    ]


def _stood(project: Project, until: datetime) -> Iterable[tuple[Any, ...]]:
    """Of each place what stood at the moment: the newest taken before it that counts, in the version of now."""
    rows = ThicknessRecord.objects.filter(project=project, taken_at__lt=until).current().that_count()
    columns = rows.order_by("taken_at", "pk").values_list("area", "coat", "taken_at", "verdict", "mean_nm")
    return {row[:2]: row for row in columns}.values()


@receiver(progress_asked, dispatch_uid="fieldwork")
def measured_there(sender: Any, project: Project, until: datetime | None, **sent: Any) -> Told:
    """The thickness that stands at each place, or stood at a moment: when it passed, if it did, and its mean."""
    columns = ("area", "coat", "record__taken_at", "record__verdict", "record__thicknessrecord__mean_nm")
    rows: Iterable[tuple[Any, ...]] = (
        Latest.objects.filter(kind=ThicknessRecord.KIND, record__project=project).values_list(*columns)
        if until is None
        else _stood(project, until)
    )
    found = Told()
    for area, coat, at, verdict, mean in rows:
        if mean is not None:
            found.mean_nm[area, coat] = float(mean)
        if verdict == Record.Verdict.PASS:
            found.inspected[area, coat] = at
    return found
