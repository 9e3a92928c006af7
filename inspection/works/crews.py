"""Crews and their people: set up, renamed, ended and taken back. Quality managers do it.

Every change of who belongs where holds the project's row: a record that arrives at the same moment names it too, so
whichever of the two comes second sees the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import in_sight, row_faults, save_new, snapshot
from inspection.projects.queries import who_sees
from inspection.works.models import Crew, CrewPerson, Shift
from inspection.works.signals import shifts_moved

LONGEST_NAME = 60
MOST_PEOPLE = 60


@transaction.atomic
def add_crew(by: Person, *, project: Project, party: Party, name: str) -> Crew:
    """Set up a crew of one of the project's parties."""
    require(by, Role.QUALITY_MANAGER, to="set up a crew")
    in_sight(by, project, party)
    goes_on(project)
    crew = Crew(project=project, party=_of_project(party, project), name=line(name, field="name", most=LONGEST_NAME))
    save_new(crew, already=_taken(crew), field="name")
    journal.record("crew.added", crew, by=by, project_id=project.pk, after=snapshot(crew))
    return crew


@transaction.atomic
def rename_crew(by: Person, *, crew: Crew, name: str, reason: str) -> Crew:
    crew = held(by, crew, to="rename a crew")
    before, crew.name = snapshot(crew), line(name, field="name", most=LONGEST_NAME)
    if faults := reason_faults(reason) + row_faults(crew):
        raise Refused(faults)
    if snapshot(crew) == before:
        raise Refused("Nothing differs from what is stored.")
    try:
        with transaction.atomic():
            crew.save(update_fields=["name"])
    except IntegrityError:
        raise Conflict(Fault(_taken(crew), "name")) from None
    _journal("crew.renamed", crew, by, before, reason)
    return crew


@transaction.atomic
def end_crew(by: Person, *, crew: Crew, reason: str, at: datetime | None = None) -> Crew:
    """End a crew: the parts of its people end with it, and its shifts still to come are called off."""
    crew, at = held(by, crew, to="end a crew"), at or timezone.now()
    if faults := reason_faults(reason):
        raise Refused(faults)
    if crew.ended_at:
        raise Conflict(f"{crew} has ended already.")
    before, crew.ended_at = snapshot(crew), at
    crew.save(update_fields=["ended_at"])
    _journal("crew.ended", crew, by, before, reason)
    people = list(crew.people.filter(ended_at=None, begun_at__lt=at).values_list("person", flat=True))
    crew.people.filter(ended_at=None, begun_at__lt=at).update(ended_at=at)
    crew.shifts.that_hold().filter(begun_at=None, begins_at__gt=at).update(called_off_at=at)
    tell(by, crew, people, at, None, f"Crew {crew} ended: {reason.strip()}")
    return crew


@transaction.atomic
def restore_crew(by: Person, *, crew: Crew, reason: str) -> Crew:
    """Take the end of a crew back, with the parts and shifts that ended with it."""
    crew = held(by, crew, to="take the end of a crew back")
    if faults := reason_faults(reason):
        raise Refused(faults)
    if crew.ended_at is None:
        raise Conflict(f"{crew} has not ended.")
    before, at = snapshot(crew), crew.ended_at
    crew.ended_at = None
    crew.save(update_fields=["ended_at"])
    _journal("crew.restored", crew, by, before, reason)
    parts = list(crew.people.filter(ended_at=at).select_related("person"))
    for part in parts:
        part.ended_at = None
        _refuse_elsewhere(crew.project, part)
        part.save(update_fields=["ended_at"])
    crew.shifts.filter(called_off_at=at).update(called_off_at=None)
    tell(by, crew, [part.person_id for part in parts], at, None, f"The end of crew {crew} was taken back.")
    return crew


@transaction.atomic
def add_people(
    by: Person, *, crew: Crew, people: Sequence[Person], begun_at: datetime, ended_at: datetime | None = None
) -> list[CrewPerson]:
    """Let people belong to the crew from a moment on, or until another; all of them or none."""
    crew = held(by, crew, to="put people into a crew")
    goes_on(crew.project)
    if crew.ended_at:
        raise Conflict(f"{crew} has ended; take its end back first.")
    if not people or len(people) > MOST_PEOPLE:
        raise Refused(f"Choose between one and {MOST_PEOPLE} people.", field="people")
    _refuse_strangers(crew, people)
    added = []
    for person in people:
        part = CrewPerson(crew=crew, person=person, begun_at=begun_at, ended_at=ended_at)
        _refuse_backwards(part)
        _refuse_elsewhere(crew.project, part)
        part.save(force_insert=True)
        journal.record("crew.person_added", part, by=by, project_id=crew.project_id, after=snapshot(part))
        added.append(part)
    because = f"{', '.join(person.name for person in people)} joined crew {crew}."
    tell(by, crew, [person.pk for person in people], begun_at, ended_at, because)
    return added


