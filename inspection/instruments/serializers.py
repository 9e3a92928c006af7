"""Instruments, their papers and checks as the API takes and shows them. Thicknesses carry their unit in the name."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from inspection.foundation.refusals import Refused
from inspection.foundation.units import Unit, to_nm
from inspection.instruments import overdue
from inspection.instruments.models import (
    Certificate,
    CertifiedValue,
    Custody,
    Gauge,
    GaugeIncident,
    InstrumentRules,
    ReferenceStandard,
    Verification,
    VerificationPoint,
)
from inspection.instruments.site_checks import site_check_of
from inspection.projects.serializers import Micrometres, Moment


@extend_schema_field({"type": "number"})
class GaugeReading(serializers.Field):
    """A reading as a JSON number in the unit; on a zero plate it may lie a little below zero. Read into whole nm."""

    def __init__(self, unit: Unit, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.unit = unit

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int | float):
            raise serializers.ValidationError("Give a JSON number, such as 50.1, without quotation marks.")
        number = Decimal(str(data))
        try:
            nm = to_nm(abs(number), self.unit)
        except Refused as wrong:
            raise serializers.ValidationError([fault.message for fault in wrong.faults]) from None
        return -nm if number < 0 else nm

    def to_representation(self, value: Any) -> Any:
        return value


@extend_schema_field({"type": "number"})
class Figure(serializers.Field):
    """A JSON number, as a Decimal: of a reading in the unit of its instrument's kind."""

    def to_internal_value(self, data: Any) -> Decimal:
        if isinstance(data, bool) or not isinstance(data, int | float) or not math.isfinite(data):
            raise serializers.ValidationError("Give a JSON number, such as 84.2, without quotation marks.")
        return Decimal(str(data))

    def to_representation(self, value: Any) -> float:
        return float(value)


# --- what is sent -----------------------------------------------------------------------------------------------------
READINGS = ("readings_um", "readings_mil", "readings")


class PointIn(Strict):
    standards = serializers.ListField(
        child=serializers.UUIDField(), min_length=1, help_text="One standard, or a stack of them from the bottom up"
    )
    readings_um = serializers.ListField(child=GaugeReading(Unit.UM), required=False, help_text="In the order taken")
    readings_mil = serializers.ListField(
        child=GaugeReading(Unit.MIL), required=False, help_text="Instead of `readings_um`, in all points alike"
    )
    readings = serializers.ListField(
        child=Figure(), required=False,
        help_text="Instead, of an instrument that reads no thickness, in the `unit` of its `site_check`",
    )  # fmt: skip
    reference = Figure(
        required=False, allow_null=True, default=None,
        help_text="What the reference instrument showed, in that unit; of a standard solution its certificate says it",
    )  # fmt: skip

    def validate(self, point: dict[str, Any]) -> dict[str, Any]:
        if sum(name in point for name in READINGS) != 1:
            raise serializers.ValidationError(
                {"readings_um": "Give readings_um or readings_mil, one of the two; of no thickness readings."}
            )
        return point


class VerificationIn(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    gauge = serializers.UUIDField()
    project = serializers.UUIDField()
    purpose = serializers.ChoiceField(Verification.Purpose.choices)
    adjustment = serializers.ChoiceField(Verification.Adjustment.choices, default=Verification.Adjustment.NONE)
    surface = serializers.ChoiceField(Verification.Surface.choices, default=Verification.Surface.SMOOTH)
    as_left = serializers.BooleanField(default=True, help_text="false: as found, before any adjusting")
    taken_at = Moment()
    points = PointIn(many=True)
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=1000)
    confirmed = serializers.BooleanField(
        default=False, help_text="true: what was asked (status 428) is right as sent; store it"
    )
    replaces = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="The check that this corrects, in the same project"
    )
    replacement_reason = serializers.CharField(required=False, allow_blank=True, default="", max_length=1000)

    def validate_points(self, points: list[dict[str, Any]]) -> list[dict[str, Any]]:
        if len({unit for point in points for unit in READINGS if unit in point}) > 1:
            raise serializers.ValidationError("Give all readings in one unit.")
        return points


# --- what is shown ----------------------------------------------------------------------------------------------------
class PaperInForce(serializers.Serializer):
    """The certificate that reaches furthest of those neither withdrawn nor corrected."""

    id = serializers.UUIDField(source="paper_id")
    number = serializers.CharField(source="paper_number")
    expires = serializers.DateField(source="paper_expires")


