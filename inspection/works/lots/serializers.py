"""Lots as the API takes and shows them. Moments are in UTC, surfaces in m², paint in litres without thinner."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from accounts.serializers import Because
from inspection.projects.serializers import Moment
from inspection.works.entering import LONGEST_NOTE
from inspection.works.lots.actions import TEXTS
from inspection.works.models import Lot, LotMix, LotPlace


def _figure(digits: int, places: int, **more: Any) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=digits, decimal_places=places, coerce_to_string=False, **more)


class LotPlaceOut(serializers.ModelSerializer):
    area_code = serializers.CharField(source="area.code", read_only=True)
    m2 = _figure(9, 2, read_only=True)

    class Meta:
        model = LotPlace
        fields = ("area", "area_code", "m2")
        read_only_fields = fields


class LotMixOut(serializers.ModelSerializer):
    number = serializers.IntegerField(source="mix.number", read_only=True)
    drawn_l = _figure(8, 2, read_only=True, allow_null=True)
    returned_l = _figure(8, 2, read_only=True, allow_null=True)

    class Meta:
        model = LotMix
        fields = ("mix", "number", "drawn_l", "returned_l")
        read_only_fields = fields


class LotOut(serializers.ModelSerializer):
    places = LotPlaceOut(many=True, read_only=True)
    mixes = LotMixOut(many=True, read_only=True)
    parents = serializers.SerializerMethodField(help_text="The lots that it follows, in the version that was named")
    replaced_by = serializers.SerializerMethodField(help_text="The version that corrects it, if any")
    of = serializers.CharField(read_only=True, help_text="What was done, in words")
    gone_over = serializers.ListField(
        child=serializers.CharField(), read_only=True, help_text="What was asked about and gone on with all the same"
    )
    pressure_bar = _figure(6, 1, read_only=True, allow_null=True)
    thinner_pct = _figure(4, 1, read_only=True, allow_null=True)
    drawn_l = _figure(8, 2, read_only=True, allow_null=True)
    returned_l = _figure(8, 2, read_only=True, allow_null=True)

    class Meta:
        model = Lot
        fields = (
            "id", "project", "number", "version", "activity", "of", "coat", "stripe", "crew", "shift", "begun_at",
            "ended_at", "method", "applicators", "pump_ratio", "tip", "pressure_bar", "thinner_pct", "drawn_l",
            "returned_l", "note", "gone_over", "places", "mixes", "parents", "entered_by", "entered_at", "digest",
            "replaces", "replaced_by", "why", "withdrawn_at", "withdrawn_why",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(serializers.ListField(child=serializers.UUIDField()))
    def get_parents(self, lot: Lot) -> list[str]:
        return [str(each.parent_id) for each in lot.parents.all()]

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_replaced_by(self, lot: Lot) -> str | None:
        later = getattr(lot, "replaced_by", None)
        return str(later.pk) if later else None


class PlaceIn(Strict):
    area = serializers.UUIDField()
    m2 = _figure(9, 2, required=False, allow_null=True, default=None, help_text="Neither this nor a share: all of it")
    share_pct = _figure(5, 2, required=False, allow_null=True, default=None)


class MixIn(Strict):
    mix = serializers.UUIDField()
    drawn_l = _figure(8, 2, allow_null=True, required=False, default=None, help_text="As mixed, thinner included")
    returned_l = _figure(8, 2, allow_null=True, required=False, default=None)


class MixesIn(serializers.ListField):
    child = MixIn()

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"required": False, "default": list, "max_length": 100, **kwargs})


class LotIn(Strict):
    id = serializers.UUIDField(help_text="Yours, made before the first attempt (UUID version 7)")
    activity = serializers.ChoiceField(Lot.Activity.choices)
    coat = serializers.UUIDField(allow_null=True, required=False, default=None, help_text="Null: the bare steel")
    stripe = serializers.UUIDField(allow_null=True, required=False, default=None)
    places: Any = serializers.ListField(child=PlaceIn(), min_length=1, max_length=500)
    crew = serializers.UUIDField()
    shift = serializers.UUIDField(
        allow_null=True, required=False, default=None, help_text="Null: the crew's shift that holds the beginning"
    )
    begun_at = Moment()
    ended_at = Moment(allow_null=True, required=False, default=None, help_text="Null: still under way")
    method = serializers.ChoiceField(Lot.Method.choices)
    applicators = serializers.CharField(max_length=TEXTS["applicators"], required=False, default="", allow_blank=True)
    pump_ratio = serializers.CharField(max_length=TEXTS["pump_ratio"], required=False, default="", allow_blank=True)
    tip = serializers.CharField(max_length=TEXTS["tip"], required=False, default="", allow_blank=True)
    pressure_bar = _figure(6, 1, allow_null=True, required=False, default=None)
    thinner_pct = _figure(4, 1, allow_null=True, required=False, default=None, help_text="By volume")
    drawn_l = _figure(8, 2, allow_null=True, required=False, default=None)
    returned_l = _figure(8, 2, allow_null=True, required=False, default=None)
    mixes = MixesIn()
    parents = serializers.ListField(child=serializers.UUIDField(), required=False, default=list, max_length=100)
    note = serializers.CharField(max_length=LONGEST_NOTE, required=False, default="", allow_blank=True)
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text="That what was asked about is meant; the lot keeps it"
    )


class LotCorrection(LotIn):
    reason = serializers.CharField(max_length=1_000)


class LotEnd(Strict):
    ended_at = Moment()
    drawn_l = _figure(8, 2, allow_null=True, required=False, default=None, help_text="Null: as told before")
    returned_l = _figure(8, 2, allow_null=True, required=False, default=None)
    mixes = MixesIn(help_text="Those whose litres are told now, or that are new")


class LotWhy(Because):
    pass


class WindowOut(serializers.Serializer):
    """When what lies on an area may be painted over, by the steel temperatures measured since."""

    area = serializers.UUIDField(source="area.pk")
    area_code = serializers.CharField(source="area.code")
    coat = serializers.UUIDField(source="coat.pk")
    following = serializers.UUIDField(source="following.pk", help_text="The coat that goes on next")
    ended_at = serializers.DateTimeField()
    state = serializers.CharField(source="clock.state", help_text="not yet open, open, closing, closed or not known")
    opens_at = serializers.DateTimeField(source="clock.opens_at", allow_null=True)
    closes_at = serializers.DateTimeField(source="clock.closes_at", allow_null=True)
    notes = serializers.SerializerMethodField(help_text="By what; empty for a painting contractor's people")

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_notes(self, window: Any) -> list[str]:
        return list(window.clock.notes) if self.context.get("with_notes") else []
