"""What was recorded on an area that is about to change."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.dispatch import receiver

from accounts.models import Person
from inspection.fieldwork.models import Latest, Record, Sheet, ThicknessRecord
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea
from inspection.projects.signals import area_touched, coats_judged
from inspection.projects.steps import Judged


@receiver(area_touched, dispatch_uid="fieldwork")
def recorded(sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change, **sent: Any) -> list[str]:
    if change == Change.RESTORED:
        return []
    many = Record.objects.current().filter(area__in=areas).count()
    told = [_records(many, change)] if many else []
    sheets = Sheet.objects.filter(area__in=areas, closed_at=None).count()
    if sheets and change not in (Change.RENAMED, Change.MOVED):
        under_way = "1 measurement is under way" if sheets == 1 else f"{sheets} measurements are under way"
        told.append(f"{under_way} there; what is finished is kept where it was begun.")
    return told


def _records(many: int, change: Change) -> str:
    records, judged = ("1 record stays", "it was") if many == 1 else (f"{many} records stay", "they were")
    if change == Change.MEASURED:
        return f"{records} as {judged} judged; what is recorded from now on is judged by the new size."
    if change == Change.REVISED:
        return f"{records} as {judged} judged, each by the revision it was judged by."
    if change == Change.SYSTEM:
        return f"{records} as {judged} judged, by the coats of the former system; what is next follows the new one."
    if change in (Change.RENAMED, Change.MOVED):
        return f"{records} with the area, shown under its new words; issued papers keep the former."
    has = "with the verdict and the decisions it has" if many == 1 else "with the verdicts and decisions they have"
    return f"{records} where {judged} taken, {has}."


@receiver(coats_judged, dispatch_uid="fieldwork")
def judged_there(
    sender: Any, coats: Sequence[UUID], areas: Collection[UUID] | None, since: datetime | None, **sent: Any
) -> Judged:
    """Judged is a coat whose thickness passed or failed; begun, one of which anything is recorded or under way."""
    there = Latest.objects.filter(coat__in=coats, **({} if areas is None else {"area__among": list(areas)}))
    stands = there.filter(kind=ThicknessRecord.KIND)
    verdicts = (Record.Verdict.PASS, Record.Verdict.FAIL)
    rows = stands.filter(record__verdict__in=verdicts).values_list("area", "coat", "record__taken_at")
    when = {(area, coat): at for area, coat, at in rows if coat}
    # A station's reading tells of no single area that its coat was begun.
    begun = set(there.filter(record__climaterecord__station=None).values_list("area", "coat"))
    begun |= set(Sheet.objects.filter(coat__in=coats, closed_at=None).values_list("area", "coat"))
    if since and coats:
        steel = Record.objects.current().filter(coat=None, taken_at__gte=since, area__system__coats=coats[0])
        begun |= {(area, coats[0]) for area in steel.values_list("area", flat=True)}
    return Judged(set(when), begun, when)
