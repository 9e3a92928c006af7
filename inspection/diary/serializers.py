"""The diary as the API takes and shows it. Hours are of the one day, of a crew those of each of its people."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from accounts.api import Strict
from inspection.diary.actions import LONGEST_WORD
from inspection.diary.checks import LONGEST_TEXT
from inspection.diary.kinds import head_of
from inspection.diary.models import DaySignature, DiaryEntry


def _hours(**more: Any) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=4, decimal_places=2, coerce_to_string=False, **more)


class EntryOut(serializers.ModelSerializer):
    hours = _hours(read_only=True, allow_null=True)
    told = serializers.SerializerMethodField(help_text="The entry in a line, without its words")
    by = serializers.CharField(source="by_name", read_only=True)
    replaced_by = serializers.SerializerMethodField(help_text="The version that corrects it, if any")
    cause = serializers.ChoiceField(DiaryEntry.Cause.choices, allow_blank=True, read_only=True)
    state = serializers.ChoiceField(DiaryEntry.State.choices, allow_blank=True, read_only=True)
    way = serializers.ChoiceField(DiaryEntry.Way.choices, allow_blank=True, read_only=True)
    gone_over = serializers.ListField(
        child=serializers.CharField(), read_only=True, help_text="What was asked about and gone on with all the same"
    )

    class Meta:
        model = DiaryEntry
        fields = (
            "id", "project", "day", "kind", "version", "told", "crew", "party", "organisation", "who", "people",
            "hours", "clock", "cause", "state", "way", "text", "gone_over", "by", "entered_by", "entered_at", "digest",
            "replaces", "replaced_by", "why", "withdrawn_at", "withdrawn_why",
        )  # fmt: skip
        read_only_fields = fields

    def get_told(self, entry: DiaryEntry) -> str:
        return head_of(entry)

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_replaced_by(self, entry: DiaryEntry) -> str | None:
        later = getattr(entry, "replaced_by", None)
        return str(later.pk) if later else None


class EntryContent(Strict):
    """What an entry tells; which of these its kind has, and needs, the reference says."""

    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    crew = serializers.UUIDField(required=False, allow_null=True, default=None, help_text="Its party follows from it")
    party = serializers.UUIDField(required=False, allow_null=True, default=None)
    organisation = serializers.CharField(max_length=LONGEST_WORD, required=False, allow_blank=True, default="")
    who = serializers.CharField(max_length=LONGEST_WORD, required=False, allow_blank=True, default="")
    people = serializers.IntegerField(
        min_value=1, max_value=32_000, required=False, allow_null=True, default=None
    )  # fmt: skip
    hours = _hours(required=False, allow_null=True, default=None)
    clock = serializers.TimeField(
        required=False, allow_null=True, default=None, help_text="By the project's clocks, such as 14:05"
    )
    cause = serializers.ChoiceField(DiaryEntry.Cause.choices, required=False, allow_blank=True, default="")
    state = serializers.ChoiceField(DiaryEntry.State.choices, required=False, allow_blank=True, default="")
    way = serializers.ChoiceField(DiaryEntry.Way.choices, required=False, allow_blank=True, default="")
    text = serializers.CharField(max_length=LONGEST_TEXT, required=False, allow_blank=True, default="")
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text="That what was asked about is meant; the entry keeps it"
    )


class EntryIn(EntryContent):
    kind = serializers.ChoiceField(DiaryEntry.Kind.choices)
    day = serializers.DateField()


class EntryCorrection(EntryContent):
    reason = serializers.CharField(max_length=1_000)


class EntryWhy(Strict):
    reason = serializers.CharField(max_length=1_000)


class NoteReadIn(Strict):
    read = serializers.BooleanField(help_text="False takes it back that you have read it; it is shown to you again")


class SignIn(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    day = serializers.DateField()
    digest = serializers.CharField(max_length=64, help_text="`yours.digest` of the day as it was shown to you")
    password = serializers.CharField(max_length=200, trim_whitespace=False, help_text="Yours, as your signature")


class SignedLine(serializers.Serializer):
    kind = serializers.CharField(help_text="Of what kind the thing is, such as record, check, entry")
    id = serializers.CharField()
    fixed = serializers.CharField(help_text="SHA-256 of what of it never changes")


class SignatureOut(serializers.ModelSerializer):
    class Meta:
        model = DaySignature
        fields: tuple[str, ...] = (
            "id", "project", "day", "by", "number", "at", "signed_as", "digest", "withdrawn_at", "withdrawn_why",
        )  # fmt: skip
        read_only_fields: tuple[str, ...] = fields


class SignatureDetail(SignatureOut):
    content = SignedLine(many=True, read_only=True)
    changed = serializers.SerializerMethodField(help_text="What differs now from what was signed; empty: nothing")

    class Meta(SignatureOut.Meta):
        fields = (*SignatureOut.Meta.fields, "content", "changed")
        read_only_fields = fields

    def get_changed(self, signature: DaySignature) -> str:
        return str(self.context["changed"])


class SignedOut(serializers.Serializer):
    signature = serializers.UUIDField(source="signature.pk")
    by = serializers.UUIDField(source="signature.by_id")
    signed_as = serializers.CharField(source="signature.signed_as")
    at = serializers.DateTimeField(source="signature.at")
    digest = serializers.CharField(source="signature.digest")
    changed = serializers.CharField(source="since", help_text="What differs now; empty: nothing")


class ShiftOfDay(serializers.Serializer):
    shift = serializers.UUIDField(source="shift.pk")
    crew = serializers.UUIDField(source="shift.crew_id")
    crew_name = serializers.CharField(source="shift.crew.name")
    begins_at = serializers.DateTimeField(source="shift.begins_at")
    ends_at = serializers.DateTimeField(source="shift.ends_at")
    people = serializers.IntegerField(help_text="Of the crew that are known here")
    entered = serializers.BooleanField(help_text="Whether the day tells of the crew")


class YoursOut(serializers.Serializer):
    covers = serializers.CharField(help_text="How many things of each kind; empty: nothing")
    digest = serializers.CharField(help_text="What you sign; empty where there is nothing")
    to_sign = serializers.BooleanField(help_text="Whether it is not signed yet, or has changed since")


class DayOut(serializers.Serializer):
    project = serializers.UUIDField(source="project.pk")
    day = serializers.DateField()
    entries = serializers.SerializerMethodField()
    shifts = ShiftOfDay(many=True, help_text="Those that begin on the day")
    unread = serializers.SerializerMethodField(help_text="Notes to the next shift that you have not read, by id")
    signed = SignedOut(many=True, help_text="The last signature of each person that stands")
    yours = YoursOut(source="mine")

    @extend_schema_field(EntryOut(many=True))
    def get_entries(self, day: Any) -> list[dict[str, Any]]:
        return [dict(EntryOut(told.entry).data) for _, entries in day.parts for told in entries]

    @extend_schema_field(serializers.ListField(child=serializers.UUIDField()))
    def get_unread(self, day: Any) -> list[str]:
        return [str(told.entry.pk) for told in day.notes]
