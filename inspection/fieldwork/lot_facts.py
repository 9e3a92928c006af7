"""What this room tells of lots: the climate that was recorded where they are."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.dispatch import receiver

from inspection.fieldwork.models import ClimateRecord, Latest, Record, ThicknessRecord
from inspection.projects.models import Project
from inspection.works.climate_told import ClimateTold
from inspection.works.progress import Told
from inspection.works.signals import climate_asked, progress_asked


@receiver(climate_asked, dispatch_uid="fieldwork")
def climate_there(
    sender: Any, areas: Collection[UUID], since: datetime, until: datetime | None, **sent: Any
) -> list[ClimateTold]:
    rows = ClimateRecord.objects.filter(area__among=list(areas), taken_at__gte=since, replaced_by=None)
    if until:
        rows = rows.filter(taken_at__lte=until)
    rows = rows.exclude(purpose=Record.Purpose.INVESTIGATION)
    return [
        ClimateTold(area, at, Fraction(steel), coat, verdict == Record.Verdict.PASS)
        for area, at, steel, coat, verdict in rows.order_by().values_list(
            "area", "taken_at", "surface_c", "coat", "verdict"
        )
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
