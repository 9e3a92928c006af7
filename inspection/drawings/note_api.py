"""Notes on drawings in the API."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.rights import require
from accounts.serializers import Because
from inspection.drawings import actions, noting, queries, serializers
from inspection.drawings.api import named
from inspection.drawings.models import DrawingNote, DrawingRevision
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.models import InspectionArea
from inspection.projects.preconditions import NotThere

OF_DRAWING = OpenApiParameter("drawing", UUID, description="Only those on this drawing")


def told(by: Person, note: DrawingNote, status: int = 200) -> Response:
    return Response(serializers.DrawingNoteOut(queries.notes_seen(by).get(pk=note.pk)).data, status=status)


def read(by: Person, revision: DrawingRevision, sent: dict[str, Any]) -> noting.NoteSent:
    area = named(by, InspectionArea.objects, sent["area"], "area", revision.drawing.project_id)
    return noting.NoteSent(text=sent["text"], at=sent["at"], x=sent["x"], y=sent["y"], area=area)


class NoteReads(GenericAPIView):
    serializer_class = serializers.DrawingNoteOut
    queryset = DrawingNote.objects.none()

    def get_queryset(self) -> QuerySet[DrawingNote]:
        return queries.notes_seen(person_of(self.request))


class NoteList(NoteReads, ListAPIView):
    """Notes on drawings that you may see, the current version of each, those withdrawn among them; or write one."""

    def get_queryset(self) -> QuerySet[DrawingNote]:
        asked = self.request.query_params
        rows = super().get_queryset().filter(replaced_by=None)
        rows = of_project(rows, asked.get("project"), "drawing__project")
        return of_project(rows, asked.get("drawing"), "drawing")

    @extend_schema(parameters=[OF_PROJECT, OF_DRAWING])
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request=serializers.NoteSent,
        responses={201: serializers.DrawingNoteOut, 200: serializers.DrawingNoteOut},
    )
    def post(self, request: Request) -> Response:
        """Put a note on a revision of a drawing. 200 for the same sent again, 409 for other content under its id.

        It is kept although the revision was replaced or withdrawn meanwhile.
        """
        by = person_of(request)
        require(by, *noting.WRITERS, to="write a note on a drawing")
        asked = serializers.NoteSent(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        revision = queries.revisions_seen(by).filter(pk=sent["revision"]).first()
        if revision is None:
            raise NotThere("There is no such drawing, or it is not yours to see.", field="revision")
        note, new = noting.write_note(by, id=sent["id"], revision=revision, sent=read(by, revision, sent))
        return told(by, note, 201 if new else 200)


class NoteDetail(NoteReads, RetrieveAPIView):
    """One version of a note."""


class NoteWrites(Writes):
    queryset = DrawingNote.objects.none()

    def note(self, by: Person, pk: UUID) -> DrawingNote:
        return get_object_or_404(queries.notes_seen(by), pk=pk)

    def done(self, request: Request, pk: UUID, act: Callable[..., DrawingNote]) -> Response:
        by = person_of(request)
        found = self.note(by, pk)
        noting.refuse_strangers(by, found)
        return told(by, act(by, note=found, **self.sent(request)))


class NoteCorrect(NoteWrites):
    serializer_class = serializers.NoteCorrection

    @extend_schema(responses={201: serializers.DrawingNoteOut, 200: serializers.DrawingNoteOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Put it right by a new version with all of its content, under its number. 409 where it was corrected."""
        by = person_of(request)
        found = self.note(by, pk)
        noting.refuse_strangers(by, found)
        sent = self.sent(request)
        content = read(by, queries.revisions_seen(by).get(pk=found.revision_id), sent)
        note, new = noting.correct_note(by, note=found, id=sent["id"], sent=content, reason=sent["reason"])
        return told(by, note, 201 if new else 200)


class NoteShow(NoteWrites):
    serializer_class = serializers.NoteShown

    @extend_schema(responses=serializers.DrawingNoteOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Show it to the client and to the contractor whose area it is, or to them no more."""
        by = person_of(request)
        found = self.note(by, pk)
        require(by, *actions.KEEPERS, to="say who sees a note")
        return told(by, noting.show_note(by, note=found, **self.sent(request)))


class NoteWithdraw(NoteWrites):
    serializer_class = Because

    @extend_schema(responses=serializers.DrawingNoteOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Withdraw it with a reason; it stays readable. 409 where it is withdrawn already."""
        return self.done(request, pk, noting.withdraw_note)


class NoteRestore(NoteWrites):
    serializer_class = Because

    @extend_schema(responses=serializers.DrawingNoteOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Bring it back with a reason. 409 where it is not withdrawn."""
        return self.done(request, pk, noting.restore_note)
