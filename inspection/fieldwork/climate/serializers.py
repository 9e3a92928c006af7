"""Climate records as the API takes and shows them. Temperatures in °C, humidity in %."""

from __future__ import annotations

from typing import Any

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


class AirAndSteelSent(ObservedSent):
    """What is read of the climate, wherever it is read."""

    dry_bulb_c = TenthSent()
    wet_bulb_c = TenthSent(required=False, allow_null=True, default=None)
    wet_bulb_over = serializers.ChoiceField(
        ["water", "ice"], required=False, allow_blank=True, default="", help_text="Asked at or below 0 °C"
    )
    relative_humidity_pct = TenthSent(required=False, allow_null=True, default=None)
    surface_c = TenthSent(help_text="Steel, coldest place")
    warmest_surface_c = TenthSent(required=False, allow_null=True, default=None, help_text="Steel, warmest place")
    wind_m_s = TenthSent(required=False, allow_null=True, default=None)
    rain = serializers.ChoiceField(ClimateRecord.Rain.choices, required=False, allow_null=True, default=None)
    dehumidifier_on = serializers.BooleanField(required=False, allow_null=True, default=None)
    pressure_hpa = serializers.DecimalField(max_digits=6, decimal_places=2, required=False, default=SEA_LEVEL_HPA)


class ClimateSent(AirAndSteelSent, AfterCoatSent):
    coat = serializers.UUIDField(
        required=False, allow_null=True, default=None,
        help_text="Null only where a reading of a climate station is corrected that was for none",
    )  # fmt: skip


class ClimateSerializer(RecordShown):
    coat_name = serializers.CharField(source="coat.name", read_only=True, allow_null=True)
    coat: Any = serializers.PrimaryKeyRelatedField(read_only=True, allow_null=True)
    station: Any = serializers.PrimaryKeyRelatedField(read_only=True, allow_null=True)

    class Meta:
        model = ClimateRecord
        fields: tuple[str, ...] = (
            *COMMON, "station", "gauge", "dry_bulb_c", "wet_bulb_c", "relative_humidity_pct", "surface_c",
            "warmest_surface_c", "wind_m_s", "rain", "dehumidifier_on", "pressure_hpa",
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
