"""How old a nonconformance is, who is told at which age, and which corrective actions are overdue.

Ages of 3, 7 and 14 days: common practice, no source. A day is the project's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from accounts import journal, tidings
from accounts.models import JournalEntry, Person, Role
from inspection.nonconformance.letters import AGED, Members, holders, members, told_of
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.queries import JOINED, PLACE
from inspection.projects.models import Project

State = Nonconformance.State
# By the age in days, who of the project is told besides the quality managers; the last also tells the administrators.
TOLD_AT: dict[int, tuple[Role, ...]] = {
    3: (Role.INSPECTOR, Role.CONTRACTOR),
    7: (Role.INSPECTOR, Role.CONTRACTOR, Role.CLIENT),
    14: (Role.INSPECTOR, Role.CONTRACTOR, Role.CLIENT),
}
LAST = max(TOLD_AT)
TOLD = "nonconformance.aged"


@dataclass(frozen=True)
class Step:
    """One age that a nonconformance has come to: when it was told, and to how many; None while it is still to come."""

    days: int
    told_at: datetime | None
    many: int


def reached(row: Nonconformance, at: datetime) -> int | None:
    """The highest of the ages that it has come to, or None."""
    return max((days for days in TOLD_AT if row.age(at) >= days), default=None)


def todays(at: datetime) -> dict[str, date]:
    """By time zone of a project, which day it is there."""
    zones = Project.objects.order_by().values_list("time_zone", flat=True).distinct()
    return {zone: at.astimezone(Project(time_zone=zone).zone).date() for zone in zones}


def overdue_at(at: datetime) -> QuerySet[Disposition]:
    """Corrective actions due before their project's today that are not done, the longest overdue first."""
    done = Disposition.objects.filter(about=OuterRef("pk"), kind=Disposition.Kind.COMPLETED, withdrawn_by=None)
    late = Q(pk=None)
    for zone, day in todays(at).items():
        late |= Q(nonconformance__project__time_zone=zone, due__lt=day)
    rows = Disposition.objects.filter(late, kind=Disposition.Kind.ACTION, withdrawn_by=None)
    rows = rows.filter(~Exists(done)).select_related(*(f"nonconformance__{name}" for name in PLACE))
    return rows.order_by("due", "pk")


@transaction.atomic
def escalate(at: datetime | None = None) -> int:
    """Tell of each age that an open or drafted one has come to, and of each overdue action, once; how many are new.

    After days without a worker only the highest age is told. Of a draft only the quality managers are told. What was
    told stands in the journal, also where everybody concerned reads the pages only.
    """
    at = at or timezone.now()
    waiting = Nonconformance.objects.exclude(state=State.CLOSED)
    aged = {row.pk for row in waiting.select_related("project") if reached(row, at) is not None}
    late = {entry.nonconformance_id for entry in overdue_at(at)}
    # Held, so that a second worker waits and then finds them told.
    held = Nonconformance.objects.filter(pk__in=aged | late).select_for_update(of=("self",), no_key=True)
    rows = {row.pk: row for row in held.select_related(*JOINED).order_by("pk")}
    told = _told(rows)
    actions = [entry for entry in overdue_at(at).select_related("person") if str(entry.pk) not in told]
    ages = {
        pk: days for pk, row in rows.items() if pk in aged and (days := reached(row, at)) and (pk, days) not in told
    }
    if not ages and not actions:
        return 0
    concerned = members(rows[pk] for pk in {*ages, *(entry.nonconformance_id for entry in actions)})
    for pk, days in ages.items():
        _tell_age(rows[pk], concerned[pk], days, at)
    for entry in actions:
        _tell_overdue(rows[entry.nonconformance_id], concerned[entry.nonconformance_id], entry)
    return len(ages) + len(actions)


def _tell_age(row: Nonconformance, concerned: Members, days: int, at: datetime) -> None:
    people = holders(Role.QUALITY_MANAGER)
    if row.state == State.OPEN:
        people += concerned.of(row, *TOLD_AT[days])
        people += holders(Role.ADMINISTRATOR) if days == LAST else []
    words = f"is {'a draft' if row.state == State.DRAFT else 'open'} for {row.age(at)} days"
    tidings.tell_all(AGED, told_of(row, f"{row.pk}:{days}", words, people))
    after = {"days": days, "people": len(set(people))}
    journal.record(TOLD, row, by=None, project_id=row.project_id, after=after)


def _tell_overdue(row: Nonconformance, concerned: Members, entry: Disposition) -> None:
    people = holders(Role.QUALITY_MANAGER) + concerned.of(row, *TOLD_AT[min(TOLD_AT)])
    people += [entry.person] if entry.person and entry.person.is_active else []
    more = f"{entry.text}\n{entry.done_by} was to have it done by {entry.due}.\n"
    about = f"{entry.pk}:overdue"
    tidings.tell_all(AGED, told_of(row, about, "has a corrective action overdue", people, more=more))
    after = {"action": str(entry.pk), "people": len(set(people))}
    journal.record(TOLD, row, by=None, project_id=row.project_id, after=after)


def _entries(rows: Iterable[UUID]) -> QuerySet[JournalEntry]:
    label = Nonconformance._meta.label_lower
    return JournalEntry.objects.filter(object_type=label, object_id__in=[str(pk) for pk in rows], verb=TOLD)


def _told(rows: Iterable[UUID]) -> set[Any]:
    """What was told already: a nonconformance with its age, or the id of an action."""
    found = [(UUID(pk), after or {}) for pk, after in _entries(rows).values_list("object_id", "after")]
    return {after.get("action") or (pk, after.get("days")) for pk, after in found}


def steps_of(row: Nonconformance, at: datetime) -> list[Step]:
    """Each age that it came to or is to come to, with whether and when it was told; for its page, in one query."""
    told = {(entry.after or {}).get("days"): entry for entry in _entries([row.pk])}
    return [
        Step(days, told[days].at, (told[days].after or {}).get("people", 0)) if days in told else Step(days, None, 0)
        for days in TOLD_AT
        if days in told or (row.state != State.CLOSED and row.age(at) < days)
    ]


def overdue(person: Person, at: datetime) -> QuerySet[Disposition]:
    """Those of them in the person's sight."""
    seen = Nonconformance.objects.visible_to(person).order_by().values("pk")
    return overdue_at(at).filter(nonconformance__in=seen)
