"""Projects as the API shows them. Thicknesses are in micrometres, `*_um`; areas in square metres."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import person_of
from inspection.foundation.units import um
from inspection.projects.models import (
    Coat,
    CoatingSystem,
    DataSheet,
    DataSheetRow,
    InspectionArea,
    Party,
    Project,
    Scope,
    Section,
    StripeCoat,
)

THROUGH = "Of all coats up to this one; after the last, the total that the system states, where it states one"
TOTAL = "Of the whole film, where the specification states it apart from the coats"


@extend_schema_field({"type": "number", "nullable": True})
class Micrometres(serializers.Field):
    """A stored thickness in nm, read as µm; exact."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(read_only=True, **kwargs)

    def to_representation(self, value: int | None) -> int | float | None:
        return None if value is None else um(value)


class Moment(serializers.DateTimeField):
    """A moment with its time zone; without one nobody can tell which hour is meant."""

    def enforce_timezone(self, value: Any) -> Any:
        if value.tzinfo is None:
            raise serializers.ValidationError("Give the time zone too, such as 2026-03-04T14:05:00+01:00.")
        return super().enforce_timezone(value)


class ProjectSerializer(serializers.ModelSerializer):
    client = serializers.CharField(source="client.name", read_only=True)
    contractor = serializers.CharField(source="contractor.name", read_only=True, allow_null=True, default=None)
    area_count = serializers.IntegerField(read_only=True)
    area_m2 = serializers.DecimalField(max_digits=14, decimal_places=2, read_only=True)

    class Meta:
        model = Project
        fields = (
            "id", "code", "name", "client", "contractor", "time_zone", "unit", "shift_starts", "closed_at",
            "area_count", "area_m2",
        )  # fmt: skip
        read_only_fields = fields

    def to_representation(self, project: Project) -> dict[str, Any]:
        """Another contractor than their own is not named to a contractor's people."""
        shown: dict[str, Any] = super().to_representation(project)
        request = self.context.get("request")
        if request and person_of(request).names_no_contractor(project.contractor_id):
            shown["contractor"] = None
        return shown


class PersonOfParty(serializers.Serializer):
    name = serializers.CharField(source="person.name")
    role = serializers.CharField()


class ScopeSerializer(serializers.ModelSerializer):
    class Meta:
        model = Scope
        fields = ("id", "party", "section", "area", "begun_at", "ended_at")
        read_only_fields = fields