@transaction.atomic
def correct_part(
    by: Person, *, part: CrewPerson, begun_at: datetime, ended_at: datetime | None, reason: str
) -> CrewPerson:
    """Say from when and until when somebody belongs to the crew; so a part is ended, too."""
    crew = held(by, part.crew, to="change a crew")
    part = CrewPerson.objects.select_related("person", "crew").get(pk=part.pk)
    if faults := reason_faults(reason):
        raise Refused(faults)
    before, was = snapshot(part), (part.begun_at, part.ended_at)
    part.begun_at, part.ended_at = begun_at, ended_at
    if snapshot(part) == before:
        raise Refused("Nothing differs from what is stored.")
    _refuse_backwards(part)
    _refuse_elsewhere(crew.project, part)
    part.save(update_fields=["begun_at", "ended_at"])
    journal.record(
        "crew.part_corrected", part, by=by, project_id=crew.project_id, before=before, after=snapshot(part),
        reason=reason.strip(),
    )  # fmt: skip
    ends = (was[1], ended_at)
    until = None if None in ends else max(end for end in ends if end)
    tell(by, crew, [part.person_id], min(was[0], begun_at), until, f"{part} was corrected: {reason.strip()}")
    return part


@transaction.atomic
def remove_part(by: Person, *, part: CrewPerson, reason: str) -> None:
    """Take out somebody who was put into the crew by mistake, as if they had never been in it; the journal keeps it."""
    crew = held(by, part.crew, to="change a crew")
    part = CrewPerson.objects.select_related("person", "crew").get(pk=part.pk)
    if faults := reason_faults(reason):
        raise Refused(faults)
    journal.record(
        "crew.person_removed", part, by=by, project_id=crew.project_id, before=snapshot(part), reason=reason.strip()
    )
    words, person, since, until = str(part), part.person_id, part.begun_at, part.ended_at
    part.delete()
    tell(by, crew, [person], since, until, f"{words} was taken out: {reason.strip()}")


def held(by: Person, crew: Crew, *, to: str) -> Crew:
    """The crew as it is now, with its project held until the transaction ends."""
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, crew)
    return hold(crew)


def hold(crew: Crew) -> Crew:
    Project.objects.select_for_update(of=("self",)).get(pk=crew.project_id)
    return Crew.objects.select_related("project", "party__organisation").get(pk=crew.pk)


def tell(by: Person, crew: Crew, people: Iterable[UUID], since: datetime, until: datetime | None, because: str) -> None:
    shifts_moved.send(
        sender=Shift, by=by, project=crew.project, people=list(people), since=since, until=until, because=because
    )


def _journal(verb: str, crew: Crew, by: Person, before: dict[str, object], reason: str) -> None:
    journal.record(
        verb, crew, by=by, project_id=crew.project_id, before=before, after=snapshot(crew), reason=reason.strip()
    )


def _taken(crew: Crew) -> str:
    return f"{crew.project.code} already has a crew {crew.name}; choose another name."


def _of_project(party: Party, project: Project) -> Party:
    if party.project_id != project.pk or party.ended_at:
        raise Refused(f"{party} is not a party of {project.code}.", field="party")
    return party


def _refuse_strangers(crew: Crew, people: Sequence[Person]) -> None:
    """Whoever works in a crew belongs to its party and takes part in its project."""
    seen = who_sees([person.pk for person in people], [crew.project_id])
    party = crew.party.organisation
    faults = []
    for person in people:
        if person.organisation_id != party.pk:
            faults.append(Fault(f"{person} does not belong to {party}, whose crew this is.", "people"))
        elif (person.pk, crew.project_id) not in seen:
            faults.append(Fault(f"{person} takes no part in {crew.project.code}; add them there first.", "people"))
    if faults:
        raise Refused(faults)


def _refuse_backwards(part: CrewPerson) -> None:
    if part.ended_at and part.ended_at <= part.begun_at:
        raise Refused("The end lies after the beginning.", field="ended_at")


def _refuse_elsewhere(project: Project, part: CrewPerson) -> None:
    """Of one project a person is in one crew at a time, or nobody could say to which shift their readings belong."""
    others = CrewPerson.objects.filter(crew__project=project, person=part.person).exclude(pk=part.pk)
    others = others.filter(Q(ended_at=None) | Q(ended_at__gt=part.begun_at))
    if part.ended_at:
        others = others.filter(begun_at__lt=part.ended_at)
    other = others.select_related("crew").first()
    if other:
        until = f" until {_told(other.ended_at, project)}" if other.ended_at else ""
        raise Conflict(
            Fault(
                f"{part.person} is in crew {other.crew} from {_told(other.begun_at, project)}{until}; of one project "
                "a person is in one crew at a time. End that part first, or begin this one later.",
                "begun_at",
            )
        )


def _told(at: datetime, project: Project) -> str:
    return f"{at.astimezone(project.zone):%Y-%m-%d %H:%M}"
