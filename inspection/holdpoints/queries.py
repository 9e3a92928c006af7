"""Reads of hold points: who sees them, the board, who may decide."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Person, Role
from inspection.holdpoints.evidence import Evidence, evidence_of_many
from inspection.holdpoints.ground import on_board
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.models import InspectionArea, Membership, Project

# One signature covers no more than can be looked at on one page.
MOST_AT_ONCE = 200


def points_seen_by(person: Person) -> QuerySet[HoldPoint]:
    points: QuerySet[HoldPoint] = HoldPoint.objects.visible_to(person)
    return points


def board(
    person: Person, *, project: UUID | None = None, place: str = "", words: str = "", retired: bool = False,
    first: int = 0, many: int = 50,
) -> tuple[dict[str, int], list[HoldPoint]]:  # fmt: skip
    """How many of the points a person sees lie in each place of the board, and so many of them, from the first on.

    Those of areas out of use are left out, unless they are asked for.
    """
    points = points_seen_by(person) if retired else points_seen_by(person).filter(area__retired_at=None)
    return on_board(_narrowed(points, project, words), place=place, first=first, many=many)


def _narrowed(points: QuerySet[HoldPoint], project: UUID | None, words: str) -> QuerySet[HoldPoint]:
    if project:
        points = points.filter(project=project)
    if words:
        named = InspectionArea.objects.filter(Q(code__icontains=words) | Q(name__icontains=words))
        points = points.filter(area__in=named)
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


def to_release(person: Person, project: Project) -> list[Evidence]:
    """The evidence under the first points of the project that wait, can be released and are the person's to decide.

    Without those whose climate failed: they are accepted with a reason, and decided by themselves.
    """
    points = points_seen_by(person).filter(project=project, area__retired_at=None, lies=HoldPoint.Lies.READY)
    ordered = points.select_related("project", "area", "coat").order_by("area__code", "coat__order", "kind", "pk")
    kinds = {kind: may_decide(person, HoldPoint(project=project, kind=kind)) for kind in HoldPoint.Kind.values}
    mine = list(ordered.filter(kind__in=[kind for kind, may in kinds.items() if may])[:MOST_AT_ONCE])
    evidence = evidence_of_many(mine)
    return [evidence[point.pk] for point in mine if not evidence[point.pk].failed_climate]
