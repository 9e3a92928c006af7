"""How the days of a project are reported, in the API."""

from __future__ import annotations

from uuid import UUID

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Role
from accounts.rights import require
from inspection.projects.api import Writes
from inspection.projects.models import Project
from reports.daily import dividing
from reports.daily.models import Reporting
from reports.daily.serializers import ReportBackIn


class ReportingIn(serializers.Serializer):
    one_a = serializers.ChoiceField(Reporting.OneA.choices, help_text="A paper for each of these")
    from_day = serializers.DateField(help_text="The first day that is reported so")
    shift_names = serializers.ListField(
        child=serializers.CharField(max_length=40), default=list, max_length=24,
        help_text="Where it is one a shift: of each of the project’s shifts the name, in their order",
    )  # fmt: skip
    reason = serializers.CharField(max_length=2000, allow_blank=True, default="")


class ReportingOut(serializers.ModelSerializer):
    """A declaration, or, where it withdraws one, that it was taken back."""

    shift_names = serializers.SerializerMethodField()
    entered_by = serializers.CharField(source="entered_by.name", read_only=True)

    class Meta:
        model = Reporting
        fields = ("id", "one_a", "shift_names", "from_day", "reason", "entered_by", "entered_at", "withdraws")
        read_only_fields = fields

    def get_shift_names(self, row: Reporting) -> list[str]:
        return row.shift_names.splitlines()


class ProjectReporting(Writes):
    """Into which papers the days of the project are divided, from which day on."""

    queryset = Reporting.objects.none()
    serializer_class = ReportingIn
    pagination_class = None

    @extend_schema(responses=ReportingOut(many=True))
    def get(self, request: Request, project: UUID) -> Response:
        """As declared, the newest first; of a day the newest holds that has begun by then and was not taken back."""
        by = person_of(request)
        found = get_object_or_404(Project.objects.visible_to(by), pk=project)
        rows = Reporting.objects.visible_to(by).filter(project=found).select_related("entered_by")
        return Response(ReportingOut(rows.order_by("-entered_at", "-pk"), many=True).data)

    @extend_schema(responses={201: ReportingOut})
    def post(self, request: Request, project: UUID) -> Response:
        """Declare it. 409 where a paper of these days is issued that would not be one of theirs any more."""
        by = person_of(request)
        found = get_object_or_404(Project.objects.visible_to(by), pk=project)
        require(by, Role.QUALITY_MANAGER, to="declare how its days are reported")
        row = dividing.declare_reporting(by, project=found, **self.sent(request))
        return Response(ReportingOut(row).data, status=201)


class ReportingBack(Writes):
    queryset = Reporting.objects.none()
    serializer_class = ReportBackIn

    @extend_schema(responses=ReportingOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a declaration back; the days are reported as before it. 409 as for declaring."""
        by = person_of(request)
        found = get_object_or_404(Reporting.objects.visible_to(by), pk=pk)
        require(by, Role.QUALITY_MANAGER, to="take such a declaration back")
        row = dividing.take_reporting_back(by, reporting=found, **self.sent(request))
        return Response(ReportingOut(row).data)
