"""The heads of papers in the API: the company’s own, and each project’s."""

from __future__ import annotations

import base64
from uuid import UUID

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent
from inspection.projects.api import Writes
from inspection.projects.models import Project
from reports.papers.actions import (
    LOGO_MOST_BYTES,
    LONGEST_LINE,
    SETTERS,
    enter_company_head,
    enter_project_head,
)
from reports.papers.models import CompanyHead, ProjectHead

# So many letters hold one byte more than a logo may have, by which the action tells that it is too large.
LOGO_MOST_BASE64 = 4 * (LOGO_MOST_BYTES // 3 + 2)


class CompanyHeadIn(serializers.Serializer):
    """The address, whole, as it is printed; the logo that was entered last stays unless it is to go."""

    address = serializers.CharField(
        max_length=6 * (LONGEST_LINE + 1), allow_blank=True, help_text="With its line breaks, at most six lines"
    )
    logo = serializers.CharField(
        allow_null=True, default=None, max_length=LOGO_MOST_BASE64,
        help_text="A new logo, PNG or JPEG, as base64 (RFC 4648); null leaves the one there is",
    )  # fmt: skip
    without_logo = serializers.BooleanField(default=False, help_text="Print no logo any more")

    def validate_logo(self, text: str | None) -> UploadedContent | None:
        """The bytes, whose kind is found in themselves."""
        if text is None:
            return None
        try:
            return UploadedContent("logo", base64.b64decode(text, validate=True))
        except ValueError:
            raise serializers.ValidationError("This is not base64; send the bytes of the file so written.") from None


class CompanyHeadOut(serializers.ModelSerializer):
    logo_sha256 = serializers.CharField(
        source="logo_id", read_only=True, allow_null=True, help_text="Of the logo’s file; null where there is none"
    )

    class Meta:
        model = CompanyHead
        fields = ("address", "logo_sha256", "entered_at")
        read_only_fields = fields


class CompanyPaperHead(Writes):
    """Address and logo of the company, as its papers bear them."""

    queryset = CompanyHead.objects.none()
    serializer_class = CompanyHeadIn
    pagination_class = None

    @extend_schema(responses=CompanyHeadOut(many=True))
    def get(self, request: Request) -> Response:
        """As entered, the newest first; that one holds."""
        require(person_of(request), *SETTERS, to="set the head of the company’s papers")
        return Response(CompanyHeadOut(CompanyHead.objects.order_by("-entered_at", "-pk"), many=True).data)

    @extend_schema(responses={201: CompanyHeadOut})
    def post(self, request: Request) -> Response:
        """Enter them anew; papers of days from now on bear them."""
        by = person_of(request)
        require(by, *SETTERS, to="set the head of the company’s papers")
        return Response(CompanyHeadOut(enter_company_head(by, **self.sent(request))).data, status=201)


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
