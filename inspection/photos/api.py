"""Photos in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet
from django.http import Http404, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request, is_form_media_type
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import Json, person_of
from accounts.rights import require
from accounts.serializers import Because
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.refusals import Refused
from inspection.photos import actions, parts, queries, serializers, subjects
from inspection.photos.models import Photo, PhotoLayer
from inspection.photos.picture import MOST_BYTES
from inspection.photos.shown import shown_of
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.preconditions import NotThere

RECORD = OpenApiParameter("record", str, description="Only those of this record, by its id")


class PhotoReads(GenericAPIView):
    queryset = Photo.objects.none()

    def get_queryset(self) -> QuerySet[Photo]:
        return queries.photos_seen(person_of(self.request))

    def told(self, photo: Photo) -> dict[str, Any]:
        by = person_of(self.request)
        layers = Prefetch("layers", PhotoLayer.objects.select_related("by"))
        row = queries.photos_seen(by).prefetch_related(layers).get(pk=photo.pk)
        return dict(serializers.PhotoDetail(row, context={"told": queries.told_of(by, row)}).data)


class PhotoList(PhotoReads, ListAPIView):
    """Photos that you may see, newest first; or send one."""

    serializer_class = serializers.PhotoOut
    parser_classes = (MultiPartParser, Json)

    def get_queryset(self) -> QuerySet[Photo]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        return of_project(rows, asked.get("record"), "record")

    @extend_schema(parameters=[OF_PROJECT, RECORD])
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request={"multipart/form-data": serializers.PhotoSent, "application/json": serializers.PhotoInParts},
        responses={201: serializers.PhotoDetail, 200: serializers.PhotoDetail},
    )
    def post(self, request: Request) -> Response:
        """Send one, whole as a form, or as JSON by the digest of what came in parts.

        201 when it is new, 200 when the same bytes came under its id before; 409 for others.
        """
        by = person_of(request)
        require(by, *queries.SENDERS, to="add a photo")
        whole = is_form_media_type(request.content_type)
        asked = (serializers.PhotoSent if whole else serializers.PhotoInParts)(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        try:
            thing = subjects.found(by, sent.pop("of"), sent.pop("thing"))
        except Http404:
            raise NotThere("There is no such thing, or it is not yours to see.", field="thing") from None
        if whole:
            file = sent.pop("file")
            photo, new = actions.add_photo(
                by, of=thing, file=UploadedContent(file.name, file.read(MOST_BYTES + 1)), **sent
            )
        else:
            photo, new = parts.add_photo(by, of=thing, **sent)
        return Response(self.told(photo), status=201 if new else 200)


class Bytes(BaseParser):
    """The body as it comes, up to one byte more than a part may have."""

    media_type = "application/octet-stream"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        return stream.read(parts.MOST_OF_A_PART + 1)


class PhotoParts(APIView):
    """What came so far of a photo that you send in parts, by its SHA-256. Nobody else hears of it."""

    parser_classes = (Bytes,)

    def told(self, digest: str, came: int) -> Response:
        return Response({"digest": digest, "came": came, "most": parts.MOST_OF_A_PART})

    @extend_schema(responses=serializers.PartsCame)
    def get(self, request: Request, digest: str) -> Response:
        """How many bytes are there: all of them where you sent the same photo before."""
        return self.told(digest, parts.came_of(person_of(request), digest))

    @extend_schema(
        parameters=[OpenApiParameter("from", int, required=True, description="How many bytes come before this part")],
        request={"application/octet-stream": OpenApiTypes.BINARY}, responses=serializers.PartsCame,
    )  # fmt: skip
    def put(self, request: Request, digest: str) -> Response:
        """Send what comes next. 409 where it does not follow on what is there; the same again changes nothing.

        What you give up is thrown away after 7 days.
        """
        by = person_of(request)
        require(by, *queries.SENDERS, to=parts.TO_SEND)
        begins = request.query_params.get("from", "")
        if not re.fullmatch(r"[0-9]{1,9}", begins):
            raise Refused("Say how many bytes come before this part, as a whole number.", field="from")
        content = request.data if isinstance(request.data, bytes) else b""
        came = parts.add_part(by, digest=digest, begins=int(begins), content=content)
        return self.told(digest, came)


class PhotoDetail(PhotoReads, RetrieveAPIView):
    """One photo with what is odd about it, and all that was drawn over it."""

    serializer_class = serializers.PhotoDetail

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(self.told(self.get_object()))


class PhotoImage(APIView):
    """The picture as it is shown: upright JPEG, its longer side at most 1600 pixels, nothing drawn over it."""

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, pk: UUID) -> HttpResponse:
        photo = get_object_or_404(queries.photos_seen(person_of(request)), pk=pk)
        return image(shown_of(photo, "page"))


def image(content: bytes) -> HttpResponse:
    return HttpResponse(content, content_type="image/jpeg")


class Changes(PhotoReads, Writes):
    """One change of a photo."""

    def done(self, request: Request, pk: UUID, act: Callable[..., Any]) -> Response:
        by = person_of(request)
        photo = get_object_or_404(queries.photos_seen(by), pk=pk)
        actions.refuse_strangers(by, photo)
        act(by, photo=photo, **self.sent(request))
        return Response(self.told(photo))


class PhotoChange(Changes):
    serializer_class = serializers.PhotoChanged

    @extend_schema(responses=serializers.PhotoDetail)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say what it shows, whether outside parties see it, and whether the daily report prints it."""
        return self.done(request, pk, actions.change_photo)


class PhotoWithdraw(Changes):
    serializer_class = Because

    @extend_schema(responses=serializers.PhotoDetail)
    def post(self, request: Request, pk: UUID) -> Response:
        """Withdraw it with a reason; the bytes stay. 409 where it is withdrawn already."""
        return self.done(request, pk, actions.withdraw_photo)


class PhotoRestore(Changes):
    serializer_class = Because

    @extend_schema(responses=serializers.PhotoDetail)
    def post(self, request: Request, pk: UUID) -> Response:
        """Bring it back with a reason. 409 where it is not withdrawn."""
        return self.done(request, pk, actions.restore_photo)


class PhotoMark(Changes):
    serializer_class = serializers.LayerSent

    @extend_schema(responses=serializers.PhotoDetail)
    def post(self, request: Request, pk: UUID) -> Response:
        """Draw arrows, circles and texts over it. 409 where somebody has drawn since."""
        return self.done(request, pk, actions.draw_over)
