"""Drafts of plans that parties were asked to approve and have not, as their lines read now."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from accounts.models import Person
from inspection.plan.content import digest_of_revision
from inspection.plan.models import Approval, ApprovalAsked, PlanLine, PlanRevision
from inspection.plan.queries import WITH_LINE
from inspection.projects.models import Party
from inspection.projects.queries import acting_for


@dataclass(frozen=True)
class Unapproved:
    """A draft, and the parties of those looked for whose approval it waits for."""

    revision: PlanRevision
    parties: tuple[Party, ...]


def unapproved_by_parties_of(person: Person) -> list[Unapproved]:
    """The drafts that wait for a party the person acts for; people of no such party are told nothing."""
    return list(_unapproved(person, acting_for(person)))


def unapproved(person: Person) -> list[Unapproved]:
    """All drafts that the person sees and some party was asked to approve and has not."""
    return list(_unapproved(person, Party.objects.in_force()))


def _unapproved(person: Person, parties: QuerySet[Party]) -> Iterator[Unapproved]:
    """In a number of reads that grows neither with drafts nor with their lines."""
    asked = ApprovalAsked.objects.filter(party__in=parties).select_related("party__organisation")
    seen = PlanRevision.objects.visible_to(person).filter(
        Exists(asked.filter(revision=OuterRef("pk"))), state=PlanRevision.State.DRAFT
    )
    rows = seen.select_related("plan__project").prefetch_related(
        Prefetch("asked", asked), Prefetch("approvals", Approval.objects.filter(withdrawn_at=None)),
        Prefetch("lines", PlanLine.objects.order_by("order_key").prefetch_related(*WITH_LINE)),
    )  # fmt: skip
    for revision in rows.order_by("plan__project__code", "pk"):
        stands = digest_of_revision(revision, revision.lines.all())
        given = {each.party_id for each in revision.approvals.all() if each.digest == stands}
        missing = tuple(each.party for each in revision.asked.all() if each.party_id not in given)
        if missing:
            yield Unapproved(revision, missing)
