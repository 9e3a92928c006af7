"""Reads of crews and shifts. They start from what the person may see."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db.models import F, Q, QuerySet

from accounts.models import Person, Role
from inspection.projects.models import Project
from inspection.works.models import Crew, CrewPerson, Shift
from inspection.works.shifts import EARLY


@dataclass
class CrewNow:
    """A crew with who is in it at the moment, the shift that holds the moment or is next, and who may tap."""

    crew: Crew
    people: list[CrewPerson] = field(default_factory=list)
    shift: Shift | None = None
    may_tap: bool = False

    @property
    def may_begin(self) -> bool:
        return self.may_tap and not (self.shift and self.shift.is_under_way)

    @property
    def may_end(self) -> bool:
        return self.may_tap and bool(self.shift and self.shift.is_under_way)


def crews_of(person: Person, project: Project, at: datetime) -> list[CrewNow]:
    """The project's crews in use and then those that ended; three reads however many there are."""
    rows = Crew.objects.visible_to(person).filter(project=project).select_related("project", "party__organisation")
    return _now(person, list(rows.order_by(F("ended_at").asc(nulls_first=True), "name")), at)


def own_crews(person: Person, projects: Iterable[UUID], at: datetime) -> dict[UUID, CrewNow]:
    """By project id, the crew that the person is in at the moment."""
    mine = CrewPerson.objects.at(at).filter(person=person, crew__project__in=list(projects))
    rows = Crew.objects.visible_to(person).in_use().filter(pk__in=mine.values("crew")).select_related("project")
    return {each.crew.project_id: each for each in _now(person, list(rows), at)}


def _now(person: Person, crews: list[Crew], at: datetime) -> list[CrewNow]:
    manages = person.has_role(Role.QUALITY_MANAGER)
    found = {crew.pk: CrewNow(crew, may_tap=manages and not crew.ended_at) for crew in crews}
    if not found:
        return []
    for part in CrewPerson.objects.at(at).filter(crew__in=found).select_related("person").order_by("person__name"):
        of = found[part.crew_id]
        of.people.append(part)
        of.may_tap |= part.person_id == person.pk and not of.crew.ended_at
    # The nearest to come at the end, so that one that holds the moment takes its place.
    near = Shift.objects.that_hold().filter(crew__in=found, ends_at__gt=at, begins_at__lte=at + 2 * EARLY)
    for shift in near.filter(ended_at=None).order_by("-begins_at"):
        now = found[shift.crew_id]
        if now.shift is None or not now.shift.is_under_way:
            shift.crew = now.crew
            now.shift = shift
    return list(found.values())


def parts_of(crew: Crew) -> QuerySet[CrewPerson]:
    """Everybody who is, was or will be in the crew, those who are in it or come first."""
    return crew.people.select_related("person").order_by(
        F("ended_at").desc(nulls_first=True), "begun_at", "person__name"
    )


def shifts_listed(crew: Crew) -> QuerySet[Shift]:
    return crew.shifts.order_by("-begins_at", "pk")


def shifts_seen_by(person: Person) -> QuerySet[Shift]:
    return Shift.objects.visible_to(person).select_related("crew__project")


def crews_seen_by(person: Person) -> QuerySet[Crew]:
    rows = Crew.objects.visible_to(person).select_related("project", "party__organisation")
    return rows.prefetch_related("people__person")


def people_for(crew: Crew) -> QuerySet[Person]:
    """Who could be put into the crew: people of its party who take part in the project, or manage its quality."""
    takes_part = Q(memberships__project=crew.project_id, memberships__ended_at=None)
    manages = Q(grants__role=Role.QUALITY_MANAGER, grants__ended_at=None)
    people = Person.objects.filter(takes_part | manages, organisation=crew.party.organisation_id, is_active=True)
    return people.distinct().order_by("name")
