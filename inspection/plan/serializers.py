"""Plans as the API shows and takes them."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from accounts.api import Strict
from inspection.plan.lines import MOST_LINES, Letters, LineSent
from inspection.plan.models import (
    LONGEST_NUMBER,
    Intervention,
    LeadUnit,
    LineRequirement,
    PlanLine,
    PlanRevision,
)
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

    class Meta(PlanRevisionOut.Meta):
        fields: tuple[str, ...] = (*PlanRevisionOut.Meta.fields, "lines")
        read_only_fields: tuple[str, ...] = fields


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
