"""The heads of papers in the API."""

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
from reports.papers.actions import enter_project_head
from reports.papers.models import ProjectHead


class ProjectHeadIn(serializers.Serializer):
    """What is not sent is empty from then on."""

    order_number = serializers.CharField(max_length=80, allow_blank=True, default="")
    references = serializers.CharField(allow_blank=True, default="", help_text="One a line")
    distribution = serializers.CharField(allow_blank=True, default="", help_text="One a line")


class ProjectHeadOut(serializers.ModelSerializer):
    class Meta:
        model = ProjectHead
        fields = ("order_number", "references", "distribution", "entered_at")
        read_only_fields = fields


class ProjectPaperHead(Writes):
    """Order number, references and distribution list, as the project's papers bear them."""

    queryset = ProjectHead.objects.none()
    serializer_class = ProjectHeadIn
    pagination_class = None

    @extend_schema(responses=ProjectHeadOut(many=True))
    def get(self, request: Request, project: UUID) -> Response:
        """As entered, the newest first; that one holds."""
        by = person_of(request)
        found = get_object_or_404(Project.objects.visible_to(by), pk=project)
        rows = ProjectHead.objects.visible_to(by).filter(project=found).order_by("-entered_at", "-pk")
        return Response(ProjectHeadOut(rows, many=True).data)

    @extend_schema(responses={201: ProjectHeadOut})
    def post(self, request: Request, project: UUID) -> Response:
        """Enter them anew, whole; papers of days from now on bear them."""
        by = person_of(request)
        found = get_object_or_404(Project.objects.visible_to(by), pk=project)
        require(by, Role.QUALITY_MANAGER, to="set the head of a project’s papers")
        head = enter_project_head(by, project=found, **self.sent(request))
        return Response(ProjectHeadOut(head).data, status=201)
