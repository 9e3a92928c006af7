"""Field records as the API takes and shows them. The names of thicknesses carry their unit, exactly one a record."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from inspection.fieldwork.actions.thickness import run_out_of as record_run_out
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.fieldwork.storing import LONGEST_NOTE, LONGEST_REASON, of_changed_area
from inspection.foundation.refusals import Refused
from inspection.foundation.units import Unit, to_nm
from inspection.projects.serializers import Micrometres, Moment

READINGS_A_WINDOW = 1_000


@extend_schema_field({"type": "number", "minimum": 0})
class ThicknessSentField(serializers.Field):
    """A thickness as a JSON number in the unit; read into whole nanometres."""

    def __init__(self, unit: Unit, **kwargs: Any) -> None:
        super().__init__(write_only=True, **kwargs)
        self.unit = unit

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int | float):
            raise serializers.ValidationError("Give a JSON number, such as 84.5, without quotation marks.")
        try:
            return to_nm(data, self.unit)
        except Refused as wrong:
            raise serializers.ValidationError([fault.message for fault in wrong.faults]) from None

    def to_representation(self, value: Any) -> Any:
        return value


class TenthSent(serializers.DecimalField):
    """A JSON number to one tenth."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=4, decimal_places=1, **kwargs)

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool | str) or not isinstance(data, int | float):
            raise serializers.ValidationError("Give a JSON number, such as 18.5, without quotation marks.")
        return super().to_internal_value(data)


# --- what is sent -----------------------------------------------------------------------------------------------------
class RecordSent(Strict):
    id = serializers.UUIDField(
        help_text="Made by the sender (UUID version 7); sending it again is safe. Go on with the id of the answer: it "
        "is another where the one sent could not be kept"
    )
    project = serializers.UUIDField()
    area = serializers.UUIDField()
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=LONGEST_NOTE)
    replaces = serializers.UUIDField(required=False, allow_null=True, default=None, help_text="The record it corrects")
    replacement_reason = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=LONGEST_NOTE, help_text="Asked with `replaces`"
    )


class AfterCoatSent(RecordSent):
    """Of a place after a coat."""

    coat = serializers.UUIDField()


class ObservedAt(Strict):
    """Of what is observed in one go."""

    taken_at = Moment()


class ObservedSent(ObservedAt):
    """With an instrument."""

    gauge = serializers.UUIDField(required=False, allow_null=True, default=None)


class ThicknessHead(AfterCoatSent):
    """A thickness record without its readings, which are read in one pass of their own."""

    gauge = serializers.UUIDField()
    profile_way = serializers.ChoiceField(ThicknessRecord.ProfileWay.choices)
    correction_um = ThicknessSentField(Unit.UM, required=False, help_text="Subtracted for the profile")
    correction_mil = ThicknessSentField(Unit.MIL, required=False, help_text="Instead of `correction_um`")
    profile_record = serializers.UUIDField(
        required=False, allow_null=True, default=None,
        help_text="Surface profile record that the correction is taken from; leave the correction out then",
    )  # fmt: skip
    first_reading_at = Moment()
    last_reading_at = Moment()
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text="What is doubtful about a printed sheet that is entered so is meant"
    )


class ReadingSentSerializer(Strict):
    spot = serializers.IntegerField(min_value=1)
    reading = serializers.IntegerField(
        min_value=1, required=False, help_text="Its number in the spot; left out, readings count up as they come"
    )
    value_um = ThicknessSentField(Unit.UM, required=False, help_text="As the gauge showed it")
    value_mil = ThicknessSentField(Unit.MIL, required=False, help_text="Instead of `value_um`, in all readings alike")
    taken_at = Moment(required=False, allow_null=True)
    void_reason = serializers.CharField(required=False, allow_blank=True, max_length=LONGEST_REASON)


class ThicknessSent(ThicknessHead):
    readings = ReadingSentSerializer(many=True)


# --- what is shown ----------------------------------------------------------------------------------------------------
class StandingShown(serializers.Serializer):
    state = serializers.CharField()
    reasons = serializers.ListField(child=serializers.CharField())


