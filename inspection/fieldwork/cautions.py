"""Cautions that a kind of test asks to be confirmed before its form opens; kept in the journal, by whom and when."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import JournalEntry, Person, Role
from accounts.rights import require
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight

if TYPE_CHECKING:
    from inspection.fieldwork.kind import RecordKind


def _verb(kind: str) -> str:
    return f"{kind}.cautions_confirmed"


@transaction.atomic
def confirm_cautions(by: Person, *, project: Project, kind: RecordKind) -> datetime:
    """Keep that the person confirms the kind's cautions for this project's day; again on a day it stays as it is."""
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to=f"record {kind.name}")
    in_sight(by, project)
    known = confirmed_at(by, project=project, kind=kind.name, day=project.day_of(timezone.now()))
    if known is None:
        cautions = kind.taken.cautions if kind.taken else ()
        journal.record(_verb(kind.name), project, by=by, project_id=project.pk, after={"cautions": list(cautions)})
        known = timezone.now()
    return known


def confirmed_at(by: Person, *, project: Project, kind: str, day: date) -> datetime | None:
    """When the person confirmed the cautions of a kind on the project's day; None where they did not."""
    begins, ends = project.day_bounds(day)
    entries = JournalEntry.objects.filter(
        object_type=Project._meta.label_lower, object_id=str(project.pk), verb=_verb(kind), actor=by,
        at__gte=begins, at__lt=ends,
    )  # fmt: skip
    found: datetime | None = entries.order_by("pk").values_list("at", flat=True).first()
    return found
