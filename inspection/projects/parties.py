"""The parties of a project: added, ended, taken up again; and what of the project is given to a painting contractor."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.db.models import Count, QuerySet
from django.utils import timezone

from accounts import journal, post
from accounts.models import Organisation, Person, Role
from accounts.rights import require
from accounts.signals import Unfinished, left_unfinished
from inspection.foundation.refusals import Conflict, Refused
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import (
    KINDS_OF_ROLE,
    InspectionArea,
    Party,
    Project,
    Scope,
    Section,
)
from inspection.projects.preconditions import in_sight, save_new
from inspection.projects.queries import losing_sight
from inspection.projects.signals import party_touched

# Which organisations can be a party of each kind; the company is one of every project by itself.
ORGANISATIONS: dict[Party.Kind, Organisation.Kind] = {
    **dict.fromkeys(KINDS_OF_ROLE[Role.CLIENT], Organisation.Kind.CLIENT),
    Party.Kind.CONTRACTOR: Organisation.Kind.CONTRACTOR,
}


@transaction.atomic
def add_party(by: Person, *, project: Project, organisation: Organisation, kind: str) -> Party:
    """Let an organisation be a party of a project; its people are added one by one, and see the project from then on.

    One that was a party before and ended is the same party again.
    """
    require(by, Role.QUALITY_MANAGER, to="add a party to a project")
    in_sight(by, project)
    goes_on(project)
    if kind not in ORGANISATIONS:
        raise Refused("Choose client, owner, classification society, painting contractor or paint maker.", field="kind")
    wanted, label = ORGANISATIONS[Party.Kind(kind)], Party.Kind(kind).label.lower()
    if organisation.kind != wanted:
        raise Refused(
            f"{organisation} stands among the people as “{organisation.get_kind_display()}”; a {label} is one that "
            f"stands there as “{wanted.label}”.",
            field="organisation",
        )
    already = f"{organisation} is a {label} of {project.code} already."
    former = project.parties.filter(organisation=organisation, kind=kind).order_by("-begun_at").first()
    if former and former.ended_at is None:
        raise Refused(already, field="organisation")
    if former:
        return _begin_again(by, former, reason="")
    party = Party(project=project, organisation=organisation, kind=kind)
    save_new(party, already=already, field="organisation")
    journal.record("party.added", party, by=by, project_id=project.pk, after=_told(party))
    return party


@transaction.atomic
def end_party(by: Person, *, party: Party, reason: str) -> Party:
    """End an organisation's part in a project: its people no longer see it, unless it is of another kind as well.

    What its people recorded and decided stays theirs.
    """
    locked = _held(by, party, to="end the part of a party")
    if locked.is_named:
        raise Refused(
            f"{locked.organisation} is the project's own {locked.get_kind_display().lower()}; correct the project to "
            "name another one."
        )
    _because(reason)
    if locked.ended_at:
        raise Conflict(f"{locked} ended already, on {locked.ended_at:%Y-%m-%d}.")
    losing = [membership.person for membership in losing_sight(locked)]
    locked.ended_at = timezone.now()
    locked.save(update_fields=["ended_at"])
    for person in losing:
        post.hold_back(by, person=person, project=locked.project_id)
    journal.record(
        "party.ended", locked, by=by, project_id=locked.project_id, before=_told(locked),
        after={"no longer see it": [person.name for person in losing]}, reason=reason.strip(),
    )  # fmt: skip
    return locked


@transaction.atomic
def take_up_again(by: Person, *, party: Party, reason: str) -> Party:
    """Take back the end of a party: its people who take part see the project again, with the scope it had."""
    locked = _held(by, party, to="take up a party again")
    _because(reason)
    if locked.ended_at is None:
        raise Conflict(f"{locked} has not ended.")
    open_one = locked.project.parties.filter(organisation=locked.organisation, kind=locked.kind, ended_at=None)
    if open_one.exists():
        raise Conflict(f"{locked.organisation} is a party of that kind already.")
    return _begin_again(by, locked, reason=reason)


def _begin_again(by: Person, party: Party, *, reason: str) -> Party:
    before, party.ended_at = party.ended_at, None
    party.save(update_fields=["ended_at"])
    journal.record(
        "party.taken_up_again", party, by=by, project_id=party.project_id, before={"ended_at": before},
        after=_told(party), reason=reason.strip(),
    )  # fmt: skip
    return party


def hanging_on(by: Person, party: Party) -> list[Unfinished]:
    """What an end of the party leaves behind, told before it is done."""
    people = [membership.person for membership in losing_sight(party)]
    told = [Unfinished(f"{person} takes part and no longer sees {party.project.code}") for person in people]
    given = scope_of(party).count()
    if given:
        told.append(Unfinished(f"{given} section{'s' * (given > 1)} or areas are given to it and to nobody else then"))
    behind = {
        each.words: each for person in people for each in left_unfinished(by, person=person, project=party.project)
    }
    answers: list[tuple[Any, Any]] = party_touched.send(sender=Party, by=by, party=party)
    return told + [each for _, found in answers for each in found] + list(behind.values())


def scope_of(party: Party) -> QuerySet[Scope]:
    """What is given to the party now."""
    rows = Scope.objects.filter(party=party, ended_at=None)
    return rows.select_related("section__structure", "area__structure").order_by("begun_at", "pk")


def scopes_seen_by(person: Person) -> QuerySet[Scope]:
    rows = Scope.objects.filter(party__in=Party.objects.visible_to(person))
    return rows.select_related("party__project", "party__organisation", "section__structure", "area__structure")


def one_place(section: Section | None, area: InspectionArea | None) -> Section | InspectionArea:
    """That of the two which is named. Raises Refused unless it is one."""
    place = section or area
    if place is None or (section and area):
        raise Refused("Name a section or an area, one of the two.", field="area")
    return place


@transaction.atomic
def give_scope(by: Person, *, party: Party, place: Section | InspectionArea) -> Scope:
    """Give a section with all below it, or an area, to a painting contractor.

    From the first one on the contractor's people see nothing else of the project.
    """
    locked = _held(by, party, to="say what is a contractor's")
    in_sight(by, place)
    if locked.kind != Party.Kind.CONTRACTOR:
        raise Refused(f"{locked} is no painting contractor; only a contractor's sight is bound to areas.")
    if locked.ended_at:
        raise Conflict(f"{locked} has ended; take it up again first.")
    field = "section" if isinstance(place, Section) else "area"
    if place.structure.project_id != locked.project_id:
        raise Refused(f"{place} lies in another project.", field=field)
    already = f"{place} is given to {locked.organisation} already."
    if scope_of(locked).filter(**{field: place}).exists():
        raise Refused(already, field=field)
    given = Scope(party=locked, **{field: place})
    save_new(given, already=already, field=field)
    journal.record(
        "scope.given", given, by=by, project_id=locked.project_id, after={"party": str(locked), field: place.pk}
    )
    return given


@transaction.atomic
def end_scope(by: Person, *, scope: Scope, reason: str) -> Scope:
    """Take a section or area from a contractor again; with the last one it sees all of the project."""
    _held(by, scope.party, to="say what is a contractor's")
    _because(reason)
    now = timezone.now()
    if not Scope.objects.filter(pk=scope.pk, ended_at=None).update(ended_at=now):
        raise Conflict(f"{scope} is no longer given to {scope.party.organisation}.")
    scope.ended_at = now
    journal.record(
        "scope.ended", scope, by=by, project_id=scope.party.project_id, before={"party": str(scope.party)},
        reason=reason.strip(),
    )  # fmt: skip
    return scope


def carry_scope(by: Person, *, areas: Sequence[InspectionArea], made: InspectionArea) -> None:
    """What takes the place of areas is given to the contractors to whom each of those was given by itself."""
    held = Scope.objects.filter(area__in=areas, ended_at=None).values("party").annotate(many=Count("area"))
    parties = held.filter(many=len(areas)).values("party")
    for party in Party.objects.filter(pk__in=parties).select_related("organisation"):
        given = Scope.objects.create(party=party, area=made)
        journal.record(
            "scope.given", given, by=by, project_id=party.project_id, after={"party": str(party), "area": made.pk}
        )


def _held(by: Person, party: Party, *, to: str) -> Party:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, party)
    rows = Party.objects.select_for_update(of=("self",)).select_related("project", "organisation")
    locked = rows.get(pk=party.pk)
    goes_on(locked.project)
    return locked


def _because(reason: str) -> None:
    if faults := reason_faults(reason):
        raise Refused(faults)


def _told(party: Party) -> dict[str, str]:
    return {"organisation": party.organisation.name, "kind": party.kind}
