"""What an office entered by mistake of a project: corrected, closed, opened again; each with its reason, journalled."""

from __future__ import annotations

from copy import copy
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal, post
from accounts.models import Organisation, Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on, project_faults, shifts_of
from inspection.projects.models import KINDS_OF_ROLE, InspectionArea, Membership, Party, Project, Structure
from inspection.projects.preconditions import in_sight, row_faults, snapshot
from inspection.projects.queries import losing_sight
from inspection.projects.signals import project_corrected, project_touched, releases_corrected, shifts_corrected

LONGEST_REASON = 1_000
SHIFTS = {"time_zone", "shift_starts"}


@transaction.atomic
def correct_project(
    by: Person,
    *,
    project: Project,
    code: str,
    name: str,
    client: Organisation,
    contractor: Organisation | None = None,
    time_zone: str,
    unit: str,
    shift_starts: str,
    provisional_releases: bool | None = None,
    reason: str,
) -> Project:
    """Put right what was entered when the project was opened; records keep what they were stored with.

    Without `provisional_releases` that stays as it is; what was released so stays released when it ends.

    Another time zone or other shift starts have the standing of all its records computed again.
    """
    locked = _locked(by, project, to="correct a project")
    faults = project_faults(code, client, contractor, time_zone, shift_starts, unit, but=locked)
    if locked.closed_at:
        faults.append(Fault(f"{locked.code} is closed; open it again first."))
    if client.pk != locked.client_id:
        faults += _of_the_former_client(locked)
    faults += reason_faults(reason)
    if faults:
        raise Refused(faults)
    before = snapshot(locked)
    former = {Party.Kind.CLIENT: locked.client_id, Party.Kind.CONTRACTOR: locked.contractor_id}
    locked.code, locked.name, locked.client, locked.contractor = code.strip(), name.strip(), client, contractor
    locked.time_zone, locked.unit, locked.shift_starts = time_zone, unit, shifts_of(shift_starts)[0]
    if provisional_releases is not None:
        locked.provisional_releases = provisional_releases
    if wrong := row_faults(locked):
        raise Refused(wrong)
    after = snapshot(locked)
    changed = {column for column in after if after[column] != before[column]}
    if not changed:
        raise Refused("Nothing differs from what is stored.")
    try:
        with transaction.atomic():
            locked.save()
    except IntegrityError:
        raise Conflict(Fault(f"There is already a project {locked.code}; choose another code.", "code")) from None
    _end_no_longer_named(by, locked, former)
    journal.record(
        "project.corrected", locked, by=by, project_id=locked.pk, before={each: before[each] for each in changed},
        after={each: after[each] for each in changed}, reason=reason.strip(),
    )  # fmt: skip
    project_corrected.send(sender=Project, by=by, project=locked, changed=changed)
    if changed & SHIFTS:
        because = f"The shifts of {locked.code} were corrected: {reason.strip()}"
        shifts_corrected.send(sender=Project, by=by, project=locked, because=because)
    if "provisional_releases" in changed:
        releases_corrected.send(sender=Project, project=locked)
    return locked


def _end_no_longer_named(by: Person, project: Project, former: dict[Party.Kind, UUID | None]) -> None:
    """End the parties that the project no longer names; letters that wait for their people are not sent."""
    for party in _no_longer_named(project, former):
        losing = [membership.person for membership in losing_sight(party)]
        project.parties.filter(pk=party.pk).update(ended_at=timezone.now())
        for person in losing:
            post.hold_back(by, person=person, project=project.pk)


def _no_longer_named(project: Project, former: dict[Party.Kind, UUID | None]) -> list[Party]:
    """The parties in force that the project named, by their kind, and no longer does."""
    named = {Party.Kind.CLIENT: project.client_id, Party.Kind.CONTRACTOR: project.contractor_id}
    open_ones = project.parties.filter(ended_at=None).select_related("project", "organisation")
    return [
        party
        for kind, organisation in former.items()
        if organisation and organisation != named[kind]
        for party in open_ones.filter(kind=kind, organisation=organisation)
    ]


