"""Photos as the API takes and shows them."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from rest_framework import serializers

from accounts.api import Strict
from inspection.photos import layers, subjects
from inspection.photos.models import Photo, PhotoLayer

SHA_256 = r"^[0-9a-f]{64}$"


class OfThing(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    of = serializers.ChoiceField(choices=list(subjects.SUBJECTS), help_text="What it is of")
    thing = serializers.UUIDField(help_text="The id of that")
    caption = serializers.CharField(max_length=200, required=False, allow_blank=True, default="")
    at_once = serializers.BooleanField(
        required=False, default=False, help_text="Sent when it was taken, so that the camera's clock can be compared"
    )


class PhotoSent(OfThing):
    """As multipart/form-data."""

    file = serializers.FileField(help_text="JPEG, PNG, HEIC or WebP, at most 25 MB; kept as it comes")


class PhotoInParts(OfThing):
    """As JSON, once its parts came."""

    digest = serializers.RegexField(SHA_256, help_text="SHA-256 of the photo, in small hexadecimal digits")
    name = serializers.CharField(max_length=200, required=False, allow_blank=True, default="", help_text="Of the file")


class PartsCame(serializers.Serializer):
    digest = serializers.CharField()
    came = serializers.IntegerField(help_text="So many bytes are there; send what comes after those")
    most = serializers.IntegerField(help_text="So many bytes a part may have")


class PhotoChanged(Strict):
    caption = serializers.CharField(max_length=200, allow_blank=True)
    shown = serializers.BooleanField(
        required=False, allow_null=True, default=None, help_text="Shown to the client and the contractor of the area"
    )
    in_report = serializers.BooleanField(
        required=False, allow_null=True, default=None, help_text="Printed in the daily report beside its record"
    )


class Shape(Strict):
    shape = serializers.ChoiceField(choices=layers.SHAPE_NAMES)
    to = serializers.ListField(
        child=serializers.FloatField(), min_length=2, max_length=2, required=False, allow_null=True, default=None,
        help_text="Where an arrow points, and how far a circle reaches",
    )  # fmt: skip
    text = serializers.CharField(max_length=layers.LONGEST_TEXT, required=False, allow_blank=True, default="")

    def get_fields(self) -> dict[str, Any]:
        """With `from`, which no attribute can be called."""
        begin = serializers.ListField(
            child=serializers.FloatField(), min_length=2, max_length=2, help_text="Shares of width and height, 0 to 1"
        )
        return {**super().get_fields(), "from": begin}


class LayerSent(Strict):
    after = serializers.IntegerField(min_value=0, max_value=32_000, help_text="The layer that it takes the place of")
    shapes = Shape(many=True, help_text="All that is to be drawn; none: nothing is drawn")


class ShapeOut(serializers.Serializer):
    shape = serializers.ChoiceField(choices=layers.SHAPE_NAMES)
    to = serializers.ListField(child=serializers.FloatField(), allow_null=True)
    text = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), "from": serializers.ListField(child=serializers.FloatField())}


class LayerOut(serializers.ModelSerializer):
    shapes = ShapeOut(many=True, read_only=True)
    by = serializers.SerializerMethodField()

    class Meta:
        model = PhotoLayer
        fields = ("id", "photo", "number", "shapes", "by", "at")
        read_only_fields = fields

    def get_by(self, layer: PhotoLayer) -> str:
        return layer.by.name_at(layer.at)


class PhotoOut(serializers.ModelSerializer):
    by = serializers.SerializerMethodField()
    of = serializers.SerializerMethodField(help_text="What it is of")
    thing = serializers.SerializerMethodField(help_text="The id of that")
    came_with = serializers.UUIDField(
        source="came_with_id", read_only=True, allow_null=True,
        help_text="Where its record was corrected since: the version that it was sent with",
    )  # fmt: skip
    digest = serializers.CharField(source="file_id", read_only=True, help_text="SHA-256 of the bytes as they came")
    size = serializers.IntegerField(source="file.size", read_only=True, help_text="Of the bytes as they came")
    image = serializers.SerializerMethodField(help_text="Where it is shown as JPEG, without position and camera data")

    class Meta:
        model = Photo
        fields: tuple[str, ...] = (
            "id", "project", "area", "of", "thing", "came_with", "digest", "size", "format", "width", "height",
            "taken_at", "received_at", "at_once", "by", "caption", "shown", "in_report", "withdrawn_at",
            "withdrawn_why", "image",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields

    def get_by(self, photo: Photo) -> str:
        return photo.by_name

    def get_of(self, photo: Photo) -> str:
        return subjects.subject_of(photo)[0]

    def get_thing(self, photo: Photo) -> str:
        return str(subjects.subject_of(photo)[2].pk)

    def get_image(self, photo: Photo) -> str:
        return reverse("api_photo_image", args=[photo.pk])


class PhotoDetail(PhotoOut):
    told = serializers.SerializerMethodField(help_text="What is odd about it, in words")
    layers = LayerOut(many=True, read_only=True)

    class Meta(PhotoOut.Meta):
        fields = (*PhotoOut.Meta.fields, "told", "layers")
        read_only_fields = fields

    def get_told(self, photo: Photo) -> list[str]:
        told: list[str] = self.context.get("told", [])
        return told
