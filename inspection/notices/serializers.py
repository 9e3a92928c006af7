"""Notices as the API takes and shows them. Moments are in UTC."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from accounts.serializers import Because
from inspection.notices.actions.common import LONGEST_NOTE, LONGEST_PLACE
from inspection.notices.models import Notice, NoticePlace, NoticeStep
from inspection.notices.wording import Of
from inspection.projects.serializers import Moment

CONFIRMED = "That a notice shorter than the contract asks is meant"


class OfOut(serializers.Serializer):
    """What is inspected under one title."""

    title = serializers.CharField()
    areas = serializers.IntegerField()


class NoticeOut(serializers.ModelSerializer):
    number = serializers.SerializerMethodField(help_text="As N-001, counted in its project")
    short_hours = serializers.DecimalField(
        max_digits=8, decimal_places=2, read_only=True, allow_null=True, coerce_to_string=False,
        help_text="By how many working hours it is shorter than the contract asks; null where it is in time",
    )  # fmt: skip
    area_m2 = serializers.DecimalField(max_digits=11, decimal_places=2, read_only=True, coerce_to_string=False)
    told_m2 = serializers.DecimalField(
        max_digits=11, decimal_places=2, read_only=True, allow_null=True, coerce_to_string=False
    )
    what = serializers.SerializerMethodField()

    class Meta:
        model = Notice
        fields = (
            "id", "project", "number", "state", "begins_at", "ends_at", "meeting_place", "sequence", "short_hours",
            "due_by", "party", "signed_as", "given_at", "note", "area_m2", "told_m2", "what",
        )  # fmt: skip
        read_only_fields = fields

    def get_number(self, notice: Notice) -> str:
        return f"N-{notice.number:03d}"

    @extend_schema_field(OfOut(many=True))
    def get_what(self, notice: Notice) -> list[dict[str, Any]]:
        of: list[Of] = self.context["what"].get(notice.pk, [])
        return [{"title": each.title, "areas": each.areas} for each in of]


class PlaceOut(serializers.ModelSerializer):
    area_code = serializers.CharField(source="area.code", read_only=True)

    class Meta:
        model = NoticePlace
        fields = ("id", "area", "area_code", "line", "point", "title")
        read_only_fields = fields


class StepOut(serializers.ModelSerializer):
    why = serializers.CharField(
        read_only=True, help_text=f"Of what was not held: {', '.join(NoticeStep.Why.values)}; else empty"
    )

    class Meta:
        model = NoticeStep
        fields = (
            "number", "what", "party", "signed_as", "at", "begins_at", "ends_at", "meeting_place", "short_hours", "why",
            "reason",
        )  # fmt: skip
        read_only_fields = fields


class PartyStandOut(serializers.Serializer):
    party = serializers.UUIDField(source="party.pk")
    name = serializers.CharField(source="party")
    acknowledged_at = serializers.DateTimeField(source="acknowledged.at", allow_null=True, default=None)


class NoticeDetailOut(NoticeOut):
    """With its parties, its first 2,000 places, and all that was said of it."""

    parties = serializers.SerializerMethodField()
    places = serializers.SerializerMethodField()
    steps = serializers.SerializerMethodField()

    class Meta:
        model = Notice
        fields = (*NoticeOut.Meta.fields, "parties", "places", "steps")
        read_only_fields = fields

    @extend_schema_field(PartyStandOut(many=True))
    def get_parties(self, notice: Notice) -> list[Any]:
        return list(PartyStandOut(self.context["stands"], many=True).data)

    @extend_schema_field(PlaceOut(many=True))
    def get_places(self, notice: Notice) -> list[Any]:
        return list(PlaceOut(self.context["places"], many=True).data)

    @extend_schema_field(StepOut(many=True))
    def get_steps(self, notice: Notice) -> list[Any]:
        return list(StepOut(self.context["steps"], many=True).data)


class _Ids(serializers.ListField):
    child = serializers.UUIDField()

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"required": False, "default": list, **kwargs})


class NewNotice(Strict):
    """Lines at areas, or points; for all who hold or witness them, or for the parties named."""

    id = serializers.UUIDField(help_text="Yours, made before the first attempt (UUID version 7)")
    lines = _Ids(help_text="Of the plan in force; each at each of the areas where its point waits")
    areas = _Ids(help_text="At most 2,000", max_length=2_000)
    points = _Ids(help_text="Instead of lines and areas", max_length=60_000)
    parties = _Ids(help_text="Of those who hold or witness; all of them where it is left out", max_length=100)
    begins_at = Moment()
    ends_at = Moment()
    meeting_place = serializers.CharField(max_length=LONGEST_PLACE)
    told_m2 = serializers.DecimalField(
        max_digits=11, decimal_places=2, required=False, allow_null=True, default=None,
        help_text="Of the areas, what is ready to be inspected",
    )  # fmt: skip
    note = serializers.CharField(max_length=LONGEST_NOTE, required=False, allow_blank=True, default="")
    confirmed = serializers.BooleanField(required=False, default=False, help_text=CONFIRMED)


class MovedNotice(Because):
    begins_at = Moment()
    ends_at = Moment()
    meeting_place = serializers.CharField(max_length=LONGEST_PLACE)
    sequence = serializers.IntegerField(min_value=0, help_text="Of the notice as you saw it")
    confirmed = serializers.BooleanField(required=False, default=False, help_text=CONFIRMED)


class RestoredNotice(Because):
    confirmed = serializers.BooleanField(required=False, default=False, help_text=CONFIRMED)


class ForParty(Strict):
    party = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="May be left out where one of its parties is yours"
    )


class ForPartyBecause(ForParty, Because):
    pass


class OutcomeTold(Strict):
    outcome = serializers.ChoiceField(choices=["held", "partly", "not_held"])
    why = serializers.ChoiceField(
        choices=NoticeStep.Why.choices, required=False, allow_blank=True, default="",
        help_text="Why it was not held, or not everywhere",
    )  # fmt: skip
    reason = serializers.CharField(max_length=LONGEST_NOTE, required=False, allow_blank=True, default="")
    places = serializers.ListField(
        child=serializers.IntegerField(), required=False, default=list, max_length=60_000,
        help_text="Where it was held, by the ids of its places; only where that was at some of them",
    )  # fmt: skip
