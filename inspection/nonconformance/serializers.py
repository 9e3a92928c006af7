"""Nonconformances and their dispositions as the API takes and shows them."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from accounts.api import Strict, person_of
from accounts.serializers import BecauseSigned
from inspection.nonconformance.models import Disposition, Nonconformance, ReworkEntry, ReworkItem
from inspection.nonconformance.queries import missing_of
from inspection.nonconformance.sayings import SAYINGS, awaits_another, said_of
from inspection.projects.serializers import Moment


class Raised(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    project = serializers.UUIDField()
    title = serializers.CharField(max_length=200, help_text="What does not conform")
    description = serializers.CharField(required=False, allow_blank=True, default="", max_length=4_000)
    against = serializers.ChoiceField(
        Nonconformance.Against.choices, default=Nonconformance.Against.AREA,
        help_text="What it is against; then the one field that names it: area and coat, lot, batch, gauge, or named",
    )  # fmt: skip
    area = serializers.UUIDField(required=False, allow_null=True, default=None)
    coat = serializers.UUIDField(required=False, allow_null=True, default=None)
    lot = serializers.UUIDField(required=False, allow_null=True, default=None)
    batch = serializers.UUIDField(required=False, allow_null=True, default=None)
    gauge = serializers.UUIDField(required=False, allow_null=True, default=None)
    named = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=200,
        help_text="Whose qualification, which procedure or which document, with its revision",
    )  # fmt: skip
    asked = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="The party that is to answer it, by its id"
    )
    as_draft = serializers.BooleanField(
        default=False, help_text="Leave it as a draft; what clients and contractors raise is one in any case"
    )


class Signed(Strict):
    password = serializers.CharField(max_length=200, trim_whitespace=False, help_text="Yours, as your signature")


class ReworkDone(Strict):
    what = serializers.CharField(max_length=4_000)
    done_by = serializers.CharField(max_length=200, help_text="The painter, the crew or the firm")
    done_at = Moment(help_text="When it was finished")


class Answered(Strict):
    text = serializers.CharField(max_length=4_000, help_text="What the contractor proposes, or what came of it")


class Said(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    kind = serializers.ChoiceField(choices=list(SAYINGS))
    text = serializers.CharField(max_length=4_000, help_text="In words; of a class the clause, of an action what to do")
    choice = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=10,
        help_text="Of a class, of what it is against, of a disposition and of an effect: which",
    )  # fmt: skip
    done_by = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=200, help_text="Of an action: who is to do it"
    )
    done_at = Moment(required=False, allow_null=True, default=None, help_text="When it was contained, or done")
    due = serializers.DateField(required=False, allow_null=True, default=None, help_text="Of an action: by which day")
    about = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="Of an action that is done: which, by its id"
    )


class Conceded(BecauseSigned):
    reason = serializers.CharField(max_length=4_000, help_text="Why it is accepted as it is")


class TakenBack(Strict):
    reason = serializers.CharField(max_length=4_000)


class DispositionOut(serializers.ModelSerializer):
    class Meta:
        model = Disposition
        fields = ("id", "kind", "text", "choice", "done_by", "done_at", "due", "about", "covers", "withdraws",
                  "signed_as", "admitted", "at")  # fmt: skip
        read_only_fields = fields

    def to_representation(self, entry: Disposition) -> dict[str, Any]:
        """How somebody came to be believed is not told to a contractor's people, nor which records failed."""
        shown: dict[str, Any] = super().to_representation(entry)
        request = self.context.get("request")
        return {**shown, "admitted": None, "covers": []} if request and person_of(request).is_contractors else shown


class NonconformanceOut(serializers.ModelSerializer):
    area_code = serializers.CharField(source="area.code", read_only=True, allow_null=True, default=None)
    area_label = serializers.CharField(
        source="area.label", read_only=True, allow_null=True, default=None,
        help_text="The code, with its structure where two structures share it",
    )  # fmt: skip
    coat_name = serializers.CharField(source="coat.name", read_only=True, allow_null=True, default=None)
    dispositions = DispositionOut(many=True, read_only=True)

    class Meta:
        model = Nonconformance
        fields = (
            "id", "project", "number", "against", "area", "area_code", "area_label", "coat", "coat_name", "lot",
            "batch", "gauge", "named", "asked", "title", "description", "state", "record", "raised_at", "repair",
            "closed_at", "closing_record", "dispositions",
        )  # fmt: skip
        read_only_fields = fields

    def to_representation(self, row: Nonconformance) -> dict[str, Any]:
        """Records and instruments are not a contractor's to open, so that none is named to their people."""
        shown: dict[str, Any] = super().to_representation(row)
        request = self.context.get("request")
        if not request or not person_of(request).is_contractors:
            return shown
        told = row.asked is None or row.asked.is_told_to(person_of(request))
        hidden = {"record": None, "closing_record": None, "gauge": None}
        return shown | hidden | ({} if told else {"asked": None})


# --- rework items -----------------------------------------------------------------------------------------------------
class ReworkOpened(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    area = serializers.UUIDField()
    coat = serializers.UUIDField(required=False, allow_null=True, default=None)
    what = serializers.CharField(max_length=200, help_text="What is to be put right")
    place = serializers.CharField(max_length=200, help_text="Where on the area, so that it is found again")


class ReworkLookedAt(Strict):
    in_order = serializers.BooleanField(help_text="Then it closes; otherwise it is open again")
    note = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=4_000, help_text="Asked where it is not in order"
    )


class ReworkEntryOut(serializers.ModelSerializer):
    person = serializers.SerializerMethodField()
    withdrawn_by: Any = serializers.PrimaryKeyRelatedField(read_only=True, allow_null=True, default=None)

    class Meta:
        model = ReworkEntry
        fields = ("id", "item", "kind", "text", "done_by", "done_at", "person", "at", "withdraws", "withdrawn_by")
        read_only_fields = fields

    def get_person(self, entry: ReworkEntry) -> str:
        return entry.person.name_at(entry.at) if entry.person else ""


class ReworkItemOut(serializers.ModelSerializer):
    area_label = serializers.CharField(source="area.label", read_only=True)
    coat_name = serializers.CharField(source="coat.name", read_only=True, allow_null=True, default=None)
    opened_by = serializers.SerializerMethodField()

    class Meta:
        model = ReworkItem
        fields: tuple[str, ...] = (
            "id", "project", "area", "area_label", "coat", "coat_name", "what", "place", "record", "opened_by",
            "opened_at", "state",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields

    def get_opened_by(self, item: ReworkItem) -> str:
        return item.opened_by.name_at(item.opened_at)


class ReworkItemDetail(ReworkItemOut):
    entries = ReworkEntryOut(many=True, read_only=True)

    class Meta(ReworkItemOut.Meta):
        fields = (*ReworkItemOut.Meta.fields, "entries")
        read_only_fields = fields


class NonconformanceDetail(NonconformanceOut):
    missing = serializers.SerializerMethodField(help_text="What has to happen before it closes")
    awaits_another = serializers.SerializerMethodField(
        help_text="Whether a measurement by who entered the rework settled it, and another person is to confirm that"
    )

    class Meta:
        model = Nonconformance
        fields = (*NonconformanceOut.Meta.fields, "missing", "awaits_another")
        read_only_fields = fields

    def get_missing(self, row: Nonconformance) -> list[str]:
        return missing_of([row]).get(row.pk, [])

    def get_awaits_another(self, row: Nonconformance) -> bool:
        return awaits_another(row, said_of([row.pk])[row.pk])
