"""Plans in the API: revisions with their lines to read, and the lines of a draft to put."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from inspection.plan import lines, queries
from inspection.plan.models import PlanLine, PlanRevision
from inspection.plan.serializers import PlanLinesIn, PlanRevisionOut, PlanRevisionWithLines, line_sent
from inspection.projects.api import OF_PROJECT, Writes, of_project


class RevisionReads(GenericAPIView):
    serializer_class = PlanRevisionOut
    queryset = PlanRevision.objects.none()

    def get_queryset(self) -> QuerySet[PlanRevision]:
        return queries.revisions_seen_by(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT])
class RevisionList(RevisionReads, ListAPIView):
    """Revisions of the inspection and test plans of your projects."""

    def get_queryset(self) -> QuerySet[PlanRevision]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "plan__project")


def with_lines(revisions: QuerySet[PlanRevision], person: Person) -> QuerySet[PlanRevision]:
    letters = queries.letters_told_to(person)
    ordered = PlanLine.objects.order_by("order_key").prefetch_related("requirements", letters)
    return revisions.prefetch_related(Prefetch("lines", ordered))


class RevisionDetail(RevisionReads, RetrieveAPIView):
    """One revision with its lines."""

    serializer_class = PlanRevisionWithLines

    def get_queryset(self) -> QuerySet[PlanRevision]:
        return with_lines(super().get_queryset(), person_of(self.request))


class RevisionLines(Writes):
    serializer_class = PlanLinesIn
    queryset = PlanRevision.objects.none()

    @extend_schema(responses=PlanRevisionWithLines)
    def post(self, request: Request, pk: UUID) -> Response:
        """Put lines of a draft by their numbers, all or none; a line that none of them names stays."""
        by = person_of(request)
        revision = get_object_or_404(queries.revisions_seen_by(by), pk=pk)
        sent = [line_sent(dict(values)) for values in self.sent(request)["lines"]]
        lines.put_lines(by, revision=revision, lines=sent)
        return Response(PlanRevisionWithLines(with_lines(queries.revisions_seen_by(by), by).get(pk=pk)).data)