class PartySerializer(serializers.ModelSerializer):
    organisation_name = serializers.CharField(source="organisation.name", read_only=True)
    named = serializers.BooleanField(
        source="is_named", read_only=True, help_text="The project itself names it, so that it can't be ended"
    )
    people = serializers.SerializerMethodField(help_text="Who takes part for it")
    scope = serializers.SerializerMethodField(
        help_text="What is given to a painting contractor; where nothing is, its people see all of the project"
    )

    class Meta:
        model = Party
        fields = (
            "id", "project", "organisation", "organisation_name", "kind", "named", "begun_at", "ended_at", "people",
            "scope",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(PersonOfParty(many=True))
    def get_people(self, party: Party) -> Any:
        return PersonOfParty(self.context["people"].get(party.pk, []), many=True).data

    @extend_schema_field(ScopeSerializer(many=True))
    def get_scope(self, party: Party) -> Any:
        return ScopeSerializer([scope for scope in party.scope.all() if scope.ended_at is None], many=True).data


class SheetRowSerializer(serializers.ModelSerializer):
    """A line of the table: hours at a steel temperature in °C, before the next product; empty for whatever follows."""

    temperature_c = serializers.DecimalField(
        max_digits=4, decimal_places=1, read_only=True, allow_null=True, help_text="None for hours of the coat’s own"
    )

    class Meta:
        model = DataSheetRow
        fields = (
            "temperature_c",
            "next_product",
            "recoat_min_hours",
            "recoat_max_hours",
            "hard_dry_hours",
            "pot_life_hours",
        )
        read_only_fields = fields


class DataSheetSerializer(serializers.ModelSerializer):
    rows = SheetRowSerializer(many=True, read_only=True)

    class Meta:
        model = DataSheet
        fields = (
            "id", "product", "revision", "mixing_by_volume", "mixing_by_mass", "mixing_tolerance_pct",
            "induction_minutes", "pot_life_hours", "pot_life_at_c", "thinner", "thinner_max_pct",
            "air_min_c", "air_max_c", "surface_min_c", "surface_max_c",
            "humidity_min_pct", "humidity_max_pct", "rows",
        )  # fmt: skip
        read_only_fields = fields


class StripeSerializer(serializers.ModelSerializer):
    """A step of its own beside the coat; it adds nothing to the thicknesses specified."""

    class Meta:
        model = StripeCoat
        fields = ("id", "side", "name", "product", "method", "welds", "edges", "cut_outs", "bolts")
        read_only_fields = fields


class CoatSerializer(serializers.ModelSerializer):
    minimum_um = Micrometres(source="minimum_nm")
    nominal_um = Micrometres(source="nominal_nm")
    maximum_um = Micrometres(source="maximum_nm")
    through_minimum_um = Micrometres(source="through.minimum", help_text=THROUGH)
    through_nominal_um = Micrometres(source="through.nominal", help_text=THROUGH)
    through_maximum_um = Micrometres(source="through.maximum", help_text=THROUGH)
    declared: Any = serializers.DictField(
        read_only=True, help_text="Figures of a declared rule: shares in %, areas in m²; empty for a published one"
    )
    decides = serializers.BooleanField(read_only=True, help_text="False where the coat is measured for control only")
    recoat_rows: Any = SheetRowSerializer(
        many=True,
        read_only=True,
        help_text="By its data sheet where that says it, else by the coat’s own hours, at no temperature",
    )
    data_sheet: Any = DataSheetSerializer(read_only=True, allow_null=True)
    stripes: Any = StripeSerializer(many=True, read_only=True)

    class Meta:
        model = Coat
        fields = (
            "id", "order", "carries_on", "name", "product", "colour",
            "minimum_um", "nominal_um", "maximum_um", "through_minimum_um",
            "through_nominal_um", "through_maximum_um", "volume_solids_pct", "recoat_min_hours", "recoat_max_hours",
            "air_min_c", "air_max_c", "surface_min_c", "surface_max_c", "humidity_min_pct", "humidity_max_pct",
            "margin_min_c", "rule", "pa2_level", "declared_name", "declared_document", "declared", "decides",
            "recoat_rows", "data_sheet", "stripes",
        )  # fmt: skip
        read_only_fields = fields


class SystemSerializer(serializers.ModelSerializer):
    profile_min_um = Micrometres(source="profile_min_nm")
    profile_max_um = Micrometres(source="profile_max_nm")
    salts_as = serializers.CharField(
        read_only=True, help_text="What the limit of salts is expressed as: mixed, nacl, chloride, or not said"
    )
    steelwork_grade = serializers.CharField(read_only=True, help_text="P1, P2, P3 by ISO 8501-3, or not specified")
    total_minimum_um = Micrometres(source="total_minimum_nm", help_text=TOTAL)
    total_nominal_um = Micrometres(source="total_nominal_nm", help_text=TOTAL)
    total_maximum_um = Micrometres(source="total_maximum_nm", help_text=TOTAL)
    coats = CoatSerializer(many=True, read_only=True)

    class Meta:
        model = CoatingSystem
        fields = (
            "id", "project", "name", "number", "revises", "applies_from", "applied_at", "taken_back_at", "why",
            "specification_revision", "preparation_grade", "profile_min_um", "profile_max_um", "salts_max_mg_m2",
            "salts_as", "dust_max_quantity", "dust_max_size", "steelwork_grade", "first_coat_within_h",
            "total_minimum_um", "total_nominal_um", "total_maximum_um", "coats",
        )  # fmt: skip
        read_only_fields = fields


class AreaSerializer(serializers.ModelSerializer):
    project = serializers.UUIDField(source="structure.project_id", read_only=True)
    structure_name = serializers.CharField(source="structure.name", read_only=True)
    section_path = serializers.CharField(
        source="section.path", read_only=True, allow_null=True, default=None,
        help_text="The names of its sections from the top down; null where it lies directly in the structure",
    )  # fmt: skip

    made_from: Any = serializers.PrimaryKeyRelatedField(
        many=True, read_only=True, help_text="The retired areas that were divided or merged to make it"
    )

    class Meta:
        model = InspectionArea
        fields = (
            "id", "project", "structure", "structure_name", "section", "section_path", "system", "code", "name",
            "area_m2", "edges_m", "welds_m", "tank_sizes", "shape", "retired_at", "retired_why", "made_from",
        )  # fmt: skip
        read_only_fields = fields


class SectionSerializer(serializers.ModelSerializer):
    project = serializers.UUIDField(source="structure.project_id", read_only=True)

    class Meta:
        model = Section
        fields = ("id", "project", "structure", "parent", "name", "path")
        read_only_fields = fields
