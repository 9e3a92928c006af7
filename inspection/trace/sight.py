"""What a person may see in a trace: their projects' records, and whatever those rest on, wherever it was made."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any
from uuid import UUID

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet

from accounts.models import Person, Role
from inspection.fieldwork.models import Record
from inspection.instruments.models import (
    Certificate,
    Gauge,
    ReferenceStandard,
    StandardUse,
    Verification,
)
from inspection.projects.models import Project
from inspection.standing.models import Standing


def sees_all(person: Person) -> bool:
    return person.is_company and person.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER, Role.ADMINISTRATOR)


def verifications_seen(person: Person) -> QuerySet[Any]:
    """Those of the person's projects, and those of other projects that records of theirs rest on."""
    if sees_all(person):
        return Verification.objects.all()
    own = Project.objects.visible_to(person).values("pk")
    resting = Standing.objects.filter(record__project__in=own)
    seen = Verification.objects.filter(
        Q(project__in=own)
        | Exists(resting.filter(opening=OuterRef("pk")))
        | Exists(resting.filter(closing=OuterRef("pk")))
    )
    return seen.annotate(withheld=ExpressionWrapper(~Q(project__in=own), BooleanField()))


def words_withheld(check: Verification) -> bool:
    """Whether the check was made for another project than the reader's: its figures are told, and not what was written.

    A record may rest on it, and needs its figures; a note or a reason may speak of the other client's works.
    """
    return bool(getattr(check, "withheld", False))


def keep_to(project: UUID | None, rows: Iterable[Any]) -> Iterator[Any]:
    """The rows, with the words of checks withheld that were made for another project than the one named, if any is."""
    for row in rows:
        if project and isinstance(row, Verification) and row.project_id != project:
            row.withheld = True  # type: ignore[attr-defined]  # a mark on the row, read by words_withheld
        yield row


def project_of(thing: Any) -> UUID | None:
    """The one project a thing belongs to; None for instruments and their papers."""
    home = getattr(thing, "structure", None) or getattr(thing, "report", None) or thing
    return getattr(home, "project_id", None)


def gauges_seen(person: Person) -> QuerySet[Any]:
    if sees_all(person):
        return Gauge.objects.all()
    own = Project.objects.visible_to(person).values("pk")
    return Gauge.objects.filter(
        Exists(Record.objects.filter(gauge=OuterRef("pk"), project__in=own))
        | Exists(Verification.objects.filter(gauge=OuterRef("pk"), project__in=own))
    )


def standards_seen(person: Person) -> QuerySet[Any]:
    if sees_all(person):
        return ReferenceStandard.objects.all()
    uses = StandardUse.objects.filter(certified_value__standard=OuterRef("pk"))
    own = Project.objects.visible_to(person).values("pk")
    return ReferenceStandard.objects.filter(
        Exists(uses.filter(point__verification__project__in=own))
        | Exists(uses.filter(point__verification__opens__record__project__in=own))
        | Exists(uses.filter(point__verification__closes__record__project__in=own))
    )


def certificates_seen(person: Person) -> QuerySet[Any]:
    """Those that cover what the person may see, and two steps of those they are traceable to."""
    if sees_all(person):
        return Certificate.objects.all()
    covering = Certificate.objects.filter(
        Q(values__gauge__in=gauges_seen(person).order_by().values("pk"))
        | Q(values__standard__in=standards_seen(person).order_by().values("pk"))
    )
    ids = set(covering.values_list("pk", flat=True))
    for _ in range(2):
        ids |= set(Certificate.objects.filter(children__in=ids).values_list("pk", flat=True))
    return Certificate.objects.filter(pk__in=ids)
