"""Projects, their areas and systems in the API: to read, by the same sight as the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from inspection.foundation.refusals import Refused
from inspection.projects import queries
from inspection.projects.models import CoatingSystem, InspectionArea, Party, Project, Section
from inspection.projects.serializers import (
    AreaSerializer,
    PartySerializer,
    ProjectSerializer,
    SectionSerializer,
    SystemSerializer,
)

OF_PROJECT = OpenApiParameter("project", UUID, description="Only those of this project")


def of_project(rows: QuerySet[Any], text: str | None, path: str) -> QuerySet[Any]:
    """Only the rows of the project named in the address, if one is named; 404 for what is no id."""
    if not text:
        return rows
    try:
        return rows.filter(**{path: UUID(text)})
    except ValueError:
        raise Http404 from None


def id_of(text: str) -> UUID:
    """The id that an address names; 404 for what is no id."""
    try:
        return UUID(text)
    except ValueError:
        raise Http404 from None


class ProjectReads(GenericAPIView):
    serializer_class = ProjectSerializer
    queryset = Project.objects.none()

    def get_queryset(self) -> QuerySet[Project]:
        return queries.project_rows(person_of(self.request))


class ProjectList(ProjectReads, ListAPIView):
    """Projects you take part in."""


class ProjectDetail(ProjectReads, RetrieveAPIView):
    """One project."""


def parties_told(parties: list[Party], person: Person) -> list[dict[str, Any]]:
    """The parties as the API shows them to a person, in a fixed number of queries."""
    context = {"people": queries.people_of(parties, person)}
    return [dict(each) for each in PartySerializer(parties, many=True, context=context).data]


class PartyReads(GenericAPIView):
    serializer_class = PartySerializer
    queryset = Party.objects.none()

    def get_queryset(self) -> QuerySet[Party]:
        return queries.parties_shown(person_of(self.request)).prefetch_related("scope")


@extend_schema(parameters=[OF_PROJECT])
class PartyList(PartyReads, ListAPIView):
    """Parties of your projects, with their people and, of painting contractors, what is given to them."""

    def get_queryset(self) -> QuerySet[Party]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(parties_told(list(page or []), person_of(request)))


class PartyDetail(PartyReads, RetrieveAPIView):
    """One party."""

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(parties_told([self.get_object()], person_of(request))[0])


class AreaReads(GenericAPIView):
    serializer_class = AreaSerializer
    queryset = InspectionArea.objects.none()

    def get_queryset(self) -> QuerySet[InspectionArea]:
        return queries.areas_seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class AreaList(AreaReads, ListAPIView):
    """Inspection areas of your projects."""

    def get_queryset(self) -> QuerySet[InspectionArea]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "structure__project")


class AreaDetail(AreaReads, RetrieveAPIView):
    """One inspection area."""


class SectionReads(GenericAPIView):
    serializer_class = SectionSerializer
    queryset = Section.objects.none()

    def get_queryset(self) -> QuerySet[Section]:
        return queries.sections_seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class SectionList(SectionReads, ListAPIView):
    """Sections of the structures of your projects."""

    def get_queryset(self) -> QuerySet[Section]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "structure__project")


class SectionDetail(SectionReads, RetrieveAPIView):
    """One section."""


class SystemReads(GenericAPIView):
    serializer_class = SystemSerializer
    queryset = CoatingSystem.objects.none()

    def get_queryset(self) -> QuerySet[CoatingSystem]:
        return queries.systems_seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class SystemList(SystemReads, ListAPIView):
    """Coating systems of your projects, with their coats."""

    def get_queryset(self) -> QuerySet[CoatingSystem]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")


class SystemDetail(SystemReads, RetrieveAPIView):
    """One coating system with its coats."""


def one_of(text: str | None, allowed: list[str], field: str) -> str:
    if text and text not in allowed:
        raise Refused(f"Give one of {', '.join(allowed)}.", field=field)
    return text or ""


class Writes(GenericAPIView):
    """One change, by the action that the page calls."""

    def sent(self, request: Request) -> dict[str, Any]:
        sent = self.get_serializer(data=request.data)
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)
