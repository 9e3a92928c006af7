"""What was recorded on an area that is about to change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.dispatch import receiver

from accounts.models import Person
from inspection.fieldwork.models import Record, Sheet, ThicknessRecord
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.signals import area_touched


@receiver(area_touched, dispatch_uid="fieldwork")
def recorded(sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    records = Record.objects.current().filter(area__in=areas)
    many, sheets = records.count(), Sheet.objects.filter(area__in=areas, closed_at=None).count()
    told = []
    if many and change != Change.RESTORED:
        told.append(_records(many, records.filter(kind=ThicknessRecord.KIND).count(), change))
    if sheets and change not in (Change.RESTORED, Change.RENAMED, Change.MOVED):
        under_way = "1 measurement is under way" if sheets == 1 else f"{sheets} measurements are under way"
        told.append(f"{under_way} there; what is finished is kept where it was begun.")
    return told


def _records(many: int, judged: int, change: Change) -> str:
    records = f"{many} record{'s' * (many > 1)}"
    if change == Change.MEASURED:
        verdicts = f", {judged} of thickness," if judged else ""
        return f"{records}{verdicts} stay as they were judged; what is recorded from now on is judged by the new size."
    if change in (Change.RENAMED, Change.MOVED):
        return f"{records} stay with the area and are shown under its new words; issued papers keep the former."
    return f"{records} stay where they were taken, with the verdicts and decisions they have."
