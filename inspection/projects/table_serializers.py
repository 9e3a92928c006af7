"""A table as the API takes it, how it is told to be read, and what it is answered with; whatever the table holds."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from rest_framework import serializers

from accounts.api import Strict
from inspection.foundation.shaping import CHOICES, MOST_COLUMNS, MOST_SKIPPED

LONGEST_MEANING = 40


class TableShapeSent(Strict):
    """How the lines and columns of a table are read."""

    columns = serializers.ListField(
        child=serializers.CharField(allow_blank=True, max_length=LONGEST_MEANING), max_length=MOST_COLUMNS,
        help_text="By place, what each column is; empty is not read",
    )  # fmt: skip
    head = serializers.IntegerField(
        required=False, default=0, min_value=0, max_value=10**7,
        help_text="The line with the names of the columns, from 1; 0 without one",
    )  # fmt: skip
    skipped = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=10**7), required=False, default=list,
        max_length=MOST_SKIPPED, help_text="Lines below the head that are no rows",
    )  # fmt: skip
    sheet = serializers.IntegerField(
        required=False, default=0, min_value=0, max_value=100, help_text="Of a workbook, from 0"
    )
    separator = serializers.ChoiceField(
        CHOICES["separator"], required=False, allow_blank=True, default="",
        help_text="What parts the cells of a text; left out, as found",
    )  # fmt: skip
    day_order = serializers.ChoiceField(
        CHOICES["day_order"], required=False, allow_blank=True, default="", help_text="Of days such as 03/04/2026"
    )
    blanks = serializers.ChoiceField(
        CHOICES["blanks"], required=False, allow_blank=True, default="",
        help_text="What empty cells below a filled one mean, where a thing is written once for several rows",
    )  # fmt: skip
    day = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=10,
        help_text="Of the first row, where the times have none: 2026-03-04",
    )  # fmt: skip


class FileSent(Strict):
    """A file: its text in `rows`, or its bytes in `content`."""

    name = serializers.CharField(max_length=200, help_text="What the file is called")
    rows = serializers.CharField(required=False, allow_blank=True, default="", trim_whitespace=False)
    content = serializers.CharField(required=False, allow_blank=True, default="", help_text="Base64, as of a workbook")

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if bool(sent["rows"]) == bool(sent["content"]):
            raise serializers.ValidationError({"rows": "Give one: rows, or content."})
        try:
            packed = base64.b64decode(sent["content"], validate=True)
        except (binascii.Error, ValueError):
            raise serializers.ValidationError({"content": "This is no base64."}) from None
        sent["bytes"] = packed or sent["rows"].encode()
        return sent


class TableFileSent(FileSent):
    shape = TableShapeSent(required=False, allow_null=True, default=None)
    preview = serializers.BooleanField(required=False, default=False, help_text="Look at it only; nothing is stored")
    remember = serializers.BooleanField(
        required=False, default=False, help_text="Read your organisation’s next such table with the same head so"
    )
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text="What is doubtful, or was stored before, is meant"
    )


class AreaFileSent(TableFileSent):
    reason = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=1_000,
        help_text="Needed where a row changes an area that is there",
    )  # fmt: skip


class AskedShown(serializers.Serializer):
    part = serializers.CharField(source="field", help_text="Of the shape")
    message = serializers.CharField()


class FaultShown(serializers.Serializer):
    row = serializers.IntegerField(allow_null=True)
    field = serializers.CharField(allow_blank=True)
    message = serializers.CharField()


class TableAnswer(serializers.Serializer):
    """A table as it is read, looked at or stored. Where `asked` is not empty, send `shape` with what it asks for."""

    stored = serializers.BooleanField()
    shape = serializers.DictField(help_text="As told, as remembered, or as the file says")
    told_before = serializers.BooleanField(help_text="The shape is that of an earlier table with the same head")
    asked = AskedShown(many=True)
    first_lines = serializers.ListField(child=serializers.ListField(child=serializers.CharField(allow_blank=True)))
    notes = serializers.ListField(child=serializers.CharField(), help_text="How it was read, where that is not plain")
    rows = serializers.IntegerField()
    found = serializers.CharField(allow_blank=True, help_text="What it holds, in words")
    faults = FaultShown(many=True)
    doubts = FaultShown(many=True, help_text="What is stored only when it is `confirmed`")
    stored_before = serializers.ListField(child=serializers.CharField())
