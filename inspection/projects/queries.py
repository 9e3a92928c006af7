"""Reads of projects that are more than a line. They start from what the person may see."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Count, OuterRef, Prefetch, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from accounts.models import Person, RoleGrant
from accounts.models.people import SEES_EVERYTHING
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Membership, Project, Structure


def _of_areas(expression: Any) -> Subquery:
    areas = InspectionArea.objects.filter(structure__project=OuterRef("pk")).order_by()
    return Subquery(areas.values("structure__project").annotate(found=expression).values("found"))


def project_rows(person: Person) -> QuerySet[Project]:
    """Visible projects, open ones first, each with how many areas it has and how many square metres they are."""
    return (
        Project.objects.visible_to(person)
        .select_related("client", "contractor")
        .annotate(
            area_count=Coalesce(_of_areas(Count("pk")), 0),
            area_m2=Coalesce(_of_areas(Sum("area_m2")), Decimal(0)),
        )
        .order_by("closed_at", "code")
    )


def structures_of(project: Project) -> QuerySet[Structure]:
    return project.structures.annotate(area_count=Count("areas"), area_m2=Coalesce(Sum("areas__area_m2"), Decimal(0)))


def systems_of(project: Project) -> QuerySet[CoatingSystem]:
    return project.systems.prefetch_related(Prefetch("coats", Coat.objects.order_by("order")))


def areas_of(project: Project, words: str = "") -> QuerySet[InspectionArea]:
    """The project's areas, or those whose code or name holds the words."""
    areas = InspectionArea.objects.filter(structure__project=project).select_related("structure", "system")
    if words:
        areas = areas.filter(code__icontains=words) | areas.filter(name__icontains=words)
    return areas.order_by("structure__name", "code")


def members_of(project: Project) -> QuerySet[Membership]:
    return (
        Membership.objects.filter(project=project, ended_at=None)
        .select_related("person__organisation")
        .order_by("role", "person__name")
    )


def who_sees(people: Iterable[UUID], projects: Iterable[UUID]) -> set[tuple[UUID, UUID]]:
    """Each of the people with each of the projects they see, as `visible_to` has it; for whom to write to."""
    people, projects = list(people), list(projects)
    parts = Membership.objects.in_force().filter(person__in=people, project__in=projects)
    managers = RoleGrant.objects.filter(
        person__in=people, role__in=SEES_EVERYTHING, ended_at=None, person__is_active=True
    ).values_list("person", flat=True)
    everything = {(person, project) for person in managers for project in projects}
    return everything | set(parts.values_list("person", "project"))


def areas_seen_by(person: Person) -> QuerySet[InspectionArea]:
    areas: QuerySet[InspectionArea] = InspectionArea.objects.visible_to(person).select_related("structure", "system")
    return areas


def systems_seen_by(person: Person) -> QuerySet[CoatingSystem]:
    systems: QuerySet[CoatingSystem] = CoatingSystem.objects.visible_to(person).prefetch_related(
        Prefetch("coats", Coat.objects.order_by("order"))
    )
    return systems
