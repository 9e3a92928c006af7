"""Drawings and notes on them as the API takes and shows them."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from rest_framework import serializers

from accounts.api import Strict
from inspection.drawings import queries
from inspection.drawings.actions import LONGEST, MOST_PAGES
from inspection.drawings.models import PARTS, Drawing, DrawingArea, DrawingNote, DrawingRevision
from inspection.works.entering import LONGEST_NOTE

FROM_LEFT, FROM_TOP = f"Parts of {PARTS} of the width, from the left", f"Parts of {PARTS} of the height, from the top"
OWN_ID = "Made by the sender (UUID version 7); sending it again is safe"
MOST_AREAS = 2_000


def _part(words: str) -> serializers.IntegerField:
    return serializers.IntegerField(
        min_value=0, max_value=PARTS, required=False, allow_null=True, default=None, help_text=words
    )


class RevisionSent(Strict):
    """As multipart/form-data."""

    id = serializers.UUIDField(help_text=OWN_ID)
    revision = serializers.CharField(max_length=LONGEST["revision"], help_text="As it is written on the drawing")
    file = serializers.FileField(help_text="PDF, PNG, JPEG, WebP or HEIC, at most 25 MB; kept as it comes")
    page = serializers.IntegerField(
        min_value=1, max_value=MOST_PAGES, required=False, default=1, help_text="Of a PDF: which page is the drawing"
    )


class DrawingSent(RevisionSent):
    project = serializers.UUIDField()
    number = serializers.CharField(max_length=LONGEST["number"])
    title = serializers.CharField(max_length=LONGEST["title"])
    section = serializers.UUIDField(required=False, allow_null=True, default=None)


class DrawingCorrection(Strict):
    number = serializers.CharField(max_length=LONGEST["number"])
    title = serializers.CharField(max_length=LONGEST["title"])
    revision = serializers.CharField(max_length=LONGEST["revision"], help_text="Of the one that stands")
    section = serializers.UUIDField(allow_null=True)
    reason = serializers.CharField(max_length=1_000)


class AreaPlaced(Strict):
    area = serializers.UUIDField()
    x = _part(FROM_LEFT)
    y = _part(FROM_TOP)


class AreasSent(Strict):
    areas = serializers.ListField(
        child=AreaPlaced(), max_length=MOST_AREAS, help_text="All that the drawing shows, and no others"
    )


class NoteContent(Strict):
    id = serializers.UUIDField(help_text=OWN_ID)
    text = serializers.CharField(max_length=LONGEST_NOTE)
    x = _part(FROM_LEFT)
    y = _part(FROM_TOP)
    area = serializers.UUIDField(required=False, allow_null=True, default=None)
    at = serializers.DateTimeField(help_text="When it was seen")


class NoteSent(NoteContent):
    revision = serializers.UUIDField(help_text="The id of the revision that it is put on")


class NoteCorrection(NoteContent):
    reason = serializers.CharField(max_length=1_000)


class NoteShown(Strict):
    shown = serializers.BooleanField(help_text="Shown to the client and to the contractor whose area it is")


class DrawingRevisionOut(serializers.ModelSerializer):
    by = serializers.CharField(source="by_name", read_only=True)
    sha256 = serializers.CharField(source="file_id", read_only=True, help_text="Of the file as it came")
    image = serializers.SerializerMethodField(help_text="Where it is shown as JPEG; none where no picture can be made")

    class Meta:
        model = DrawingRevision
        fields = ("id", "drawing", "order", "revision", "format", "page", "width", "height", "sha256", "digest", "by",
                  "at", "withdrawn_at", "withdrawn_why", "image")  # fmt: skip
        read_only_fields = fields

    def get_image(self, revision: DrawingRevision) -> str | None:
        return reverse("api_drawing_image", args=[revision.pk]) if revision.has_picture else None


class DrawingAreaOut(serializers.ModelSerializer):
    code = serializers.CharField(source="area.code", read_only=True)

    class Meta:
        model = DrawingArea
        fields = ("area", "code", "x", "y", "at")
        read_only_fields = fields


class DrawingOut(serializers.ModelSerializer):
    revisions = DrawingRevisionOut(many=True, read_only=True)
    areas = DrawingAreaOut(many=True, read_only=True)
    standing = serializers.SerializerMethodField(
        help_text="The id of the revision that stands; none where all are withdrawn"
    )

    class Meta:
        model = Drawing
        fields = ("id", "project", "section", "number", "title", "standing", "revisions", "areas")
        read_only_fields = fields

    def get_standing(self, drawing: Drawing) -> str | None:
        now = queries.standing(drawing)
        return str(now.pk) if now else None


class DrawingNoteOut(serializers.ModelSerializer):
    by = serializers.CharField(source="by_name", read_only=True)
    replaced_by = serializers.SerializerMethodField()

    class Meta:
        model = DrawingNote
        fields = ("id", "drawing", "revision", "number", "version", "text", "x", "y", "area", "at", "by", "received_at",
                  "shown", "digest", "replaces", "replaced_by", "why", "withdrawn_at", "withdrawn_why")  # fmt: skip
        read_only_fields = fields

    def get_replaced_by(self, note: DrawingNote) -> str | None:
        later: Any = getattr(note, "replaced_by", None)
        return str(later.pk) if later else None
