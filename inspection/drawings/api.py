"""Drawings in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import Json, person_of
from accounts.models import Person
from accounts.rights import require
from accounts.serializers import Because
from inspection.drawings import actions, queries, serializers
from inspection.drawings.models import Drawing, DrawingRevision
from inspection.drawings.shown import shown_of
from inspection.foundation.attachments import UploadedContent
from inspection.photos.api import image
from inspection.photos.picture import MOST_BYTES
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.models import InspectionArea, Project, Section
from inspection.projects.preconditions import NotThere


class DrawingReads(GenericAPIView):
    serializer_class = serializers.DrawingOut
    queryset = Drawing.objects.none()

    def get_queryset(self) -> QuerySet[Drawing]:
        return queries.drawings_seen(person_of(self.request))


def named(by: Person, rows: Any, pk: UUID | None, field: str, project: UUID | None = None) -> Any:
    """A thing that a request names, as far as the person sees it; None where none is named."""
    if pk is None:
        return None
    found = rows.visible_to(by).filter(pk=pk)
    if project:
        found = found.filter(structure__project=project).select_related("structure__project")
    thing = found.first()
    if thing is None:
        raise NotThere("There is no such thing, or it is not yours to see.", field=field)
    return thing


def told(by: Person, pk: UUID, status: int = 200) -> Response:
    return Response(serializers.DrawingOut(queries.drawings_seen(by).get(pk=pk)).data, status=status)


def _read(sent: dict[str, Any]) -> dict[str, Any]:
    """What was sent, with the bytes of its file; no more of them than are taken."""
    return {**sent, "file": UploadedContent(sent["file"].name, sent["file"].read(MOST_BYTES + 1))}


class DrawingList(DrawingReads, ListAPIView):
    """Drawings that you may see, with their revisions and the areas that each shows; or keep one."""

    parser_classes = (MultiPartParser, Json)

    def get_queryset(self) -> QuerySet[Drawing]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")

    @extend_schema(parameters=[OF_PROJECT])
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request={"multipart/form-data": serializers.DrawingSent},
        responses={201: serializers.DrawingOut, 200: serializers.DrawingOut},
    )
    def post(self, request: Request) -> Response:
        """Keep one with its first revision. 200 for the same sent again, 409 for other content under its id."""
        by = person_of(request)
        require(by, *actions.KEEPERS, to="keep a drawing")
        asked = serializers.DrawingSent(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = _read(dict(asked.validated_data))
        project = named(by, Project.objects, sent.pop("project"), "project")
        section = named(by, Section.objects, sent.pop("section"), "section", project.pk)
        kept, new = actions.add_drawing(by, project=project, section=section, **sent)
        return told(by, kept.drawing_id, 201 if new else 200)


class DrawingDetail(DrawingReads, RetrieveAPIView):
    """One drawing."""


class DrawingWrites(Writes):
    queryset = Drawing.objects.none()

    def drawing(self, request: Request, pk: UUID) -> Drawing:
        by = person_of(request)
        found = get_object_or_404(queries.drawings_seen(by), pk=pk)
        require(by, *actions.KEEPERS, to="change a drawing")
        return found


class DrawingRevise(DrawingWrites):
    serializer_class = serializers.RevisionSent
    parser_classes = (MultiPartParser, Json)

    @extend_schema(
        request={"multipart/form-data": serializers.RevisionSent},
        responses={201: serializers.DrawingOut, 200: serializers.DrawingOut},
    )
    def post(self, request: Request, pk: UUID) -> Response:
        """Keep a new revision, which stands from now on. 200 for the same sent again."""
        found = self.drawing(request, pk)
        _, new = actions.revise_drawing(person_of(request), drawing=found, **_read(self.sent(request)))
        return told(person_of(request), pk, 201 if new else 200)


class DrawingCorrect(DrawingWrites):
    serializer_class = serializers.DrawingCorrection

    @extend_schema(responses=serializers.DrawingOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Put right what was typed: number, title, section, and how the revision that stands is called."""
        by, found, sent = person_of(request), self.drawing(request, pk), self.sent(request)
        section = named(by, Section.objects, sent.pop("section"), "section", found.project_id)
        actions.correct_drawing(by, drawing=found, section=section, **sent)
        return told(by, pk)


class DrawingAreas(DrawingWrites):
    serializer_class = serializers.AreasSent

    @extend_schema(responses=serializers.DrawingOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say which areas the drawing shows, and where: these and no others."""
        by, found, rows = person_of(request), self.drawing(request, pk), self.sent(request)["areas"]
        seen = InspectionArea.objects.visible_to(by).filter(
            structure__project=found.project_id, pk__in=[row["area"] for row in rows]
        )
        known = {area.pk: area for area in seen.select_related("structure__project")}
        if any(row["area"] not in known for row in rows):
            raise NotThere("There is no such area, or it is not yours to see.", field="areas")
        placed = [actions.Placed(known[row["area"]], row["x"], row["y"]) for row in rows]
        actions.set_areas(by, drawing=found, areas=placed)
        return told(by, pk)


class RevisionImage(APIView):
    """The picture of a revision as it is shown: JPEG, its longer side at most 1600 pixels, no notes drawn over it."""

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, pk: UUID) -> HttpResponse:
        revision = get_object_or_404(queries.revisions_seen(person_of(request)), pk=pk)
        if not revision.has_picture:
            raise Http404
        return image(shown_of(revision, "page"))


class RevisionChange(Writes):
    queryset = DrawingRevision.objects.none()
    serializer_class = Because

    def done(self, request: Request, pk: UUID, act: Callable[..., Any]) -> Response:
        by = person_of(request)
        revision = get_object_or_404(queries.revisions_seen(by), pk=pk)
        require(by, *actions.KEEPERS, to="withdraw a revision")
        act(by, revision=revision, **self.sent(request))
        return told(by, revision.drawing_id)


class RevisionWithdraw(RevisionChange):
    @extend_schema(responses=serializers.DrawingOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Withdraw it with a reason; it stays readable. 409 where it is withdrawn already."""
        return self.done(request, pk, actions.withdraw_revision)


class RevisionRestore(RevisionChange):
    @extend_schema(responses=serializers.DrawingOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Bring it back with a reason. 409 where it is not withdrawn."""
        return self.done(request, pk, actions.restore_revision)
