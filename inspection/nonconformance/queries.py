"""Reads of nonconformances: those in sight, who may do what about them, and what is still missing."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, cast
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery

from accounts.models import Organisation, Person, Role
from inspection.nonconformance.models import Disposition, ExtentSpot, Nonconformance
from inspection.nonconformance.sayings import SAYINGS, last_recorded, not_yet, said_of
from inspection.nonconformance.settling import facts_of, in_force
from inspection.projects.models import Membership

# What the words of its place are made of.
PLACE = ("project", "area__structure", "coat", "lot", "batch", "gauge")
JOINED = (*PLACE, "asked__organisation", "raised_by", "closed_by")


def may_concede(person: Person, nonconformance: Nonconformance) -> bool:
    """A concession is the client's to sign; a quality manager records one only while nobody of theirs takes part."""
    theirs = Membership.objects.in_force().filter(
        project=nonconformance.project_id, role=Role.CLIENT, person__is_active=True
    )
    if person.has_role(Role.CLIENT) and theirs.filter(person=person).exists():
        return True
    return person.has_role(Role.QUALITY_MANAGER) and not theirs.exists()


def kinds_taken_back_by(person: Person, nonconformance: Nonconformance) -> set[str]:
    """Which kinds of entry on a nonconformance the person may take back: those they may make."""
    may = {
        Disposition.Kind.REWORK: person.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER),
        Disposition.Kind.CONCESSION: person.has_role(Role.QUALITY_MANAGER) or may_concede(person, nonconformance),
        Disposition.Kind.CLOSURE: person.has_role(Role.QUALITY_MANAGER),
        Disposition.Kind.ANSWER: person.has_role(Role.CONTRACTOR, Role.CLIENT),
        Disposition.Kind.ISSUED: person.has_role(Role.QUALITY_MANAGER),
        **{saying.kind: person.has_role(*saying.roles) for saying in SAYINGS.values()},
    }
    return {kind.value for kind, allowed in may.items() if allowed}


def may_take_back(person: Person, entry: Disposition, kinds: set[str]) -> bool:
    """Whether the person may take the entry back, of the kinds they may; an answer only of their own organisation."""
    if entry.kind == Disposition.Kind.ANSWER and entry.person:
        return entry.kind in kinds and entry.person.organisation_id == person.organisation_id
    return entry.kind in kinds


def nonconformances(person: Person, *, project: UUID | None = None, state: str = "") -> QuerySet[Nonconformance]:
    rows = cast("QuerySet[Nonconformance]", Nonconformance.objects.visible_to(person))
    if project:
        rows = rows.filter(project=project)
    if state:
        rows = rows.filter(state=state)
    return rows.select_related(*JOINED).order_by("-state", "-raised_at")


def dispositions(person: Person) -> QuerySet[Disposition]:
    """What was done and decided about the nonconformances a person sees, oldest first."""
    seen = Nonconformance.objects.visible_to(person)
    rows = entries_shown_to(person).filter(nonconformance__in=seen.order_by().values("pk"))
    return rows.select_related(*(f"nonconformance__{name}" for name in PLACE), "withdrawn_by")


def entries_shown_to(person: Person) -> QuerySet[Disposition]:
    """Without, for a painting contractor's people, what another contractor answered."""
    rows = Disposition.objects.all()
    if person.is_contractors:
        answers = Q(kind=Disposition.Kind.ANSWER) | Q(withdraws__kind=Disposition.Kind.ANSWER)
        told = Q(person__organisation=person.organisation_id)
        rows = rows.filter(~answers | told | ~Q(person__organisation__kind=Organisation.Kind.CONTRACTOR))
    return rows


def dispositions_of(row: Nonconformance, person: Person) -> QuerySet[Disposition]:
    rows = entries_shown_to(person).filter(nonconformance=row)
    return rows.select_related("withdrawn_by", "withdraws", "about", "person")


def conceded_on(areas: QuerySet[Any]) -> set[UUID]:
    """The failing measurements on these areas that a concession in force accepts, in one query."""
    about = {"nonconformance__area__in": areas, "nonconformance__record__isnull": False}
    given = in_force({**about, "kind": Disposition.Kind.CONCESSION})
    return {UUID(pk) for entry in given for pk in entry.covers}


def extent_spots(person: Person) -> QuerySet[ExtentSpot]:
    """The spots of the searches in sight, those taken back too; none of them is a painting contractor's to read."""
    rows: QuerySet[ExtentSpot] = ExtentSpot.objects.visible_to(person)
    return rows.select_related("measured_by", "withdrawn_by", *(f"nonconformance__{name}" for name in PLACE))


def of_record(rows: QuerySet[Nonconformance], record: UUID) -> QuerySet[Nonconformance]:
    """Those that a record raised or closed, also where it is a correction of the one that did."""
    return rows.filter(Q(record=record) | Q(closing_record=record) | Q(record__replaced_by=record))


def awaiting_another(rows: QuerySet[Nonconformance]) -> QuerySet[Nonconformance]:
    """Those that `sayings.awaits_another` finds, in one statement."""
    kinds, entries = Disposition.Kind, Disposition.objects.filter(nonconformance=OuterRef("pk"), withdrawn_by=None)
    reworked = entries.filter(kind=kinds.REWORK).order_by("-at", "-pk")
    confirmed = entries.filter(kind=kinds.CONFIRMED, at__gte=OuterRef("closed_at"))
    rows = rows.filter(state=Nonconformance.State.CLOSED, closing_record__isnull=False)
    rows = rows.annotate(reworked_by=Subquery(reworked.values("person")[:1]))
    return rows.filter(~Exists(confirmed), reworked_by=F("closing_record__taken_by"))


def with_grade(rows: QuerySet[Nonconformance]) -> QuerySet[Nonconformance]:
    """With the class of each that was given last and not taken back, as `grade`."""
    given = Disposition.objects.filter(
        nonconformance=OuterRef("pk"), kind=Disposition.Kind.GRADE, withdrawn_by=None
    ).order_by("-at", "-pk")
    return rows.annotate(grade=Subquery(given.values("choice")[:1]))


def missing_of(rows: Iterable[Nonconformance]) -> dict[UUID, list[str]]:
    """By open nonconformance, what has to happen before it closes, a sentence each; rows with their projects."""
    rows = [row for row in rows if row.state == Nonconformance.State.OPEN]
    by_hand = [row for row in rows if not row.record_id]
    said = said_of(row.pk for row in by_hand)
    recorded = last_recorded(row.area_id for row in by_hand if row.area_id)
    places = {row.pk: (row.area_id, row.coat_id) for row in rows if row.record_id and row.area_id and row.coat_id}
    facts = facts_of(set(places.values()))
    return {
        row.pk: (
            facts[places[row.pk]].missing(row.project) if row.pk in places else _by_hand(row, said[row.pk], recorded)
        )
        for row in rows
    }


def _by_hand(row: Nonconformance, entries: list[Disposition], recorded: dict[UUID, datetime]) -> list[str]:
    at = recorded.get(row.area_id) if row.area_id else None
    return not_yet(row, entries, at) or ["A quality manager looks at it and closes it."]
