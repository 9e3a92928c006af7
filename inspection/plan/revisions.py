"""Revisions of a plan: begun, approved by the parties, brought into force, thrown away."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from accounts import journal, post
from accounts.guessing import confirm_password
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.plan.content import digest_of_revision
from inspection.plan.lines import copy_lines, hold_draft, known_to, sent_by, sent_faults
from inspection.plan.models import Approval, ApprovalAsked, Plan, PlanRevision
from inspection.plan.queries import approvals_of, lines_of, may_be_asked, parties_by_default
from inspection.plan.signals import plan_in_force, plan_touched
from inspection.projects.models import Membership, Party, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.queries import parties_of

State = PlanRevision.State


@transaction.atomic
def begin_plan(by: Person, *, project: Project, name: str) -> PlanRevision:
    """Begin the project's plan with a draft that has no line yet."""
    in_sight(by, project)
    require(by, Role.QUALITY_MANAGER, to="begin a plan")
    Project.objects.select_for_update().get(pk=project.pk)
    if Plan.objects.filter(project=project).exists():
        raise Refused("The project has a plan already; begin a revision of it.", field="name")
    plan = Plan.objects.create(project=project, name=name.strip())
    revision = PlanRevision.objects.create(plan=plan, number=1)
    journal.record("plan.begun", revision, by=by, project_id=project.pk, after={"name": plan.name})
    return revision


@transaction.atomic
def begin_revision(by: Person, *, plan: Plan, note: str = "") -> PlanRevision:
    """Begin a further revision as a copy of the one in force; each line names the line it carries on."""
    locked = _hold_plan(by, plan, to="begin a revision of a plan")
    if locked.revisions.filter(state=State.DRAFT).exists():
        raise Conflict("A draft of this plan is under way; change that one, or throw it away first.")
    former = locked.revisions.filter(state=State.IN_FORCE).first()
    number = locked.revisions.count() + 1
    revision = PlanRevision.objects.create(plan=locked, number=number, note=note.strip())
    if former:
        copy_lines(lines_of(former), revision)
    journal.record("plan_revision.begun", revision, by=by, project_id=locked.project_id, after={"note": revision.note})
    return revision


def _hold_plan(by: Person, plan: Plan, *, to: str) -> Plan:
    require(by, Role.QUALITY_MANAGER, to=to)
    if plan.project_id:
        in_sight(by, plan)
    return Plan.objects.select_for_update(of=("self",)).select_related("project").get(pk=plan.pk)


@transaction.atomic
def throw_away(by: Person, *, revision: PlanRevision, reason: str) -> None:
    """Throw a draft away; it and its approvals stay to be read, and it can be taken up again."""
    locked = hold_draft(by, revision, to="throw a draft away")
    _need(reason)
    locked.state = State.DISCARDED
    locked.save(update_fields=["state"])
    journal.record("plan_revision.thrown_away", locked, by=by, project_id=locked.plan.project_id, reason=reason.strip())


@transaction.atomic
def take_up_again(by: Person, *, revision: PlanRevision, reason: str) -> None:
    """Take a draft up again that was thrown away, unless another is under way or a later one came into force."""
    plan = _hold_plan(by, revision.plan, to="take a draft up again")
    _need(reason)
    others = plan.revisions.exclude(pk=revision.pk)
    if others.filter(state=State.DRAFT).exists():
        raise Conflict("Another draft of this plan is under way.")
    if others.filter(state__in=(State.IN_FORCE, State.SUPERSEDED), number__gt=revision.number).exists():
        raise Conflict("A later revision came into force since; begin a new one.")
    moved = plan.revisions.filter(pk=revision.pk, state=State.DISCARDED).update(state=State.DRAFT)
    if not moved:
        raise Conflict("Only a draft that was thrown away can be taken up again.")
    journal.record("plan_revision.taken_up", revision, by=by, project_id=plan.project_id, reason=reason.strip())


def _need(reason: str) -> None:
    if not reason.strip():
        raise Refused("Say why; the journal keeps it.", field="reason")


