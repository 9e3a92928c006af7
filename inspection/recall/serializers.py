"""Recalls as the API tells them."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from inspection.recall.batches import NAMES, Touched
from inspection.recall.foreseen import CORRECTED, REINSTATED, WITHDRAWN
from inspection.recall.models import Recall


def ids(about: str = "") -> serializers.ListField:
    return serializers.ListField(child=serializers.UUIDField(), help_text=about or None)


class TouchedOut(serializers.Serializer[Any]):
    """By id what rests on a batch: what its withdrawal would touch, or has touched."""

    mixes = ids("Made of it")
    lots = ids("That took of those mixes")
    areas = ids("Where those lots are")
    later = ids("Lots begun later over those areas")
    records = ids("Taken there since, of any kind; their readings stay accurate")
    points = ids("Released after a coat that it is in, or over that")
    reports = ids("Issued revisions that tell of those")


def touched_told(touched: Touched) -> Any:
    return TouchedOut(touched.ids).data


class RecallOut(serializers.ModelSerializer[Recall]):
    """A recall that was done, with what it touched as found then; what a recall of a certificate touched has a page."""

    way = serializers.ChoiceField(choices=[WITHDRAWN, CORRECTED, REINSTATED])
    by = serializers.CharField(source="by.name")
    touched = serializers.SerializerMethodField()
    nonconformances = serializers.SerializerMethodField(help_text="Raised by it")
    closed = serializers.SerializerMethodField(help_text="Nonconformances of earlier recalls that it closed")

    class Meta:
        model = Recall
        fields = ("id", "certificate", "batch", "way", "at", "by", "reason", "touched", "nonconformances", "closed")

    @extend_schema_field(TouchedOut(allow_null=True))
    def get_touched(self, row: Recall) -> Any:
        return {name: row.touched.get(name, []) for name in NAMES} if row.batch_id else None

    @extend_schema_field(ids())
    def get_nonconformances(self, row: Recall) -> list[str]:
        return list(row.touched.get("nonconformances", ()))

    @extend_schema_field(ids())
    def get_closed(self, row: Recall) -> list[str]:
        return list(row.touched.get("closed", ()))
