"""What rooms below are told of areas whose failing measurement holds together with a repaired part."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Exists, F, OuterRef, QuerySet, Subquery, UUIDField
from django.dispatch import receiver

from inspection.fieldwork.models import Record
from inspection.fieldwork.signals import carried_asked, repair_asked
from inspection.nonconformance.models import Nonconformance, Remainder
from inspection.projects.models import Project
from inspection.works.lots.progress import Told
from inspection.works.signals import progress_asked


def _carrying() -> QuerySet[Remainder]:
    """The rests that pass, of nonconformances that the newest measurement of their part has closed."""
    rests: QuerySet[Remainder] = Remainder.objects.filter(
        verdict=Record.Verdict.PASS, repaired__undone_at=None,
        repaired__nonconformance__state=Nonconformance.State.CLOSED,
        repaired__nonconformance__closing_record__area=F("repaired__part"),
    )  # fmt: skip
    return rests


@receiver(carried_asked, dispatch_uid="nonconformance")
def carried_with_a_part(sender: Any, **sent: Any) -> Exists:
    return Exists(_carrying().filter(record=OuterRef("last_record")))


@receiver(repair_asked, dispatch_uid="nonconformance")
def part_beside(sender: Any, **sent: Any) -> Subquery:
    """Only where the rest of the area passes; else the whole of it is measured again."""
    passing = Remainder.objects.filter(verdict=Record.Verdict.PASS, repaired__undone_at=None)
    rests = passing.filter(record=OuterRef("last_record"))
    return Subquery(rests.values("repaired__part")[:1], output_field=UUIDField())


@receiver(progress_asked, dispatch_uid="nonconformance")
def inspected_with_a_part(sender: Any, project: Project, until: datetime | None, **sent: Any) -> Told:
    """Such an area is inspected since its part was measured."""
    rests = _carrying().filter(repaired__nonconformance__project=project, record__replaced_by=None)
    rests = rests.filter(record__latest__area=F("record__area"), record__latest__coat=F("record__coat"))
    measured = "repaired__nonconformance__closing_record__taken_at"
    if until:
        rests = rests.filter(**{f"{measured}__lt": until})
    found = Told()
    for area, coat, at in rests.values_list("record__area", "record__coat", measured):
        found.inspected[area, coat] = at
    return found