class EquipmentOut(serializers.ModelSerializer):
    holder = serializers.SerializerMethodField()
    certificate = serializers.SerializerMethodField()

    @extend_schema_field(serializers.CharField(allow_null=True))
    def get_holder(self, thing: Any) -> str | None:
        """Who holds it, for the company's people; null in store, and for others."""
        told = thing.holder and self.context["request"].user.is_company
        return str(thing.holder.name) if told else None

    @extend_schema_field(PaperInForce(allow_null=True))
    def get_certificate(self, thing: Any) -> dict[str, Any] | None:
        return PaperInForce(thing).data if thing.paper_id else None


class IncidentSent(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    at = Moment()
    what = serializers.CharField(max_length=200, help_text="Such as: fell from the scaffold board")


class IncidentReported(serializers.ModelSerializer):
    class Meta:
        model = GaugeIncident
        fields = read_only_fields = ("id", "gauge", "at", "what")


class HandOverSent(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    to = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="The person who takes it; nobody: it goes into store"
    )
    place = serializers.CharField(required=False, allow_blank=True, default="", max_length=120)
    at = Moment()


class HandOverOut(serializers.ModelSerializer):
    id = serializers.UUIDField(source="sent_as", allow_null=True, help_text="Null where a page recorded it")
    confirmed_at = serializers.DateTimeField(allow_null=True, help_text="When whoever holds it said that they have it")

    class Meta:
        model = Custody
        fields = read_only_fields = ("id", "gauge", "standard", "holder", "place", "from_when", "confirmed_at")


OF_A_SOLUTION = "Of a standard solution, at 25 °C"
COMMON = ("id", "identity", "kind", "maker", "model", "serial", "state", "holder", "certificate")


class IncidentOut(serializers.Serializer):
    """What was last reported of a gauge, such as a fall, while no passing check since has settled it.

    People of other organisations read that there was an incident, near checks of their projects, and not what it was.
    """

    at = serializers.DateTimeField(source="reported_at")
    what = serializers.CharField(source="reported_what")


class SiteCheckOut(serializers.Serializer):
    """What the check on site of an instrument of this kind is."""

    on = serializers.ListField(child=serializers.ChoiceField(ReferenceStandard.Kind.choices))
    wants = serializers.ListField(
        child=serializers.ChoiceField(ReferenceStandard.Kind.choices), help_text="Each must be among the points"
    )
    unit = serializers.CharField(help_text="Of its readings; empty where they are thicknesses")
    readings = serializers.IntegerField(help_text="Usual on a point")
    each_shift = serializers.BooleanField(help_text="Made before and after work; else now and then")


class GaugeOut(EquipmentOut):
    site_check = serializers.SerializerMethodField()
    check_it_first = serializers.SerializerMethodField()
    range_from_um = Micrometres(source="range_from_nm")
    range_to_um = Micrometres(source="range_to_nm")
    accuracy_um = Micrometres(source="accuracy_nm")

    class Meta:
        model = Gauge
        fields = (
            *COMMON, "range_from_um", "range_to_um", "accuracy_pct", "accuracy_um", "site_check", "checked_since",
            "check_tolerance_pct", "check_tolerance", "check_it_first",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(SiteCheckOut(allow_null=True))
    def get_site_check(self, gauge: Any) -> dict[str, Any] | None:
        """Null for an instrument that nothing on site can check."""
        check = site_check_of(gauge)
        return SiteCheckOut(check).data if check else None

    @extend_schema_field(IncidentOut(allow_null=True))
    def get_check_it_first(self, gauge: Any) -> dict[str, Any] | None:
        return IncidentOut(gauge).data if gauge.reported_at else None


class StandardOut(EquipmentOut):
    nominal_um = Micrometres(source="nominal_nm")
    certified_um = Micrometres(source="certified_nm")
    expanded_uncertainty_um = Micrometres(source="uncertainty_nm")
    nominal_us_cm = Figure(source="nominal", read_only=True, allow_null=True, help_text=OF_A_SOLUTION)
    certified_us_cm = Figure(source="certified_value", read_only=True, allow_null=True)
    expanded_uncertainty_us_cm = Figure(source="uncertainty_value", read_only=True, allow_null=True)

    class Meta:
        model = ReferenceStandard
        fields = (
            *COMMON, "nominal_um", "certified_um", "expanded_uncertainty_um", "nominal_us_cm", "certified_us_cm",
            "expanded_uncertainty_us_cm",
        )  # fmt: skip
        read_only_fields = fields


class CertifiedValueOut(serializers.ModelSerializer):
    value_um = Micrometres(source="value_nm")
    expanded_uncertainty_um = Micrometres(source="expanded_uncertainty_nm")
    value_us_cm = Figure(source="value", read_only=True, allow_null=True, help_text=OF_A_SOLUTION)
    expanded_uncertainty_us_cm = Figure(source="expanded_uncertainty", read_only=True, allow_null=True)

    class Meta:
        model = CertifiedValue
        fields = (
            "gauge", "standard", "value_um", "expanded_uncertainty_um", "value_us_cm", "expanded_uncertainty_us_cm",
        )  # fmt: skip
        read_only_fields = fields


class CertificateOut(serializers.ModelSerializer):
    values = CertifiedValueOut(many=True, read_only=True)
    file_sha256 = serializers.CharField(source="file_id", read_only=True, allow_null=True)

    class Meta:
        model = Certificate
        fields = (
            "id", "number", "version", "replaces", "replacement_reason", "laboratory", "accreditation", "issued",
            "expires", "coverage_factor", "traceable_to", "parent", "file_sha256", "recorded_at", "withdrawn_at",
            "withdrawal_reason", "values",
        )  # fmt: skip
        read_only_fields = fields


class PointOut(serializers.ModelSerializer):
    certified_um = Micrometres(source="certified_nm")
    expanded_uncertainty_um = Micrometres(source="expanded_uncertainty_nm")
    readings_um = serializers.ListField(child=Micrometres(), source="readings_nm", read_only=True, allow_null=True)
    reference = Figure(read_only=True, allow_null=True, help_text="Of an instrument that reads no thickness")
    readings = serializers.ListField(child=serializers.FloatField(), read_only=True, allow_null=True)
    standards = serializers.SerializerMethodField()

    class Meta:
        model = VerificationPoint
        fields = (
            "order", "standards", "certified_um", "expanded_uncertainty_um", "readings_um", "reference", "readings",
        )  # fmt: skip
        read_only_fields = fields

    def get_standards(self, point: VerificationPoint) -> list[str]:
        return [str(use.certified_value.standard_id) for use in point.uses.all()]


class VerificationOut(serializers.ModelSerializer):
    gauge_identity = serializers.CharField(source="gauge.identity", read_only=True)
    taken_by = serializers.CharField(source="by_name", read_only=True)
    corrected_by = serializers.CharField(source="corrector_name", read_only=True, allow_null=True)
    replaced_by = serializers.SerializerMethodField()
    confirmed = serializers.ListField(
        child=serializers.CharField(), read_only=True, help_text="What was asked of its readings before it was stored"
    )
    verified_from_um = Micrometres(source="verified_from_nm")
    verified_to_um = Micrometres(source="verified_to_nm")
    points = PointOut(many=True, read_only=True)
    combination = serializers.ChoiceField(
        InstrumentRules.Combination.choices, read_only=True,
        help_text="How the accuracies of gauge and standard became the tolerance, as the company had chosen then",
    )  # fmt: skip

    class Meta:
        model = Verification
        fields: tuple[str, ...] = (
            "id", "gauge", "gauge_identity", "project", "purpose", "adjustment", "surface", "as_left", "taken_at",
            "taken_by", "received_at", "note", "confirmed", "replaces", "replacement_reason", "corrected_by",
            "replaced_by", "verdict", "verified_from_um", "verified_to_um", "combination", "points",
            "result", "digest",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_replaced_by(self, check: Verification) -> str | None:
        """The version that corrects this one; null while none does."""
        newer = getattr(check, "replaced_by", None)
        return str(newer.pk) if newer else None


class VerificationDetailOut(VerificationOut):
    warnings = serializers.SerializerMethodField()

    class Meta(VerificationOut.Meta):
        fields = (*VerificationOut.Meta.fields, "warnings")
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_warnings(self, check: Verification) -> list[str]:
        """Each certificate of gauge or standard that had run out that day; what rests on the check is in question."""
        return overdue.of_check(check)


class VerificationAnswer(VerificationDetailOut):
    """What a sender is answered: the check, and what had run out on its day or was withdrawn since."""

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_warnings(self, check: Verification) -> list[str]:
        """Each certificate of gauge or standard, and each qualification of yours, that had run out that day; each
        certificate that was withdrawn after the check was made."""
        day = check.project.day_of(check.taken_at)
        of_person = overdue.of_person(check.taken_by, day, check.project)
        return [*overdue.of_check(check), *overdue.withdrawn_since(check), *of_person]


class InstrumentRulesOut(serializers.ModelSerializer):
    chosen_by = serializers.CharField(source="chosen_by.name", read_only=True, allow_null=True, default=None)
    chosen_at = serializers.SerializerMethodField()

    class Meta:
        model = InstrumentRules
        fields = (
            "overdue", "combination", "escalate_after_days", "cost_of_a_reading", "currency", "reason", "chosen_by",
            "chosen_at",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(serializers.DateTimeField(allow_null=True))
    def get_chosen_at(self, rules: InstrumentRules) -> str | None:
        """Null while nobody has chosen and the defaults hold."""
        return rules.chosen_at.isoformat() if rules.chosen_by_id else None
