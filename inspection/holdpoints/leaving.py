"""Points that wait for whoever leaves."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person, Role
from accounts.signals import Unfinished, unfinished
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import Membership, Project


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


def without_anybody_to_decide(projects: QuerySet[Project]) -> QuerySet[Project]:
    """Projects under way in which hold points wait and nobody of the client takes part any more."""
    members = Membership.objects.in_force().filter(project=OuterRef("pk"), role=Role.CLIENT)
    waiting = HoldPoint.objects.filter(project=OuterRef("pk"), state=HoldPoint.State.WAITING, kind=HoldPoint.Kind.HOLD)
    return projects.filter(Exists(waiting), closed_at=None).exclude(Exists(members))
