"""The address from which the field app takes its pack: once, again only where it changed, and on where it broke off."""

from __future__ import annotations

import re
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request

from accounts.api import person_of
from inspection.fieldapp.pack import Pack, pack_of
from inspection.projects.models import Project

FROM = re.compile(r"bytes=(\d{1,9})-")
KNOWN = OpenApiParameter("If-None-Match", str, OpenApiParameter.HEADER, description="The version that you have")
REST = OpenApiParameter(
    "Range", str, OpenApiParameter.HEADER, description="`bytes=n-`, with `If-Range` the version: the rest of it, plain"
)


class FieldPack(GenericAPIView):
    """The field pack of a project: what you may see of it, to be taken where there is no signal."""

    queryset = Project.objects.none()

    @extend_schema(
        operation_id="field_pack_retrieve", parameters=[KNOWN, REST],
        responses={200: OpenApiTypes.OBJECT, 206: OpenApiTypes.OBJECT, 304: None},
    )  # fmt: skip
    def get(self, request: Request, project: UUID) -> HttpResponse:
        """One body, gzipped. 304 where `If-None-Match` is its version; 206 with the rest where `Range` asks for it."""
        person = person_of(request)
        site = get_object_or_404(Project.objects.visible_to(person), pk=project)
        pack = pack_of(person, site, timezone.now())
        headers = request.headers
        if _named(headers.get("If-None-Match", ""), pack):
            return _told(HttpResponse(status=304), pack)
        begun = FROM.fullmatch(headers.get("Range", ""))
        if begun and _named(headers.get("If-Range", ""), pack) and int(begun[1]) < len(pack.body):
            return _rest(pack, int(begun[1]))
        return _whole(pack, zipped="gzip" in headers.get("Accept-Encoding", ""))


def _whole(pack: Pack, *, zipped: bool) -> HttpResponse:
    answer = HttpResponse(pack.packed if zipped else pack.body, content_type="application/json")
    if zipped:
        answer["Content-Encoding"] = "gzip"
    # How much there is when it is unpacked, by which the app tells how far it is.
    answer["X-Plain-Length"] = str(len(pack.body))
    return _told(answer, pack)


def _rest(pack: Pack, first: int) -> HttpResponse:
    """The bytes from there on, as they are unpacked: a browser that asks for a part takes it plain."""
    answer = HttpResponse(pack.body[first:], content_type="application/json", status=206)
    answer["Content-Range"] = f"bytes {first}-{len(pack.body) - 1}/{len(pack.body)}"
    return _told(answer, pack)


def _told(answer: HttpResponse, pack: Pack) -> HttpResponse:
    answer["ETag"] = f'"{pack.version}"'
    answer["Vary"] = "Accept-Encoding, Cookie, Authorization"
    # Kept by the app itself, and by nothing on the way; the next person on this phone is given nothing of it.
    answer["Cache-Control"] = "private, no-store"
    return answer


def _named(header: str, pack: Pack) -> bool:
    return f'"{pack.version}"' in header
