"""Climate stations and logs as the API takes and shows them. °C, %, m/s; moments in UTC; times of a log in hours."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from accounts.api import Strict
from accounts.serializers import Because
from inspection.fieldwork.climate.logger_files import LONGEST_CURE_H, LONGEST_GAP_MIN
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.samples import LONGEST_HEAD
from inspection.fieldwork.climate.serializers import AirAndSteelSent
from inspection.fieldwork.climate.stations import LONGEST_CODE, LONGEST_NAME, MOST_COATS
from inspection.fieldwork.storing import LONGEST_NOTE
from inspection.projects.models import Station
from inspection.projects.serializers import Moment
from inspection.projects.table_serializers import FileSent, TableShapeSent

MOST_AREAS = 5_000


class StationOut(serializers.ModelSerializer):
    holds_h = serializers.FloatField(read_only=True, help_text="How long a reading counts at most")

    class Meta:
        model = Station
        fields = ("id", "project", "code", "name", "where", "dehumidifier", "holds_h", "ended_at", "ended_why")
        read_only_fields = fields


class WhatSent(Strict):
    code = serializers.CharField(max_length=LONGEST_CODE)
    name = serializers.CharField(max_length=LONGEST_NAME)
    where = serializers.ChoiceField(Station.Where.choices)
    dehumidifier = serializers.BooleanField(required=False, default=False)
    holds_h = serializers.FloatField(required=False, default=4, min_value=0, max_value=24)


class ServedSent(Strict):
    areas = serializers.ListField(child=serializers.UUIDField(), max_length=MOST_AREAS)
    since = Moment(help_text="Readings taken since then count for these areas")


class StationSent(WhatSent, ServedSent):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    project = serializers.UUIDField()


class StationChange(WhatSent, Because):
    pass


class StationAreas(ServedSent, Because):
    pass


class StationWhy(Because):
    pass


class StationReadingSent(AirAndSteelSent):
    id = serializers.UUIDField(
        help_text="Made by the sender (UUID version 7); sending it again is safe. Records for further coats get ids "
        "made from it"
    )
    coats = serializers.ListField(
        child=serializers.UUIDField(), max_length=MOST_COATS, required=False, default=list,
        help_text="Coats under way around; empty: only the margin above the dew point is judged",
    )  # fmt: skip
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=LONGEST_NOTE)


class LoggerFileOut(serializers.ModelSerializer):
    digest = serializers.CharField(source="file_id", read_only=True, help_text="SHA-256 of the file")
    shape = serializers.DictField(allow_null=True, read_only=True, help_text="How it was told to be read")
    gap_min = serializers.SerializerMethodField(help_text="What lies further apart is a gap")
    received_by = serializers.CharField(source="received_by.name", read_only=True)

    class Meta:
        model = LoggerFile
        fields = (
            "id", "station", "file_name", "digest", "columns", "shape", "time_zone", "gap_min", "rows", "first_at",
            "last_at", "received_at", "received_by", "note", "withdrawn_at", "withdrawn_why",
        )  # fmt: skip
        read_only_fields = fields

    def get_gap_min(self, row: LoggerFile) -> float:
        return row.longest_gap.total_seconds() / 60


class LoggerFileSent(FileSent):
    gap_min = serializers.FloatField(min_value=0, max_value=LONGEST_GAP_MIN, help_text="Longer apart is a gap, minutes")
    heads = serializers.DictField(
        child=serializers.CharField(max_length=LONGEST_HEAD), required=False, default=dict,
        help_text="By time, air_c, humidity_pct, surface_c or dew_point_c the head of its column, if it does not tell",
    )  # fmt: skip
    shape = TableShapeSent(required=False, allow_null=True, default=None)
    remember = serializers.BooleanField(
        required=False, default=False, help_text="Read your organisation’s next file with the same head so"
    )
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text="The same file at another station, or the same samples, are meant"
    )
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=LONGEST_NOTE)


class LogAsked(Strict):
    begins = Moment()
    ends = Moment()
    cure_h = serializers.FloatField(required=False, default=0, min_value=0, max_value=LONGEST_CURE_H)
    coat = serializers.UUIDField(required=False, allow_null=True, default=None)


class ShareOut(serializers.Serializer):
    limit = serializers.CharField(source="words")
    within_pct = serializers.FloatField(source="share.within_pct", help_text="Of the whole time; gaps are no credit")
    within_h = serializers.FloatField()
    outside_h = serializers.FloatField()
    unknown_h = serializers.FloatField()


class StretchOut(serializers.Serializer):
    begins = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    hours = serializers.FloatField()


class FoundOut(serializers.Serializer):
    quantity = serializers.CharField()
    mean = serializers.FloatField()
    least = serializers.FloatField()
    greatest = serializers.FloatField()
    least_at = serializers.DateTimeField()


class LogOut(serializers.Serializer):
    begins = serializers.DateTimeField(source="window.begins")
    ends = serializers.DateTimeField(source="window.ends")
    all = ShareOut()
    each = ShareOut(many=True)
    longest_breach = StretchOut(allow_null=True)
    breaches = serializers.IntegerField(source="many_breaches")
    gaps = StretchOut(many=True, help_text="The first twenty")
    many_gaps = serializers.IntegerField()
    found = serializers.SerializerMethodField()

    def get_found(self, log: Any) -> list[dict[str, Any]]:
        return [
            {"quantity": words, "mean": row.mean, "least": row.least, "greatest": row.greatest, "least_at": at}
            for words, row, at in log.found
        ]
