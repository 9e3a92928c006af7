"""Crews and shifts as the API shows them and takes them. Moments are in UTC."""

from __future__ import annotations

from rest_framework import serializers

from accounts.api import Strict
from accounts.serializers import Because
from inspection.projects.serializers import Moment
from inspection.works.models import Crew, CrewPerson, Shift


class CrewPersonOut(serializers.ModelSerializer):
    name = serializers.CharField(source="person.name", read_only=True)

    class Meta:
        model = CrewPerson
        fields = ("id", "person", "name", "begun_at", "ended_at")
        read_only_fields = fields


class CrewOut(serializers.ModelSerializer):
    organisation = serializers.CharField(source="party.organisation.name", read_only=True)
    people = CrewPersonOut(many=True, read_only=True)

    class Meta:
        model = Crew
        fields = ("id", "project", "party", "organisation", "name", "ended_at", "people")
        read_only_fields = fields


class ShiftOut(serializers.ModelSerializer):
    begins_at = serializers.DateTimeField(read_only=True, help_text="As worked where that is told, else as planned")
    ends_at = serializers.DateTimeField(read_only=True, help_text="As worked where that is told, else assumed")
    end_is_assumed = serializers.BooleanField(
        source="is_assumed", read_only=True, help_text="It was begun, and nobody told when it ended"
    )

    class Meta:
        model = Shift
        fields = (
            "id", "crew", "planned_begin", "planned_end", "begun_at", "ended_at", "begins_at", "ends_at",
            "end_is_assumed", "called_off_at",
        )  # fmt: skip
        read_only_fields = fields


class NewCrew(Strict):
    project = serializers.UUIDField()
    party = serializers.UUIDField(help_text="The id of the party of the project whose crew it is")
    name = serializers.CharField(max_length=60)


class CrewName(Because):
    name = serializers.CharField(max_length=60)


class NewPeople(Strict):
    people = serializers.ListField(child=serializers.UUIDField(), min_length=1, max_length=60)
    begun_at = Moment()
    ended_at = Moment(allow_null=True, required=False, default=None)


class PartTimes(Because):
    begun_at = Moment()
    ended_at = Moment(allow_null=True)


class Planned(Strict):
    first = serializers.DateField()
    last = serializers.DateField()
    weekdays = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=6), max_length=7, help_text="0 is Monday"
    )
    begins = serializers.TimeField(help_text="On the project's clocks")
    ends = serializers.TimeField(help_text="One that is not after `begins` is of the next day")


class Tap(Strict):
    at = Moment(required=False, help_text="Left out: now")


class Times(Because):
    begun_at = Moment(allow_null=True)
    ended_at = Moment(allow_null=True)


class PlanTimes(Because):
    planned_begin = Moment()
    planned_end = Moment()


class Why(Because):
    pass
