"""Daily reports in the API, to read: what was issued, and its files."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from accounts.api import person_of
from inspection.projects.api import OF_PROJECT, of_project
from reports.daily import queries
from reports.daily.against import doubts_of
from reports.daily.models import DailyReport
from reports.daily.serializers import ReportSerializer
from reports.daily.views import pdf


class ReportReads(GenericAPIView):
    serializer_class = ReportSerializer
    queryset = DailyReport.objects.none()

    def get_queryset(self) -> QuerySet[DailyReport]:
        return queries.reports_seen_by(person_of(self.request))

    def doubts_about(self, reports: Any) -> None:
        """Find out once, for all reports about to be shown, what has come up against their revisions."""
        self.doubts = doubts_of([issue for report in reports for issue in report.issues.all()])

    def get_serializer_context(self) -> dict[str, Any]:
        return {**super().get_serializer_context(), "doubts": getattr(self, "doubts", {})}


@extend_schema(parameters=[OF_PROJECT])
class ReportList(ReportReads, ListAPIView):
    """Daily reports of your projects, with their issued revisions."""

    def get_queryset(self) -> QuerySet[DailyReport]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")

    def paginate_queryset(self, queryset: Any) -> Any:
        page = super().paginate_queryset(queryset)
        self.doubts_about(page or ())
        return page


class ReportDetail(ReportReads, RetrieveAPIView):
    """One daily report with its issued revisions."""

    def get_object(self) -> DailyReport:
        report: DailyReport = super().get_object()
        self.doubts_about([report])
        return report


class Pdf(BaseRenderer):
    """Lets a client ask for application/pdf; what goes wrong is still told in JSON."""

    media_type = "application/pdf"
    format = "pdf"

    def render(self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None) -> bytes:
        answer: bytes = JSONRenderer().render(data)
        return answer


class ReportFile(APIView):
    """The PDF of an issued revision; its `Repr-Digest` header is the SHA-256 it was issued with."""

    renderer_classes = (JSONRenderer, Pdf)

    @extend_schema(responses={(200, "application/pdf"): OpenApiResponse(OpenApiTypes.BINARY)})
    def get(self, request: Request, pk: UUID, revision: int) -> HttpResponse:
        issues = queries.issues_seen_by(person_of(request))
        issue = get_object_or_404(issues, report=pk, revision=revision)
        return pdf(issue.file, issue.file_name)
