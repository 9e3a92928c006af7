"""A file of readings as the API takes it, and how it is told to be read."""

from __future__ import annotations

from rest_framework import serializers

from inspection.fieldwork.reading_shape import MEANINGS
from inspection.fieldwork.serializers import ThicknessHead
from inspection.foundation.shaping import CHOICES, MOST_A_SPOT, MOST_COLUMNS
from inspection.projects.serializers import Moment
from inspection.projects.table_serializers import AskedShown, FaultShown, FileSent, TableShapeSent


class ShapeSent(TableShapeSent):
    """How the lines and columns of a file are read."""

    columns = serializers.ListField(
        child=serializers.ChoiceField([one.name for one in MEANINGS], allow_blank=True), max_length=MOST_COLUMNS,
        help_text="By place, what each column is; empty is not read. Several may be `thickness`: readings of one spot",
    )  # fmt: skip
    unit = serializers.ChoiceField(
        CHOICES["unit"], required=False, allow_blank=True, default="", help_text="Left out, as the file says"
    )
    per_spot = serializers.IntegerField(
        required=False, default=0, min_value=0, max_value=MOST_A_SPOT,
        help_text="So many readings in the order of the file are a spot, where no column is",
    )  # fmt: skip


class ThicknessFileSent(FileSent, ThicknessHead):
    """A file with the set-up of its measurement. Its text in `rows`, or its bytes in `content`."""

    first_reading_at = Moment(
        required=False, allow_null=True, default=None, help_text="Needed where the file has no times"
    )
    last_reading_at = Moment(required=False, allow_null=True, default=None)
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
