"""The search for the extent in the API: how it stands, what comes next, a spot kept or taken back."""

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
from inspection.foundation.units import Unit, um
from inspection.nonconformance import actions, queries
from inspection.nonconformance.actions.extending import WORKERS
from inspection.nonconformance.extent import Found, found
from inspection.nonconformance.models import ExtentSpot, Nonconformance
from inspection.nonconformance.serializers import TakenBack
from inspection.projects.api import Writes


class ExtentSpotSent(Strict):
    id = serializers.UUIDField(help_text="Made by the sender (UUID version 7); sending it again is safe")
    direction = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=8,
        help_text="Of eight, clockwise from up the surface; left out: the one that comes next",
    )  # fmt: skip
    readings_um = serializers.ListField(
        child=serializers.DecimalField(max_digits=9, decimal_places=3, min_value=0), required=False, default=list,
        max_length=50, help_text="Readings of the spot; empty where there is nothing to measure",
    )  # fmt: skip
    ended = serializers.ChoiceField(
        [("", "–"), *ExtentSpot.Ended.choices], required=False, default="", allow_blank=True,
        help_text="Why there is nothing to measure in the direction",
    )  # fmt: skip
    by_units = serializers.BooleanField(default=False, help_text="With the first spot: count repeating units")
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=200)


class ExtentSpotOut(serializers.ModelSerializer):
    readings_um = serializers.SerializerMethodField()
    ended = serializers.CharField(
        read_only=True, help_text="`no_place` or `shift` where there was nothing to measure; empty of a spot"
    )

    class Meta:
        model = ExtentSpot
        fields = ("id", "number", "direction", "readings_um", "ended", "by_units", "note", "at", "withdrawn_at",
                  "withdrawn_why")  # fmt: skip
        read_only_fields = fields

    def get_readings_um(self, spot: ExtentSpot) -> list[float]:
        return [um(nm) for nm in spot.readings_nm]


class SpotPlaceOut(serializers.Serializer):
    direction = serializers.IntegerField()
    step = serializers.IntegerField()
    distance_m = serializers.FloatField(
        allow_null=True, help_text="From the nonconforming spot; null where units count"
    )
    x_m = serializers.FloatField(allow_null=True, help_text="To the right, seen from outside")
    y_m = serializers.FloatField(allow_null=True, help_text="Up the surface")


class ExtentOut(serializers.Serializer):
    finished = serializers.BooleanField()
    next = SpotPlaceOut(allow_null=True, help_text="The spot to measure next")
    spots = ExtentSpotOut(many=True, help_text="Those that count, in the order in which they were measured")
    nonconforming = serializers.ListField(
        child=serializers.IntegerField(), help_text="Numbers of the spots that do not conform"
    )
    boundary = SpotPlaceOut(
        many=True, allow_null=True, help_text="Once finished: the nonconforming area ends before these"
    )
    area_m2 = serializers.FloatField(allow_null=True, help_text="Inside the boundary, at most")


def told(row: Nonconformance, search: Found) -> dict[str, Any]:
    outcome, bad, taken = search.outcome, [], dict.fromkeys(range(1, 9), 0)
    for spot in search.spots:
        arm, step = search.search.arms[spot.direction - 1], taken[spot.direction]
        taken[spot.direction] += 1
        if not spot.ended and not arm.conforming[step]:
            bad.append(spot.number)
    shown = {
        "finished": outcome.finished, "next": outcome.next, "spots": search.spots, "nonconforming": bad,
        "boundary": outcome.boundary, "area_m2": outcome.area_m2,
    }  # fmt: skip
    return dict(ExtentOut(shown).data)


class Extent(Writes):
    serializer_class = ExtentSpotSent

    def row(self, request: Request, pk: UUID) -> Nonconformance:
        return get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)

    @extend_schema(responses={200: ExtentOut})
    def get(self, request: Request, pk: UUID) -> Response:
        """How far the search for the extent has come, and which spot comes next; 404 where no film is concerned."""
        row = self.row(request, pk)
        search = found(row)
        if search is None:
            raise Http404
        return Response(told(row, search))

    @extend_schema(responses={201: ExtentSpotOut, 200: ExtentSpotOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Keep the next spot, or that its direction ends. 200 when an earlier sending did, 409 once it has ended."""
        by, row = person_of(request), self.row(request, pk)
        require(by, *WORKERS, to="find how far a nonconformance reaches")
        sent = self.sent(request)
        readings = [str(each) for each in sent.pop("readings_um")]
        spot, new = actions.add_spot(by, nonconformance=row, readings=readings, unit=Unit.UM, **sent)
        return Response(ExtentSpotOut(spot).data, status=201 if new else 200)


class SpotTakeBack(Writes):
    serializer_class = TakenBack

    @extend_schema(responses={201: ExtentSpotOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a spot back, from the outermost of its direction inwards; it stays readable. 409 the second time."""
        by = person_of(request)
        spot = get_object_or_404(queries.extent_spots(by), pk=pk)
        return Response(ExtentSpotOut(actions.take_spot_back(by, spot=spot, **self.sent(request))).data, status=201)
