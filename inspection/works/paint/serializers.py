"""Batches and mixes as the API shows them and takes them. Moments are in UTC, temperatures in °C."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from inspection.projects.serializers import Moment
from inspection.works.entering import LONGEST_NOTE
from inspection.works.models import BatchStep, Mix, MixPart, PaintBatch
from inspection.works.paint.models import Component, Unit

YOURS = "Yours, made before the first attempt (UUID version 7)"
CONFIRMED = "That what was asked about is right"


class Number(serializers.DecimalField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"coerce_to_string": False, **kwargs})


class BatchStepOut(serializers.ModelSerializer):
    class Meta:
        model = BatchStep
        fields = (
            "id", "what", "at", "dated", "expires_on", "reference", "file_name", "why", "entered_at", "withdrawn_at",
            "withdrawn_why",
        )  # fmt: skip
        read_only_fields = fields


class FitnessOut(serializers.Serializer):
    """How the batch stands now."""

    words = serializers.CharField()
    until = serializers.DateField(allow_null=True, help_text="The last day on which it may be mixed; null: not stated")
    in_quarantine = serializers.BooleanField()
    doubts = serializers.ListField(
        child=serializers.CharField(), help_text="What speaks against mixing it; empty: none"
    )


class BatchOut(serializers.ModelSerializer):
    organisation = serializers.CharField(source="party.organisation.name", read_only=True)
    received = Number(max_digits=9, decimal_places=2, read_only=True)
    storage_min_c = Number(max_digits=4, decimal_places=1, read_only=True, allow_null=True)
    storage_max_c = Number(max_digits=4, decimal_places=1, read_only=True, allow_null=True)
    steps = BatchStepOut(many=True, read_only=True)
    now = serializers.SerializerMethodField()
    left = serializers.SerializerMethodField(
        help_text="In its unit, by its mixes; below 0: more was taken than received"
    )

    class Meta:
        model = PaintBatch
        fields = (
            "id", "project", "party", "organisation", "product", "component", "number", "made_on", "expires_on",
            "received", "unit", "containers", "storage_min_c", "storage_max_c", "received_at", "received_by", "place",
            "note", "file_name", "entered_at", "withdrawn_at", "withdrawn_why", "now", "left", "steps",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(FitnessOut)
    def get_now(self, batch: PaintBatch) -> dict[str, Any]:
        return dict(FitnessOut(self.context["now"][batch.pk].fitness).data)

    @extend_schema_field(serializers.FloatField())
    def get_left(self, batch: PaintBatch) -> float:
        return float(self.context["now"][batch.pk].left)


class AboutBatch(Strict):
    product = serializers.CharField(max_length=120)
    component = serializers.ChoiceField(choices=Component.choices)
    number = serializers.CharField(max_length=60)
    made_on = serializers.DateField(required=False, allow_null=True, default=None)
    expires_on = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="The last day on which it may be mixed"
    )
    received = Number(max_digits=9, decimal_places=2)
    unit = serializers.ChoiceField(choices=Unit.choices)
    containers = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=100_000
    )  # fmt: skip
    storage_min_c = Number(max_digits=4, decimal_places=1, required=False, allow_null=True, default=None)
    storage_max_c = Number(max_digits=4, decimal_places=1, required=False, allow_null=True, default=None)
    received_at = Moment()
    received_by = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    place = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    note = serializers.CharField(max_length=LONGEST_NOTE, required=False, allow_blank=True, default="")
    confirmed = serializers.BooleanField(required=False, default=False, help_text=CONFIRMED)


class NewBatch(AboutBatch):
    id = serializers.UUIDField(help_text=YOURS)
    project = serializers.UUIDField()
    party = serializers.UUIDField(
        required=False, allow_null=True, default=None,
        help_text="The party whose paint it is; null: the painting contractor’s, where you may enter it",
    )  # fmt: skip


class CorrectedBatch(AboutBatch):
    reason = serializers.CharField(max_length=200)


class Extension(Strict):
    id = serializers.UUIDField(help_text=YOURS)
    dated = serializers.DateField(help_text="The day of the maker’s letter, from which it counts")
    expires_on = serializers.DateField()
    reference = serializers.CharField(max_length=120)
    why = serializers.CharField(max_length=LONGEST_NOTE, required=False, allow_blank=True, default="")


class Moved(Strict):
    id = serializers.UUIDField(help_text=YOURS)
    why = serializers.CharField(max_length=LONGEST_NOTE)
    at = Moment(required=False, allow_null=True, default=None, help_text="Null: now")


class MixPartOut(serializers.ModelSerializer):
    number = serializers.CharField(source="batch.number", read_only=True)
    product = serializers.CharField(source="batch.product", read_only=True)
    component = serializers.ChoiceField(source="batch.component", choices=Component.choices, read_only=True)
    amount = Number(max_digits=9, decimal_places=3, read_only=True)

    class Meta:
        model = MixPart
        fields = ("batch", "number", "product", "component", "containers", "amount", "unit")
        read_only_fields = fields


class MixOut(serializers.ModelSerializer):
    organisation = serializers.CharField(source="party.organisation.name", read_only=True)
    paint_c = Number(max_digits=4, decimal_places=1, read_only=True, allow_null=True)
    thinner_pct = Number(max_digits=5, decimal_places=1, read_only=True, allow_null=True)
    deviation_pct = Number(
        max_digits=9, decimal_places=1, read_only=True, allow_null=True,
        help_text="How far the hardener lies from what the ratio asks for the base; null: not reckoned",
    )  # fmt: skip
    ratio_by = serializers.CharField(read_only=True, help_text="volume, mass, or empty: not reckoned")
    gone_over = serializers.ListField(
        child=serializers.CharField(), read_only=True, help_text="What was asked about and gone over"
    )
    doubts = serializers.SerializerMethodField(help_text="What speaks against its batches by what is known now")
    parts = serializers.SerializerMethodField()

    class Meta:
        model = Mix
        fields = (
            "id", "project", "party", "organisation", "number", "coat", "sheet_told", "mixed_at", "used_from",
            "used_until", "stirred", "paint_c", "thinner_pct", "ratio_by", "ratio_wanted", "ratio_mixed",
            "deviation_pct", "usable_from", "usable_until", "pot_life_told", "note", "gone_over", "reason", "doubts",
            "entered_at", "withdrawn_at", "withdrawn_why", "parts",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_doubts(self, mix: Mix) -> list[str]:
        return [doubt for _, each in self.context["now"][mix.pk].unfit for doubt in each.doubts]

    @extend_schema_field(MixPartOut(many=True))
    def get_parts(self, mix: Mix) -> list[Any]:
        return list(MixPartOut(self.context["now"][mix.pk].parts, many=True).data)


class MixPartIn(Strict):
    """So much of a batch: whole containers, or what was measured."""

    batch = serializers.UUIDField()
    containers = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=100_000
    )  # fmt: skip
    amount = Number(max_digits=9, decimal_places=3, required=False, allow_null=True, default=None)
    unit = serializers.ChoiceField(
        choices=Unit.choices, required=False, allow_blank=True, default="", help_text="Empty: as the batch was received"
    )
    component = serializers.ChoiceField(
        choices=Component.choices, required=False, allow_blank=True, default="",
        help_text="What you take it for; refused where the batch is another",
    )  # fmt: skip


class AboutMix(Strict):
    coat = serializers.UUIDField(required=False, allow_null=True, default=None)
    mixed_at = Moment()
    used_from = Moment(required=False, allow_null=True, default=None)
    used_until = Moment(required=False, allow_null=True, default=None)
    stirred = serializers.ChoiceField(choices=Mix.Stirred.choices)
    paint_c = Number(max_digits=4, decimal_places=1, required=False, allow_null=True, default=None)
    parts = serializers.ListField(child=MixPartIn(), min_length=1, max_length=40)
    note = serializers.CharField(max_length=LONGEST_NOTE, required=False, allow_blank=True, default="")
    reason = serializers.CharField(
        max_length=LONGEST_NOTE, required=False, allow_blank=True, default="",
        help_text="Why it was mixed of a batch that was expired, in quarantine or withdrawn",
    )  # fmt: skip
    confirmed = serializers.BooleanField(required=False, default=False, help_text=CONFIRMED)


class NewMix(AboutMix):
    id = serializers.UUIDField(help_text=YOURS)
    project = serializers.UUIDField()
    party = serializers.UUIDField(required=False, allow_null=True, default=None, help_text="The party that mixed it")


class CorrectedMix(AboutMix):
    why = serializers.CharField(max_length=200, help_text="Why it is corrected")


class Used(Strict):
    used_from = Moment()
    used_until = Moment(required=False, allow_null=True, default=None)
    confirmed = serializers.BooleanField(required=False, default=False, help_text=CONFIRMED)
