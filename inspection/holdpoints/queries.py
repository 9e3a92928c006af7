"""Reads of hold points: who sees them, the board, who may decide."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Person, Role
from inspection.holdpoints.ground import Placed, on_board
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.models import Membership


def points_seen_by(person: Person) -> QuerySet[HoldPoint]:
    points: QuerySet[HoldPoint] = HoldPoint.objects.visible_to(person)
    return points


def board(
    person: Person, *, project: UUID | None = None, place: str = "", words: str = "", retired: bool = False,
    first: int = 0, many: int = 50,
) -> tuple[dict[str, int], list[Placed]]:  # fmt: skip
    """How many of the points a person sees lie in each place of the board, and so many of them, from the first on.

    Those of areas out of use are left out, unless they are asked for.
    """
    points = points_seen_by(person) if retired else points_seen_by(person).filter(area__retired_at=None)
    return on_board(_narrowed(points, project, words), place=place, first=first, many=many)


def _narrowed(points: QuerySet[HoldPoint], project: UUID | None, words: str) -> QuerySet[HoldPoint]:
    if project:
        points = points.filter(project=project)
    if words:
        points = points.filter(Q(area__code__icontains=words) | Q(area__name__icontains=words))
    return points


def last_decisions(points: Iterable[UUID]) -> dict[UUID, Decision]:
    """The newest decision of each point."""
    rows = Decision.objects.filter(point__in=list(points)).order_by("number").defer("evidence")
    return {row.point_id: row for row in rows}


def may_decide(person: Person, point: HoldPoint) -> bool:
    """Hold points are the client's, by a member of the project; witness points a quality manager may decide as well."""
    if point.kind == HoldPoint.Kind.WITNESS and person.has_role(Role.QUALITY_MANAGER):
        return True
    return person.has_role(Role.CLIENT) and (
        Membership.objects.in_force().filter(project=point.project_id, person=person, role=Role.CLIENT).exists()
    )
