"""A file of readings as the API takes it, and how it is told to be read."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.reading_shape import MEANINGS
from inspection.fieldwork.serializers import ThicknessHead
from inspection.foundation.shaping import CHOICES, MOST_A_SPOT, MOST_COLUMNS, MOST_SKIPPED
from inspection.projects.serializers import Moment


class ShapeSent(Strict):
    """How the lines and columns of a file are read."""

    columns = serializers.ListField(
        child=serializers.ChoiceField([one.name for one in MEANINGS], allow_blank=True), max_length=MOST_COLUMNS,
        help_text="By place, what each column is; empty is not read. Several may be `thickness`: readings of one spot",
    )  # fmt: skip
    head = serializers.IntegerField(
        required=False, default=0, min_value=0, max_value=10**7,
        help_text="The line with the names of the columns, from 1; 0 without one",
    )  # fmt: skip
    skipped = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=10**7), required=False, default=list,
        max_length=MOST_SKIPPED, help_text="Lines below the head that are no readings",
    )  # fmt: skip
    sheet = serializers.IntegerField(
        required=False, default=0, min_value=0, max_value=100, help_text="Of a workbook, from 0"
    )
    separator = serializers.ChoiceField(
        CHOICES["separator"], required=False, allow_blank=True, default="",
        help_text="What parts the cells of a text; left out, as found",
    )  # fmt: skip
    unit = serializers.ChoiceField(
        CHOICES["unit"], required=False, allow_blank=True, default="", help_text="Left out, as the file says"
    )
    day_order = serializers.ChoiceField(
        CHOICES["day_order"], required=False, allow_blank=True, default="", help_text="Of days such as 03/04/2026"
    )
    day = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=10,
        help_text="Of the first reading, where the times have none: 2026-03-04",
    )  # fmt: skip
    per_spot = serializers.IntegerField(
        required=False, default=0, min_value=0, max_value=MOST_A_SPOT,
        help_text="So many readings in the order of the file are a spot, where no column is",
    )  # fmt: skip


class ThicknessFileSent(ThicknessHead):
    """A file with the set-up of its measurement. Its text in `rows`, or its bytes in `content`."""

    first_reading_at = Moment(
        required=False, allow_null=True, default=None, help_text="Needed where the file has no times"
    )
    last_reading_at = Moment(required=False, allow_null=True, default=None)
    name = serializers.CharField(max_length=200, help_text="What the file is called")
    rows = serializers.CharField(required=False, allow_blank=True, default="", trim_whitespace=False)
    content = serializers.CharField(required=False, allow_blank=True, default="", help_text="Base64, as of a workbook")
    shape = ShapeSent(required=False, allow_null=True, default=None)
    of_area = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=300,
        help_text="Of a file of several areas, the name in it of the one that is meant; send it again for each",
    )  # fmt: skip
    remember = serializers.BooleanField(
        required=False, default=False, help_text="Offer this shape for the gauge’s next file with the same head"
    )
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text="The same file or readings stored before are meant"
    )

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if bool(sent["rows"]) == bool(sent["content"]):
            raise serializers.ValidationError({"rows": "Give one: rows, or content."})
        try:
            packed = base64.b64decode(sent["content"], validate=True)
        except (binascii.Error, ValueError):
            raise serializers.ValidationError({"content": "This is no base64."}) from None
        sent["bytes"] = packed or sent["rows"].encode()
        return sent


class AskedShown(serializers.Serializer):
    part = serializers.CharField(source="field", help_text="Of the shape")
    message = serializers.CharField()


class FaultShown(serializers.Serializer):
    row = serializers.IntegerField(allow_null=True)
    field = serializers.CharField(allow_blank=True)
    message = serializers.CharField()


class FileLookedAt(serializers.Serializer):
    """What storing a file would give. Where `asked` is not empty, send `shape` again with what it asks for."""

    shape = serializers.DictField(help_text="As told, as remembered for the gauge, or as the file says")
    told_before = serializers.BooleanField(help_text="The shape is that of an earlier file of this gauge")
    asked = AskedShown(many=True)
    first_lines = serializers.ListField(child=serializers.ListField(child=serializers.CharField(allow_blank=True)))
    not_read = serializers.ListField(child=serializers.CharField(), help_text="Columns that mean nothing here")
    notes = serializers.ListField(child=serializers.CharField(), help_text="How it was read, where that is not plain")
    areas = serializers.ListField(child=serializers.CharField(), help_text="That rows name")
    readings = serializers.IntegerField()
    faults = FaultShown(many=True)
    verdict = serializers.CharField(allow_null=True)
    stored_before = serializers.ListField(child=serializers.CharField())