class OnAreaShown(serializers.ModelSerializer):
    """A record of an area, whatever was observed."""

    area_code = serializers.CharField(source="area.code", read_only=True)
    area_label = serializers.CharField(
        source="area.label", read_only=True, help_text="The code, with its structure where two structures share it"
    )
    taken_by = serializers.CharField(source="by_name", read_only=True)
    verdict = serializers.CharField(read_only=True, help_text="pass, fail or, for thickness, incomplete or not judged")
    replaced_by = serializers.SerializerMethodField()

    def get_replaced_by(self, record: Any) -> str | None:
        return str(record.replaced_by.pk) if hasattr(record, "replaced_by") else None


class RecordShown(OnAreaShown):
    """A record of an area after a coat."""

    coat_name = serializers.CharField(source="coat.name", read_only=True)
    coat: Any = serializers.PrimaryKeyRelatedField(read_only=True)


OF_AREA = (
    "id", "project", "area", "area_code", "area_label", "taken_by", "taken_at", "received_at", "source", "verdict",
    "note", "replaces", "replaced_by", "replacement_reason", "digest",
)  # fmt: skip
COMMON = (*OF_AREA[:5], "coat", "coat_name", *OF_AREA[5:])


class WithWarnings(serializers.Serializer):
    """What a sender is answered beside the record: what casts doubt on it."""

    warnings = serializers.SerializerMethodField()

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_warnings(self, record: Any) -> list[str]:
        """That its instrument had no certificate to rely on, or a likely slip; the record is stored."""
        warnings: list[str] = self.context["warnings"]
        return warnings


class StandingOfRecord(serializers.Serializer):
    """How far the record can be relied on; null until that is known."""

    standing = serializers.SerializerMethodField()

    @extend_schema_field(StandingShown(allow_null=True))
    def get_standing(self, record: Any) -> dict[str, Any] | None:
        try:
            return {"state": record.standing.state, "reasons": record.standing.reasons}
        except ObjectDoesNotExist:
            return None


