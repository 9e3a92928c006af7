"""Printed sheets as the API takes and shows them. Thicknesses in nanometres; moments in UTC."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from accounts.serializers import Because
from inspection.fieldwork.printed.models import PrintedSheet
from inspection.fieldwork.printed.queries import AreaShown


class PlaceSent(Strict):
    area = serializers.UUIDField()
    coat = serializers.UUIDField()


class SheetSent(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    project = serializers.UUIDField()
    places = PlaceSent(many=True, allow_empty=False, help_text="In the order of the paper")


class SheetWhy(Because):
    pass


class SheetOut(serializers.ModelSerializer):
    area_count = serializers.IntegerField(read_only=True, help_text="How many areas it has")
    entered_count = serializers.IntegerField(read_only=True, help_text="How many of them were entered")

    class Meta:
        model = PrintedSheet
        fields: tuple[str, ...] = (
            "id", "project", "code", "printed_by", "printed_at", "withdrawn_at", "withdrawn_why", "area_count",
            "entered_count",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields


class AreaOut(serializers.Serializer):
    """One area of the paper, and what was planned for it when it was printed."""

    id = serializers.UUIDField(source="printed.pk", help_text="Store its readings as thickness with this id")
    code = serializers.CharField(source="printed.code")
    area = serializers.UUIDField(source="printed.area_id")
    coat = serializers.UUIDField(source="printed.coat_id")
    rule = serializers.CharField(source="printed.plan.rule")
    spots = serializers.IntegerField(source="printed.plan.spots")
    readings_a_spot = serializers.IntegerField(source="printed.plan.readings_a_spot")
    minimum_nm = serializers.IntegerField(source="printed.plan.minimum_nm", allow_null=True)
    nominal_nm = serializers.IntegerField(source="printed.plan.nominal_nm", allow_null=True)
    maximum_nm = serializers.IntegerField(source="printed.plan.maximum_nm", allow_null=True)
    entered = serializers.SerializerMethodField(help_text="Whether a record was stored from it, under its id")

    def get_entered(self, shown: AreaShown) -> bool:
        return shown.record is not None


class SheetDetailOut(SheetOut):
    areas = serializers.SerializerMethodField()

    class Meta(SheetOut.Meta):
        fields = (*SheetOut.Meta.fields, "areas")
        read_only_fields = fields

    @extend_schema_field(AreaOut(many=True))
    def get_areas(self, sheet: PrintedSheet) -> list[dict[str, Any]]:
        return list(AreaOut(self.context["areas"], many=True).data)
