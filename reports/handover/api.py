"""What is lacking before a project can be handed over, in the API: the same rows and words as the page."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from inspection.projects.api import one_of
from inspection.projects.models import Project
from inspection.projects.queries import sections_seen_by
from reports.handover.lacking import BY_KEY, Scope
from reports.handover.views import chosen, window

SECTION = OpenApiParameter("section", UUID, description="Only what lies in this section, at any depth")
KIND = OpenApiParameter("kind", str, enum=list(BY_KEY), description="The kind to list; the first that lacks something")
PAGE = OpenApiParameter("page", int, description="Which window of the list, from 1")


class LackingKind(serializers.Serializer):
    kind = serializers.CharField()
    title = serializers.CharField()
    count = serializers.IntegerField()


class LackOut(serializers.Serializer):
    what = serializers.CharField()
    place = serializers.CharField()
    owner = serializers.CharField(help_text="Whose turn it is, by role or kind of party")
    since = serializers.DateTimeField(allow_null=True)
    days = serializers.IntegerField(allow_null=True, help_text="Whole days since then")
    address = serializers.CharField(help_text="The page on which it is put right")


class HandoverOut(serializers.Serializer):
    """Whether nothing is lacking, how many lack what, and a window of one kind."""

    ready = serializers.BooleanField()
    lacking = serializers.IntegerField()
    counts = LackingKind(many=True)
    kind = serializers.CharField(allow_null=True)
    page = serializers.IntegerField()
    pages = serializers.IntegerField()
    items = LackOut(many=True)


class Handover(GenericAPIView):
    """Could this project, or a section of it, be handed over today?"""

    queryset = Project.objects.none()
    serializer_class = HandoverOut

    @extend_schema(parameters=[SECTION, KIND, PAGE], responses={200: HandoverOut})
    def get(self, request: Request, project: UUID) -> Response:
        person, asked = person_of(request), request.query_params
        site = get_object_or_404(Project.objects.visible_to(person), pk=project)
        kind = one_of(asked.get("kind"), list(BY_KEY), "kind")
        section = None
        if wanted := asked.get("section"):
            sections = list(sections_seen_by(person).filter(structure__project=site).select_related("structure"))
            section = chosen(sections, wanted)
            if section is None:
                raise Http404
        seen = window(Scope(person, site, section, timezone.now()), kind, asked.get("page"))
        items: list[dict[str, Any]] = [
            {"what": lack.what, "place": lack.place, "owner": lack.owner, "since": lack.since, "days": days,
             "address": f"{settings.SITE_URL}{lack.url}"}
            for lack, days in seen.rows
        ]  # fmt: skip
        answer = {
            "ready": not seen.total,
            "lacking": seen.total,
            "counts": [{"kind": kind.key, "title": kind.title, "count": many} for kind, many in seen.counts],
            "kind": seen.kind.key if seen.kind else None,
            "page": seen.page.number if seen.page else 1,
            "pages": seen.page.paginator.num_pages if seen.page else 1,
            "items": items,
        }
        return Response(HandoverOut(answer).data)
