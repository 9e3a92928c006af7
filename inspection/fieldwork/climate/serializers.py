"""Climate records as the API takes and shows them. Temperatures in °C, humidity in %."""

from __future__ import annotations

from rest_framework import serializers

from inspection.fieldwork.climate.recording import SEA_LEVEL_HPA
from inspection.fieldwork.models import ClimateRecord
from inspection.fieldwork.serializers import (
    COMMON,
    AfterCoatSent,
    ObservedSent,
    RecordShown,
    TenthSent,
    WithWarnings,
)


class ClimateSent(ObservedSent, AfterCoatSent):
    dry_bulb_c = TenthSent()
    wet_bulb_c = TenthSent(required=False, allow_null=True, default=None)
    wet_bulb_over = serializers.ChoiceField(
        ["water", "ice"], required=False, allow_blank=True, default="", help_text="Asked at or below 0 °C"
    )
    relative_humidity_pct = TenthSent(required=False, allow_null=True, default=None)
    surface_c = TenthSent(help_text="Steel, coldest place")
    pressure_hpa = serializers.DecimalField(max_digits=6, decimal_places=2, required=False, default=SEA_LEVEL_HPA)


class ClimateSerializer(RecordShown):
    class Meta:
        model = ClimateRecord
        fields: tuple[str, ...] = (
            *COMMON, "gauge", "dry_bulb_c", "wet_bulb_c", "relative_humidity_pct", "surface_c", "pressure_hpa",
            "found_humidity_pct", "dew_point_c", "margin_c",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields


class ClimateDetailSerializer(ClimateSerializer):
    class Meta(ClimateSerializer.Meta):
        fields = (*ClimateSerializer.Meta.fields, "inputs", "result")
        read_only_fields: tuple[str, ...] = fields


class ClimateAnswer(WithWarnings, ClimateDetailSerializer):
    """What a sender is answered: the record, and what casts doubt on it."""

    class Meta(ClimateDetailSerializer.Meta):
        fields = (*ClimateDetailSerializer.Meta.fields, "warnings")
        read_only_fields: tuple[str, ...] = fields