@transaction.atomic
def ask_approval(by: Person, *, revision: PlanRevision, parties: Sequence[Party] | None = None) -> list[Party]:
    """Ask parties to approve a draft as it reads now; by default those that do more at a line than perform.

    Each person of a party is written to. Parties asked before and not chosen again are asked no more.
    """
    locked = hold_draft(by, revision, to="ask for approval")
    project = locked.plan.project
    if project is None:
        raise Refused("A template is kept by the company and needs no party's approval.")
    if not locked.lines.exists():
        raise Refused("There is no line to approve yet.")
    chosen = parties_by_default(locked) if parties is None else list(parties)
    there = set(may_be_asked(project).values_list("pk", flat=True))
    if not chosen or not {party.pk for party in chosen} <= there:
        raise Refused("Choose at least one party of the project that takes part still.", field="parties")
    before = [str(row.party) for row in locked.asked.select_related("party__organisation")]
    locked.asked.all().delete()
    ApprovalAsked.objects.bulk_create(ApprovalAsked(revision=locked, party=party) for party in chosen)
    names = [str(party) for party in chosen]
    journal.record(
        "plan_approval.asked", locked, by=by, project_id=project.pk, before={"parties": before},
        after={"parties": names},
    )  # fmt: skip
    _write(locked, chosen, digest_of_revision(locked, lines_of(locked)))
    return chosen


def _write(revision: PlanRevision, parties: Sequence[Party], digest: str) -> None:
    project = revision.plan.project
    assert project is not None  # noqa: S101 - a template's approval is not asked for
    members = Membership.objects.in_force().filter(
        project=project, organisation__in=[party.organisation_id for party in parties]
    )
    address = f"{settings.SITE_URL}{reverse('plan_revision', args=[revision.pk])}"
    for person in {member.person for member in members.select_related("person")}:
        if not person.is_company:
            post.write(
                "plan-to-approve", f"{revision.pk} {digest}", to=person, project=project.pk,
                subject=f"{project.code}: revision {revision.number} of the inspection and test plan waits for you",
                body=f"{revision} waits for the approval of your party.\n\nRead and approve it here:\n{address}\n",
            )  # fmt: skip


def approve(by: Person, *, revision: PlanRevision, password: str, digest: str) -> list[Approval]:
    """Approve a draft for all the person's parties that were asked, with their password, as they were shown it.

    Raises Conflict when the lines have changed since they were shown (`digest`), NotAllowed for other people.
    """
    if not PlanRevision.objects.visible_to(by).filter(pk=revision.pk).exists():
        raise Http404
    project = revision.plan.project
    parties = asked_of(by, revision)
    if project is None or not parties:
        raise NotAllowed("Only people of a party that was asked may approve the plan.")
    confirm_password(by, password, to=f"approve {revision}", so="nothing was approved", project_id=project.pk)
    with transaction.atomic():
        locked = PlanRevision.objects.select_for_update(of=("self",)).select_related("plan").get(pk=revision.pk)
        if not locked.is_draft:
            raise Conflict(f"The revision is {locked.get_state_display().lower()}; only a draft is approved.")
        stands = digest_of_revision(locked, lines_of(locked))
        if stands != digest:
            raise Conflict("The lines have changed since you looked; read them again before you approve.")
        given = {row.party_id for row in approvals_of(locked, stands)}
        parties = [party for party in parties if party.pk not in given]
        if not parties:
            raise Conflict("Your party has approved these lines already.")
        approvals = [
            Approval.objects.create(
                revision=locked, party=party, person=by, signed_as=f"{by.name}, {by.organisation}",
                admitted=by.admission or "", digest=stands,
            )
            for party in parties
        ]  # fmt: skip
        told = {"parties": [str(party) for party in parties], "digest": stands}
        journal.record("plan.approved", locked, by=by, project_id=project.pk, after=told)
    return approvals


def asked_of(by: Person, revision: PlanRevision) -> list[Party]:
    """The person's parties whose approval of the draft was asked for."""
    project = revision.plan.project
    if project is None:
        return []
    return list(parties_of(by, project).filter(pk__in=revision.asked.values("party")))


