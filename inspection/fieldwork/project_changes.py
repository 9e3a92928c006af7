"""What becomes of records when their project's clock or unit is corrected."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db.models import Count
from django.dispatch import receiver

from inspection.fieldwork.models import Record
from inspection.projects.corrections import SHIFTS
from inspection.projects.models import Project
from inspection.projects.signals import project_touched


@receiver(project_touched, dispatch_uid="fieldwork")
def records_touched(
    sender: Any, project: Project, corrected: Project, changed: Collection[str], **sent: Any
) -> list[str]:
    told = []
    if not SHIFTS.isdisjoint(changed):
        told += _moved(project, corrected)
    if "unit" in changed and (many := Record.objects.filter(project=project).count()):
        shown = corrected.get_unit_display()
        told.append(f"{_records(many)} shown in {shown}; what is stored of them stays as it is.")
    return told


def _moved(project: Project, corrected: Project) -> list[str]:
    """How many records fall on another day of the project, and how many into another shift of its clock."""
    days = shifts = 0
    rows = Record.objects.filter(project=project).order_by().values_list("taken_at").annotate(Count("pk"))
    for at, many in rows.iterator():
        days += many * (project.day_of(at) != corrected.day_of(at))
        shifts += many * (project.shift_of(at) != corrected.shift_of(at))
    told = [f"{_records(days)} counted to another day."] if days else []
    if shifts:
        told.append(f"{_records(shifts)} in another shift of the project, unless a crew’s own shift holds them.")
    return told


def _records(many: int) -> str:
    return "1 record is" if many == 1 else f"{many} records are"