class ThicknessSerializer(StandingOfRecord, RecordShown):
    gauge: Any = serializers.PrimaryKeyRelatedField(read_only=True)
    gauge_identity = serializers.CharField(source="gauge.identity", read_only=True)
    correction_um = Micrometres(source="correction_nm")
    profile_record: Any = serializers.PrimaryKeyRelatedField(read_only=True, allow_null=True)
    mean_um = Micrometres(source="mean_nm")
    lowest_um = Micrometres(source="lowest_nm")
    highest_um = Micrometres(source="highest_nm")
    first_reading_at = serializers.DateTimeField(source="taken_at", read_only=True)
    last_reading_at = serializers.DateTimeField(source="ended_at", read_only=True)

    class Meta:
        model = ThicknessRecord
        fields: tuple[str, ...] = (
            *COMMON, "gauge", "gauge_identity", "first_reading_at", "last_reading_at", "unit", "profile_way",
            "correction_um", "profile_record", "readings_wanted", "reading_count", "mean_um", "lowest_um", "highest_um",
            "standing",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields


class ReadingShown(serializers.ModelSerializer):
    reading = serializers.IntegerField(source="order", read_only=True)
    value_um = Micrometres(source="value_nm")

    class Meta:
        model = Reading
        fields = ("spot", "reading", "value_um", "taken_at", "void_reason")
        read_only_fields: tuple[str, ...] = fields


class ThicknessStored(ThicknessSerializer):
    """With the verdict check by check."""

    result = serializers.SerializerMethodField()

    class Meta(ThicknessSerializer.Meta):
        fields = (*ThicknessSerializer.Meta.fields, "calculation", "result")
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field({"type": ["object", "null"]})
    def get_result(self, record: ThicknessRecord) -> Any:
        """What the rule answered; null with more than 1,000 readings: see `/api/thickness/{id}/result/`."""
        return record.result if record.reading_count <= READINGS_A_WINDOW else None


class ThicknessAnswer(ThicknessStored):
    """What a sender is answered: the record, and what had run out on its day."""

    warnings = serializers.SerializerMethodField()

    class Meta(ThicknessStored.Meta):
        fields = (*ThicknessStored.Meta.fields, "warnings")
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_warnings(self, record: ThicknessRecord) -> list[str]:
        """What had run out, what became of the area, or the same readings stored before; the record is stored."""
        doubted = record_run_out(record) + of_changed_area(record)
        return doubted + [one.words for one in self.context.get("already", ())]


class ThicknessDetailSerializer(ThicknessStored):
    """With the readings, a window of them at a time; the verdict stands on all of them."""

    inputs = serializers.SerializerMethodField()
    readings = serializers.SerializerMethodField()
    readings_next = serializers.SerializerMethodField()

    class Meta(ThicknessStored.Meta):
        fields = (*ThicknessStored.Meta.fields, "inputs", "readings", "readings_next")
        read_only_fields: tuple[str, ...] = fields

    @extend_schema_field({"type": ["object", "null"]})
    def get_inputs(self, record: ThicknessRecord) -> Any:
        """What the rule was given; null where that is all of more than 1,000 readings, which `readings` tells."""
        return record.inputs if record.reading_count <= READINGS_A_WINDOW else None

    @extend_schema_field(ReadingShown(many=True))
    def get_readings(self, record: ThicknessRecord) -> Any:
        """At most 1,000, by spot and order, voided ones among them; `readings_next` leads on."""
        return ReadingShown(self.context["readings"], many=True).data

    @extend_schema_field(serializers.URLField(allow_null=True))
    def get_readings_next(self, record: ThicknessRecord) -> str | None:
        """The same record with the next readings; null with the last."""
        following: str | None = self.context["readings_next"]
        return following


class CautionsConfirmed(serializers.Serializer):
    """That cautions were confirmed on this day: when, and which."""

    confirmed_at = serializers.DateTimeField()
    cautions = serializers.ListField(child=serializers.CharField())


class CalculationShown(serializers.Serializer):
    """One calculation of the standards core, and what it takes."""

    name = serializers.CharField()
    title = serializers.CharField()
    group = serializers.CharField()
    summary = serializers.CharField()
    caution = serializers.CharField()
    sources = serializers.ListField(child=serializers.CharField())
    inputs = serializers.ListField(child=serializers.DictField())
    example = serializers.DictField()


def _figure(help_text: str) -> serializers.FloatField:
    return serializers.FloatField(allow_null=True, help_text=help_text)


class ConformancePart(serializers.Serializer):
    """One component of the uncertainty of the mean."""

    name = serializers.CharField()
    evaluation = serializers.CharField(help_text="Type A, by statistics, or B, by other means (JCGM 100)")
    standard_uncertainty_um = serializers.FloatField()


class ConformanceSerializer(serializers.Serializer):
    """How probable it is that an area conforms (JCGM 106, 7). No verdict; it holds if scatter stays as measured."""

    mean_um = _figure("Corrected for the profile and for the error of the gauge")
    spot_scatter_um = _figure("Standard deviation of the spot means")
    spots = serializers.IntegerField(allow_null=True)
    gauge_error_um = _figure("Found by its checks, and corrected for")
    standard_uncertainty_um = _figure("Of the mean")
    mean_minimum_um = _figure("The mean must be at least this")
    mean_maximum_um = _figure("The mean must be at most this")
    probability_mean_conforms = _figure("From 0 to 1")
    more_spots_for_mean = serializers.IntegerField(
        allow_null=True, help_text="Until the probability leaves 5 to 95 %; null where no number of spots settles it"
    )
    share_limit_um = _figure("The share of the surface is counted below this")
    share_allowed_pct = _figure("As the rule allows it")
    expected_share_below_pct = _figure("To be expected below it")
    share_below_up_to_pct = _figure("Not exceeded with a probability of 95 %")
    probability_share_conforms = _figure("From 0 to 1")
    more_spots_for_share = serializers.IntegerField(allow_null=True)
    budget = ConformancePart(many=True)
    sentences = serializers.ListField(child=serializers.CharField(), help_text="The same in words")
    notes = serializers.ListField(child=serializers.CharField())
