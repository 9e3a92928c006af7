"""Plans as the API shows and takes them."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from accounts.api import Strict
from inspection.plan.content import digest_of_revision
from inspection.plan.lines import MOST_LINES, Letters, LineSent
from inspection.plan.models import (
    LONGEST_NUMBER,
    Approval,
    Intervention,
    LeadUnit,
    LineRequirement,
    PlanLine,
    PlanRevision,
)
from inspection.plan.queries import lines_of
from inspection.projects.models import Party


class PlanRequirementOut(serializers.ModelSerializer):
    class Meta:
        model = LineRequirement
        fields = ("kind", "how_many", "fresh_hours")
        # The databases keep ranges of their own; the document says one.
        extra_kwargs: ClassVar = {"fresh_hours": {"max_value": 10_000}}


class PlanInterventionOut(serializers.ModelSerializer):
    class Meta:
        model = Intervention
        fields = ("party_kind", "party", "letter", "meaning")


class PlanLineOut(serializers.ModelSerializer):
    requirements = PlanRequirementOut(many=True, read_only=True)
    interventions = PlanInterventionOut(many=True, read_only=True)

    class Meta:
        model = PlanLine
        fields = (
            "id", "number", "activity", "title", "scope", "frequency", "criterion", "method", "coat_order", "lead",
            "lead_unit", "carries_on", "requirements", "interventions",
        )  # fmt: skip


class PlanRevisionOut(serializers.ModelSerializer):
    project = serializers.UUIDField(source="plan.project_id", allow_null=True, read_only=True)
    plan = serializers.CharField(source="plan.name", read_only=True)

    class Meta:
        model = PlanRevision
        fields: tuple[str, ...] = ("id", "project", "plan", "number", "state", "note", "applies_from", "in_force_at")
        read_only_fields: tuple[str, ...] = fields


class PlanRevisionWithLines(PlanRevisionOut):
    lines = PlanLineOut(many=True, read_only=True)
    lines_digest = serializers.SerializerMethodField(help_text="Of what the lines say; an approval sends it back")

    class Meta(PlanRevisionOut.Meta):
        fields: tuple[str, ...] = (*PlanRevisionOut.Meta.fields, "lines", "lines_digest")
        read_only_fields: tuple[str, ...] = fields

    def get_lines_digest(self, revision: PlanRevision) -> str:
        return digest_of_revision(revision, lines_of(revision))


class ApprovalOut(serializers.ModelSerializer):
    class Meta:
        model = Approval
        fields = ("id", "revision", "party", "signed_as", "at", "digest", "withdrawn_at")
        read_only_fields = fields


class AskedParties(Strict):
    parties = serializers.ListField(
        child=serializers.UUIDField(), required=False, allow_null=True, default=None, max_length=100,
        help_text="Parties of the project; null: those that do more at a line than perform",
    )  # fmt: skip


class SignedLines(Strict):
    password = serializers.CharField(max_length=200, trim_whitespace=False, help_text="Yours, as your signature")
    digest = serializers.CharField(max_length=64, help_text="`lines_digest` of the revision as you saw it")


class BroughtIn(Strict):
    applies_from = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="A day of the project, not ahead; null: today"
    )


class BegunRevision(Strict):
    note = serializers.CharField(
        max_length=4_000, required=False, allow_blank=True, default="", help_text="What it changes, and why"
    )


class PlanRequirementIn(Strict):
    kind = serializers.CharField(max_length=12, help_text="Name of a kind of record")
    how_many = serializers.IntegerField(min_value=1, max_value=100, default=1)
    fresh_hours = serializers.IntegerField(min_value=1, max_value=10_000, allow_null=True, default=None)


class PlanInterventionIn(Strict):
    party_kind = serializers.ChoiceField(Party.Kind.choices)
    party = serializers.UUIDField(allow_null=True, default=None, help_text="One party of that kind; null: all of them")
    letter = serializers.CharField(max_length=3, help_text="Of the project's legend")


class PlanLineIn(Strict):
    number = serializers.CharField(max_length=LONGEST_NUMBER)
    activity = serializers.ChoiceField(PlanLine.Activity.choices)
    title = serializers.CharField(max_length=160)
    scope = serializers.ChoiceField(PlanLine.Scope.choices, default=PlanLine.Scope.AREA)
    frequency = serializers.CharField(max_length=160)
    criterion = serializers.CharField(max_length=300)
    method = serializers.CharField(max_length=160, default="", allow_blank=True)
    coat_order = serializers.IntegerField(
        min_value=1, max_value=12, allow_null=True, default=None, help_text="After which coat; null: on the bare steel"
    )
    lead = serializers.IntegerField(min_value=1, max_value=1000, allow_null=True, default=None)
    lead_unit = serializers.ChoiceField(LeadUnit.choices, default="", allow_blank=True)
    requirements = serializers.ListField(child=PlanRequirementIn(), max_length=20, default=list)
    interventions = serializers.ListField(child=PlanInterventionIn(), max_length=50)


class PlanLinesIn(Strict):
    lines = serializers.ListField(child=PlanLineIn(), min_length=1, max_length=MOST_LINES)


def line_sent(values: dict[str, Any]) -> LineSent:
    own = {name: value for name, value in values.items() if name not in {"requirements", "interventions"}}
    return LineSent(
        **own,
        requires=[(each["kind"], each["how_many"], each["fresh_hours"]) for each in values["requirements"]],
        letters=[Letters(each["party_kind"], each["letter"], each["party"]) for each in values["interventions"]],
    )
