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
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import person_of
from accounts.models import Role
from accounts.rights import require
from inspection.projects.api import OF_PROJECT, Writes, of_project
from reports.daily import answering, queries, reviewing, serializers
from reports.daily.against import doubts_of
from reports.daily.models import ClientWord, DailyReport
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


class ReportWrites(Writes):
    queryset = DailyReport.objects.none()

    def told(self, request: Request, pk: UUID) -> Response:
        """The report as it stands now."""
        report = get_object_or_404(queries.reports_seen_by(person_of(request)), pk=pk)
        doubts = doubts_of(list(report.issues.all()))
        return Response(ReportSerializer(report, context={"request": request, "doubts": doubts}).data)


class ReportReview(ReportWrites):
    serializer_class = serializers.ReportReviewIn

    @extend_schema(responses=ReportSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that its draft was looked through, by somebody who wrote nothing of the day. 409 where it has changed."""
        by = person_of(request)
        found = get_object_or_404(queries.reports_seen_by(by), pk=pk)
        require(by, *reviewing.REVIEWERS, to="review a daily report")
        reviewing.review(by, report=found, **self.sent(request))
        return self.told(request, pk)


class ReportUnreview(ReportWrites):
    serializer_class = serializers.ReportBackIn

    @extend_schema(responses=ReportSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take the review of its draft back, before anything is issued on it."""
        by = person_of(request)
        found = get_object_or_404(queries.reports_seen_by(by), pk=pk)
        require(by, *reviewing.REVIEWERS, to="take a review back")
        reviewing.take_review_back(by, report=found, **self.sent(request))
        return self.told(request, pk)


class ReportComment(ReportWrites):
    serializer_class = serializers.ReportCommentIn

    @extend_schema(responses=ReportSerializer)
    def post(self, request: Request, pk: UUID, revision: int) -> Response:
        """As the client, say something of a revision. 409 where you have said the same already."""
        by = person_of(request)
        found = get_object_or_404(queries.issues_seen_by(by), report=pk, revision=revision)
        require(by, Role.CLIENT, to="comment on a daily report")
        answering.comment(by, issue=found, **self.sent(request))
        return self.told(request, pk)


class ReportSign(ReportWrites):
    serializer_class = serializers.ReportSignIn

    @extend_schema(responses=ReportSerializer)
    def post(self, request: Request, pk: UUID, revision: int) -> Response:
        """As the client, sign the newest revision. 409 where it has been replaced, or you have signed it."""
        by = person_of(request)
        found = get_object_or_404(queries.issues_seen_by(by), report=pk, revision=revision)
        require(by, Role.CLIENT, to="sign a daily report")
        answering.sign(by, issue=found, **self.sent(request))
        return self.told(request, pk)


class ReportWordBack(ReportWrites):
    serializer_class = serializers.ReportBackIn

    @extend_schema(responses=ReportSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """As the client, take back what you said of a revision."""
        by = person_of(request)
        rows: Any = ClientWord.objects.visible_to(by)
        word = get_object_or_404(rows.select_related("issue"), pk=pk)
        require(by, Role.CLIENT, to="take back what was said of a daily report")
        answering.take_back(by, word=word, **self.sent(request))
        return self.told(request, word.issue.report_id)
