"""What the field app asks of the server besides the records' own addresses."""

from __future__ import annotations

from typing import Any

from django.middleware.csrf import get_token
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import person_of
from inspection.fieldapp import files
from inspection.fieldapp.serializers import WhoOut
from inspection.projects.models import Project


class Who(APIView):
    """Who is signed in on this phone, what time it is, which version of the app is current, and their projects."""

    @extend_schema(operation_id="field_who_retrieve", responses=WhoOut)
    def get(self, request: Request) -> Response:
        person = person_of(request)
        told: dict[str, Any] = {
            "person": person.pk, "name": person.name, "company": person.organisation.name,
            "csrf": get_token(request._request),  # noqa: SLF001 - the library's own way to it
            "app_version": files.app().version, "server_at": timezone.now(),
            "projects": Project.objects.visible_to(person).order_by("code"),
        }  # fmt: skip
        answer = Response(WhoOut(told).data)
        answer["Cache-Control"] = "private, no-store"
        return answer
