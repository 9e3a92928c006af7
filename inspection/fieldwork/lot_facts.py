"""What this room tells of lots: the climate that was recorded where they are."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from fractions import Fraction
from itertools import chain
from typing import Any
from uuid import UUID

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
    read = read_for(wanted).filter(station__readings__taken_at__gte=since)
    if until:
        rows, read = rows.filter(taken_at__lte=until), read.filter(station__readings__taken_at__lte=until)
    columns = ("taken_at", "surface_c", "coat", "verdict")
    found = chain(
        rows.values_list("area", *columns),
        read.values_list("area", *(f"station__readings__{name}" for name in columns)),
    )
    return [
        ClimateTold(area, at, Fraction(steel), coat, verdict == Record.Verdict.PASS)
        for area, at, steel, coat, verdict in found
    ]


@receiver(progress_asked, dispatch_uid="fieldwork")
def measured_there(sender: Any, project: Project, **sent: Any) -> Told:
    """The thickness that stands at each place: when it passed, if it did, and its mean."""
    stands = Latest.objects.filter(kind=ThicknessRecord.KIND, record__project=project)
    rows = stands.values_list("area", "coat", "record__taken_at", "record__verdict", "record__thicknessrecord__mean_nm")
    found = Told()
    for area, coat, at, verdict, mean in rows:
        if mean is not None:
            found.mean_nm[area, coat] = float(mean)
        if verdict == Record.Verdict.PASS:
            found.inspected[area, coat] = at
    return found
