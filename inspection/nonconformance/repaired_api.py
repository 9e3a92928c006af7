"""Repaired parts in the API: made from the extent of a nonconformance, told with the rest of the area, undone."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict, person_of
from accounts.rights import require
from inspection.nonconformance import actions, queries
from inspection.nonconformance.actions.repairing import WORKERS
from inspection.nonconformance.models import Remainder, RepairedPart
from inspection.nonconformance.repaired import repaired_parts, told_of
from inspection.projects.api import Writes

MEANT = "True once you were asked about what is odd, and it is meant"


class RepairedPartSent(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    area_m2 = serializers.DecimalField(
        max_digits=9, decimal_places=2, min_value=0, help_text="As it is marked out; at most that of its area"
    )
    left_out = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=1_000_000), min_length=1, max_length=500,
        help_text="The spots of the failing measurement that lie within it, by number",
    )  # fmt: skip
    note = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=200, help_text="How it is marked"
    )
    confirmed = serializers.BooleanField(default=False, help_text=MEANT)


class Undone(Strict):
    reason = serializers.CharField(max_length=4_000, help_text="Why; what was recorded on it stays readable")
    confirmed = serializers.BooleanField(default=False, help_text=MEANT)


class RemainderOut(serializers.ModelSerializer):
    verdict = serializers.CharField(
        read_only=True, help_text="`pass`, `fail`, `incomplete` or `not judged`, of the rest of the area"
    )
    result = serializers.JSONField(read_only=True, help_text="What the rule answered, check by check")
    inputs = serializers.JSONField(read_only=True, help_text="Giving them to the rule again gives the same verdict")

    class Meta:
        model = Remainder
        fields = ("id", "record", "verdict", "inputs", "result", "digest", "judged_at")
        read_only_fields = fields


class RepairedPartOut(serializers.ModelSerializer):
    area_label = serializers.CharField(source="part.label", read_only=True)
    area_m2 = serializers.FloatField(read_only=True)
    left_out = serializers.ListField(child=serializers.IntegerField(), read_only=True)
    made_by = serializers.SerializerMethodField()
    wanted = serializers.CharField(read_only=True, help_text="How much is wanted on it, by its own m²")
    remainders = RemainderOut(
        many=True, read_only=True, help_text="The rest of the area, for each version of its failing measurement"
    )
    record = serializers.UUIDField(
        read_only=True, allow_null=True, default=None, help_text="The newest measurement on the part"
    )
    both_pass = serializers.BooleanField(read_only=True, help_text="Whether the rest and the part both pass")

    class Meta:
        model = RepairedPart
        fields = (
            "id", "nonconformance", "part", "area_label", "area_m2", "left_out", "note", "digest", "made_by", "made_at",
            "undone_at", "undone_why", "wanted", "remainders", "record", "both_pass",
        )  # fmt: skip
        read_only_fields = fields

    def get_made_by(self, row: RepairedPart) -> str:
        return row.made_by.name_at(row.made_at)

    def to_representation(self, row: Any) -> dict[str, Any]:
        told = told_of(row)
        row.wanted, row.both_pass, row.record = told.wanted, told.both_pass, told.record.pk if told.record else None
        return dict(super().to_representation(row))


def _again(request: Request, pk: UUID) -> RepairedPart:
    return get_object_or_404(repaired_parts(person_of(request)), pk=pk)


class Repaired(Writes):
    serializer_class = RepairedPartSent

    @extend_schema(responses={200: RepairedPartOut})
    def get(self, request: Request, pk: UUID) -> Response:
        """The repaired part in force of a nonconformance; 404 where there is none."""
        row = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        made = repaired_parts(person_of(request)).filter(nonconformance=row, undone_at=None).first()
        if made is None:
            raise Http404
        return Response(RepairedPartOut(made).data)

    @extend_schema(responses={201: RepairedPartOut, 200: RepairedPartOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Make the repaired part once the extent is known. 200 when an earlier sending did, 428 where it asks first."""
        by = person_of(request)
        row = get_object_or_404(queries.nonconformances(by), pk=pk)
        require(by, *WORKERS, to="make a repaired part of an area")
        made, new = actions.make_repaired_part(by, nonconformance=row, **self.sent(request))
        return Response(RepairedPartOut(_again(request, made.pk)).data, status=201 if new else 200)


class RepairedDetail(Writes):
    serializer_class = RepairedPartOut

    @extend_schema(responses={200: RepairedPartOut})
    def get(self, request: Request, pk: UUID) -> Response:
        """A repaired part, with the rest of its area and what is measured on it."""
        return Response(RepairedPartOut(_again(request, pk)).data)


class RepairedUndo(Writes):
    serializer_class = Undone

    @extend_schema(responses={201: RepairedPartOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Undo a repaired part that was made by mistake. 428 where something rests on it, 409 the second time."""
        by, row = person_of(request), _again(request, pk)
        require(by, *WORKERS, to="undo a repaired part")
        actions.undo_part(by, repaired=row, **self.sent(request))
        return Response(RepairedPartOut(_again(request, pk)).data, status=201)