def touched(by: Person, project: Project, values: dict[str, Any]) -> list[str]:
    """What a correction changes besides what was typed, in sentences, room by room; `values` as of the form."""
    corrected = copy(project)
    for name, value in values.items():
        if name != "reason":
            setattr(corrected, name, value)
    if written := shifts_of(corrected.shift_starts)[0]:
        corrected.shift_starts = written
    before, after = snapshot(project), snapshot(corrected)
    changed = {column for column in after if after[column] != before[column]}
    if not changed:
        return []
    former = {Party.Kind.CLIENT: project.client_id, Party.Kind.CONTRACTOR: project.contractor_id}
    told = []
    for party in _no_longer_named(corrected, former):
        people = ", ".join(membership.person.name for membership in losing_sight(party))
        blind = f"; its people no longer see the project: {people}" if people else ""
        told.append(f"{party} is no longer a party{blind}.")
    answers: list[tuple[Any, Any]] = project_touched.send(
        sender=Project, by=by, project=project, corrected=corrected, changed=changed
    )
    return told + [sentence for _, found in answers for sentence in found]


@transaction.atomic
def correct_structure(by: Person, *, structure: Structure, name: str, description: str, reason: str) -> Structure:
    """Put right the name or description of a structure; areas that are told by its name follow."""
    require(by, Role.QUALITY_MANAGER, to="correct a structure")
    in_sight(by, structure)
    goes_on(structure.project)
    locked = Structure.objects.select_for_update(of=("self",)).select_related("project").get(pk=structure.pk)
    before = snapshot(locked)
    locked.name, locked.description = line(name, field="name", most=120), description.strip()
    already = Fault(f"{locked.project.code} already has a structure named {locked.name}.", "name")
    same = Structure.objects.filter(project=locked.project, name__iexact=locked.name).exclude(pk=locked.pk)
    faults = ([already] if same.exists() else []) + row_faults(locked) + reason_faults(reason)
    if not faults and snapshot(locked) == before:
        faults = [Fault("Nothing differs from what is stored.")]
    if faults:
        raise Refused(faults)
    try:
        with transaction.atomic():
            locked.save(update_fields=["name", "description"])
    except IntegrityError:
        raise Conflict(already) from None
    InspectionArea.objects.filter(structure=locked).exclude(told_by="").update(told_by=locked.name)
    journal.record(
        "structure.corrected", locked, by=by, project_id=locked.project_id, before=before, after=snapshot(locked),
        reason=reason.strip(),
    )  # fmt: skip
    return locked


def _of_the_former_client(project: Project) -> list[Fault]:
    """Another client must not come to see, through people of the former one who still take part."""
    others = project.parties.filter(kind__in=KINDS_OF_ROLE[Role.CLIENT], ended_at=None)
    if others.filter(organisation=project.client_id).exclude(kind=Party.Kind.CLIENT).exists():
        return []
    still = Membership.objects.filter(
        project=project, role=Role.CLIENT, organisation=project.client_id, ended_at=None
    ).select_related("person")
    names = ", ".join(sorted(membership.person.name for membership in still))
    return [Fault(f"{names} of {project.client} still take part; end their part first.", "client")] if names else []


@transaction.atomic
def close_project(by: Person, *, project: Project, reason: str) -> Project:
    """End the work: nothing new begins. What was measured before and arrives late is still taken in."""
    locked = _locked(by, project, to="close a project")
    if locked.closed_at:
        raise Conflict(f"{locked.code} is closed already, since {locked.closed_at:%Y-%m-%d}.")
    return _set_closed(by, locked, closed=True, reason=reason)


@transaction.atomic
def reopen_project(by: Person, *, project: Project, reason: str) -> Project:
    """Take a closing back: work goes on."""
    locked = _locked(by, project, to="open a project again")
    if not locked.closed_at:
        raise Conflict(f"{locked.code} is not closed.")
    return _set_closed(by, locked, closed=False, reason=reason)


def _set_closed(by: Person, project: Project, *, closed: bool, reason: str) -> Project:
    if faults := reason_faults(reason):
        raise Refused(faults)
    before, project.closed_at = project.closed_at, timezone.now() if closed else None
    project.save(update_fields=["closed_at"])
    journal.record(
        "project.closed" if closed else "project.reopened", project, by=by, project_id=project.pk,
        before={"closed_at": before}, after={"closed_at": project.closed_at}, reason=reason.strip(),
    )  # fmt: skip
    return project


def _locked(by: Person, project: Project, *, to: str) -> Project:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, project)
    return Project.objects.select_for_update(of=("self",)).select_related("client", "contractor").get(pk=project.pk)


def reason_faults(reason: str) -> list[Fault]:
    """What is wrong with the reason for a change."""
    try:
        line(reason, field="reason", most=LONGEST_REASON)
    except Refused as refusal:
        return list(refusal.faults)
    return []
