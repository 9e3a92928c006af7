"""What a report tells of corrections to records, and of readings that were voided."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any

from django.db.models import Q

from inspection.fieldwork.kinds import KINDS, kind_of
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.foundation.units import Unit, in_unit
from inspection.projects.models import Project
from reports.daily.facts import Correction
from reports.daily.parts import Part
from reports.daily.records import Readings, Shown, records_of


def corrections_told(project: Project, of: Part, of_part: Sequence[Any], readings: Readings) -> tuple[Correction, ...]:
    """Corrections to the part's records, corrections entered in it to those of other days, and voided readings.

    What another shift of the day recorded is corrected in that shift's paper, whenever that was: it is told once.
    """
    entered = Q(replaces__isnull=False, received_at__gte=of.begins, received_at__lt=of.ends)
    of_days = entered & ~Q(taken_at__gte=of.day_begins, taken_at__lt=of.day_ends)
    told = [kind for kind in KINDS if of.tells(kind.discipline)]
    rows = [*of_part, *chain(*(records_of(kind.model, project, of_days) for kind in told))]
    found = [_correction(row, project.unit) for row in rows if row.replaces_id]
    for row in of_part:
        for reading in readings.get(row.pk, ()) if not hasattr(row, "replaced_by") else ():
            if reading.void_reason:
                found.append(_voided(row, reading, project.unit))
    return tuple(found)


def _correction(row: Any, unit: str) -> Correction:
    place = f"{row.area.label}, {row.coat.name}" if row.coat else row.area.label
    return Correction(
        what=f"{kind_of(row).title} of {place}",
        change=f"{_outcome(getattr(row.replaces, row._meta.model_name), unit)}, became {_outcome(row, unit)}",
        reason=row.replacement_reason,
        by=row.by_name,
        at=row.received_at,
    )


def _outcome(row: Any, unit: str) -> str:
    verdict = row.get_verdict_display().lower()
    if isinstance(row, ClimateRecord):
        return f"margin {row.margin_c:.1f} °C, {verdict}".replace("-", "−")
    if not isinstance(row, ThicknessRecord):
        return f"{kind_of(row).sentence(row)}, {verdict}"
    mean = "no mean" if row.mean_nm is None else f"mean {in_unit(row.mean_nm, unit)} {Unit(unit).label}"
    return f"{mean}, {verdict}"


def _voided(row: ThicknessRecord, reading: Shown, unit: str) -> Correction:
    shown = f"{in_unit(reading.value_nm, unit)} {Unit(unit).label}"
    return Correction(
        what=f"Thickness of {row.area.label}, {row.coat.name}",
        change=f"spot {reading.spot}, reading {reading.order} ({shown}) voided",
        reason=reading.void_reason,
        by=row.by_name,
        at=None,
    )