@transaction.atomic
def withdraw_approval(by: Person, *, approval: Approval, reason: str) -> None:
    """Withdraw an approval of a draft; by people of that party."""
    in_sight(by, approval)
    revision = (
        PlanRevision.objects.select_for_update(of=("self",))
        .select_related("plan__project")
        .get(pk=approval.revision_id)
    )
    project = revision.plan.project
    if project is None or not parties_of(by, project).filter(pk=approval.party_id).exists():
        raise NotAllowed("Only people of the party that approved may withdraw its approval.")
    _need(reason)
    if not revision.is_draft:
        raise Conflict(f"The revision is {revision.get_state_display().lower()}; ask for a new revision instead.")
    withdrawn = {"withdrawn_at": timezone.now(), "withdrawn_by": by, "withdrawn_because": reason.strip()}
    if not Approval.objects.filter(pk=approval.pk, withdrawn_at=None).update(**withdrawn):
        raise Conflict("The approval was withdrawn already.")
    journal.record(
        "plan_approval.withdrawn", revision, by=by, project_id=project.pk, reason=reason.strip(),
        before={"party": str(approval.party), "digest": approval.digest},
    )  # fmt: skip


def touched_by(by: Person, revision: PlanRevision) -> list[str]:
    """What hangs on the plan that a revision would touch, room by room."""
    answers: list[tuple[Any, Any]] = plan_touched.send(sender=PlanRevision, by=by, revision=revision)
    return [sentence for _, sentences in answers for sentence in sentences]


@transaction.atomic
def bring_into_force(
    by: Person, *, revision: PlanRevision, applies_from: date | None = None, at: datetime | None = None
) -> PlanRevision:
    """Bring an approved draft into force, from a day of the project that is not ahead; the one before is superseded.

    Raises Refused with one sentence for each approval that is missing and each line that names what is no more.
    """
    require(by, Role.QUALITY_MANAGER, to="bring a plan into force")
    plan = _hold_plan(by, revision.plan, to="bring a plan into force")
    locked = hold_draft(by, revision, to="bring a plan into force")
    at = at or timezone.now()
    former = plan.revisions.filter(state=State.IN_FORCE).first()
    lines = list(lines_of(locked))
    digest = digest_of_revision(locked, lines)
    faults = _not_yet(locked, digest) if lines else [Fault("There is no line in it yet.")]
    faults += [
        Fault(f"Line {lines[(fault.row or 1) - 1].number}: {fault.message}")
        for fault in sent_faults([sent_by(line) for line in lines], known_to(plan.project))
    ]
    if plan.project:
        applies_from = applies_from or plan.project.day_of(at)
        faults += _day_faults(plan.project, former, applies_from, at)
    if faults:
        raise Refused(faults)
    if former:
        former.state = State.SUPERSEDED
        former.save(update_fields=["state"])
    locked.state, locked.in_force_at, locked.brought_by, locked.digest = State.IN_FORCE, at, by, digest
    locked.applies_from = applies_from if plan.project else None
    locked.save()
    told = {"applies from": locked.applies_from, "digest": digest, "supersedes": former.number if former else None}
    journal.record("plan.in_force", locked, by=by, project_id=plan.project_id, after=told, at=at)
    if plan.project:
        because = f"Revision {locked.number} of the inspection and test plan came into force."
        plan_in_force.send(sender=PlanRevision, by=by, revision=locked, former=former, at=at, because=because)
    return locked


def _not_yet(revision: PlanRevision, digest: str) -> list[Fault]:
    """The parties asked that have not approved the lines as they read now."""
    if revision.plan.project_id is None:
        return []
    asked = list(revision.asked.filter(party__ended_at=None).select_related("party__organisation"))
    if not asked:
        return [Fault("No party was asked to approve it yet.")]
    given: set[UUID] = {row.party_id for row in approvals_of(revision, digest)}
    return [Fault(f"{row.party} has not approved these lines.") for row in asked if row.party_id not in given]


def _day_faults(project: Project, former: PlanRevision | None, applies_from: date, at: datetime) -> list[Fault]:
    today = project.day_of(at)
    if applies_from > today:
        return [Fault(f"{applies_from} lies ahead; bring it into force on that day, or give today.", "applies_from")]
    if former and former.applies_from and applies_from < former.applies_from:
        told = f"Revision {former.number} applies from {former.applies_from}; this one can't apply before it."
        return [Fault(told, "applies_from")]
    return []
