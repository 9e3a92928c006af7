"""Points that wait for whoever leaves."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person, Role
from accounts.signals import Unfinished, unfinished
from inspection.holdpoints.models import HoldPoint
from inspection.plan.models import Intervention, Meaning
from inspection.projects.models import Membership, Party, Project


@receiver(unfinished, dispatch_uid="holdpoints")
def awaited(sender: Any, by: Person, person: Person | None, project: Any, **sent: Any) -> list[Unfinished]:
    projects = Project.objects.visible_to(by)
    if project is not None:
        projects = projects.filter(pk=project.pk)
    if person is None:
        return _waiting(projects, "for a decision")
    theirs = Membership.objects.in_force().filter(person=person, role=Role.CLIENT).values("project")
    return _waiting(projects.filter(pk__in=theirs), "for them")


def _waiting(projects: QuerySet[Project], whom: str) -> list[Unfinished]:
    waiting = Count("holdpoints", filter=Q(holdpoints__state=HoldPoint.State.WAITING))
    return [
        Unfinished(
            f"{'1 point waits' if project.waiting == 1 else f'{project.waiting} points wait'} {whom} in {project.code}",
            f"{reverse('board')}?project={project.pk}",
        )
        for project in projects.annotate(waiting=waiting).filter(waiting__gt=0).order_by("code")
    ]


def without_anybody_to_decide(projects: QuerySet[Project]) -> list[tuple[Project, list[str]]]:
    """Projects under way in which points wait for a party of which nobody takes part, each with those parties by name.

    Points planned by hand wait for the client. For the inspection company its quality managers can always decide.
    """
    under_way = projects.filter(closed_at=None)
    waiting = HoldPoint.objects.filter(state=HoldPoint.State.WAITING, kind=HoldPoint.Kind.HOLD)
    members = Membership.objects.in_force().filter(project=OuterRef("pk"), role=Role.CLIENT)
    by_hand = Exists(waiting.filter(project=OuterRef("pk"), line=None))
    found = {
        project: [str(project.client)]
        for project in under_way.filter(by_hand).exclude(Exists(members)).select_related("client").order_by("code")
    }
    held = Intervention.objects.filter(
        Q(party=None) | Q(party=OuterRef(OuterRef("pk"))), meaning=Meaning.HOLD,
        party_kind=OuterRef(OuterRef("kind")), line=OuterRef("line"),
    )  # fmt: skip
    theirs = Membership.objects.in_force().filter(project=OuterRef("project"), organisation=OuterRef("organisation"))
    parties = Party.objects.in_force().filter(
        Exists(waiting.filter(Exists(held), project=OuterRef("project"))), ~Exists(theirs), project__in=under_way
    )
    rows = parties.exclude(kind=Party.Kind.INSPECTION).select_related("project__client", "organisation")
    for party in rows.order_by("project__code", "kind", "organisation__name"):
        named = found.setdefault(party.project, [])
        if str(party.organisation) not in named:
            named.append(str(party.organisation))
    return list(found.items())
