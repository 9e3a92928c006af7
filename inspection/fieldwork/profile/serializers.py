"""Surface profile records as the API takes and shows them. Heights in µm or mil, all of a record in one unit."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.profile.recording import (
    MOST_BASE_METAL,
    MOST_LOCATIONS,
    MOST_READINGS,
    LocationSent,
)
from inspection.fieldwork.serializers import (
    OF_AREA,
    ObservedSent,
    OnAreaShown,
    RecordSent,
    StandingOfRecord,
    ThicknessSentField,
    WithWarnings,
)
from inspection.fieldwork.storing import LONGEST_REASON
from inspection.foundation.units import Unit, um
from inspection.projects.serializers import Micrometres


class LocationSentSerializer(Strict):
    """One location, and the heights as the instrument showed them."""

    apparatus = serializers.CharField(required=False, allow_blank=True, default="", max_length=LONGEST_REASON)
    readings_um = serializers.ListField(
        child=ThicknessSentField(Unit.UM), required=False, min_length=1, max_length=MOST_READINGS
    )
    readings_mil = serializers.ListField(
        child=ThicknessSentField(Unit.MIL), required=False, min_length=1, max_length=MOST_READINGS,
        help_text="Instead of `readings_um`",
    )  # fmt: skip

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("readings_um" in attrs) == ("readings_mil" in attrs):
            raise serializers.ValidationError({"readings_um": "Give readings_um or readings_mil, one of the two."})
        return attrs


class ProfileSent(ObservedSent, RecordSent):
    method = serializers.ChoiceField(ProfileRecord.Method.choices)
    location_value = serializers.ChoiceField(ProfileRecord.LocationValue.choices)
    readings_a_location = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=MOST_READINGS,
        help_text="How many the specification asks for; left out, as many as the method asks",
    )  # fmt: skip
    film_um = ThicknessSentField(
        Unit.UM, required=False, default=0, help_text="Of a replica tape, subtracted from each"
    )
    locations = serializers.ListField(child=LocationSentSerializer(), min_length=1, max_length=MOST_LOCATIONS)
    abrasive = serializers.ChoiceField(
        ProfileRecord.Abrasive.choices, required=False, allow_blank=True, default="",
        help_text="By which comparator its grade is told, which gives thickness readings their correction",
    )  # fmt: skip
    tape_grade = serializers.ChoiceField(
        ProfileRecord.TapeGrade.choices, required=False, allow_blank=True, default="", help_text="Of a replica tape"
    )
    consumable_batch = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=LONGEST_REASON, help_text="Batch of the replica tape"
    )
    consumable_expires = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="Last day of the replica tape"
    )
    base_metal_um = serializers.ListField(
        child=ThicknessSentField(Unit.UM), required=False, max_length=MOST_BASE_METAL,
        help_text="Readings of a coating thickness gauge on the bare blasted steel",
    )  # fmt: skip
    base_metal_gauge = serializers.UUIDField(required=False, allow_null=True, default=None)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        attrs["film_nm"] = attrs.pop("film_um")
        attrs["base_metal_nm"] = attrs.pop("base_metal_um", [])
        attrs["locations"] = [
            LocationSent(at.get("readings_um") or at["readings_mil"], at["apparatus"]) for at in attrs["locations"]
        ]
        return attrs


class ProfileSerializer(StandingOfRecord, OnAreaShown):
    film_um = Micrometres(source="film_nm")
    mean_um = Micrometres(source="mean_nm")
    lowest_um = Micrometres(source="lowest_nm")
    highest_um = Micrometres(source="highest_nm")

    class Meta:
        model = ProfileRecord
        fields: tuple[str, ...] = (
            *OF_AREA, "gauge", "method", "location_value", "film_um", "readings_a_location", "reading_count",
            "mean_um", "lowest_um", "highest_um", "standing",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields


class ProfileDetailSerializer(ProfileSerializer):
    abrasive = serializers.CharField(read_only=True, help_text="grit, shot, or empty where it was not said")
    tape_grade = serializers.CharField(read_only=True, help_text="Of a replica tape; empty where it was not said")
    consumable_batch = serializers.CharField(read_only=True)
    consumable_expires = serializers.DateField(read_only=True, allow_null=True)
    base_metal_um = serializers.SerializerMethodField()
    base_metal_gauge: Any = serializers.PrimaryKeyRelatedField(read_only=True, allow_null=True)

    class Meta(ProfileSerializer.Meta):
        fields = (
            *ProfileSerializer.Meta.fields,
            "abrasive",
            "tape_grade",
            "consumable_batch",
            "consumable_expires",
            "base_metal_um",
            "base_metal_gauge",
            "locations",
            "calculation",
            "inputs",
            "result",
        )
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field(serializers.ListField(child=serializers.FloatField()))
    def get_base_metal_um(self, record: ProfileRecord) -> list[int | float]:
        return [um(nm) for nm in record.base_metal_nm]


class ProfileAnswer(WithWarnings, ProfileDetailSerializer):
    """What a sender is answered: the record, and what casts doubt on it."""

    class Meta(ProfileDetailSerializer.Meta):
        fields = (*ProfileDetailSerializer.Meta.fields, "warnings")
        read_only_fields: tuple[str, ...] = fields
