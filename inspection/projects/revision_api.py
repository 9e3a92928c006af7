"""Revisions of coating systems in the API, by the actions of the pages; the steps of an area, each by its revision."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import Strict, person_of
from accounts.serializers import Because
from inspection.foundation.refusals import Fault, Refused
from inspection.projects import queries, revised_areas, revisions
from inspection.projects.actions import CoatSpec
from inspection.projects.api import Writes
from inspection.projects.breakdown_api import named
from inspection.projects.coating import SaltsAs, SteelworkGrade
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, SpecificationRevision
from inspection.projects.revisions import RevisedCoat, SystemSpec, as_it_is
from inspection.projects.serializers import SystemSerializer
from inspection.projects.steps import steps_shown

NANOMETRES = 1000


def micrometres() -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=9, decimal_places=3, min_value=Decimal(0), allow_null=True, required=False, help_text="In µm"
    )


def figure() -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=9, decimal_places=1, allow_null=True, required=False)


class CoatIn(Strict):
    """What a revision says of a coat; what is left out stays as in the coat it carries on."""

    carries_on = serializers.IntegerField(
        allow_null=True, required=False, default=None, min_value=1,
        help_text="The order of the former coat that is the same step; null for a new coat",
    )  # fmt: skip
    name = serializers.CharField(max_length=60, required=False)
    product = serializers.CharField(max_length=120, required=False)
    colour = serializers.CharField(max_length=60, required=False, allow_blank=True)
    minimum_um = micrometres()
    nominal_um = micrometres()
    maximum_um = micrometres()
    volume_solids_pct = serializers.DecimalField(max_digits=4, decimal_places=1, required=False)
    rule = serializers.ChoiceField(Coat.Rule.choices, required=False)
    pa2_level = serializers.IntegerField(min_value=1, max_value=5, allow_null=True, required=False)
    decides = serializers.BooleanField(required=False)
    recoat_min_hours = figure()
    recoat_max_hours = figure()
    air_min_c = figure()
    air_max_c = figure()
    surface_min_c = figure()
    surface_max_c = figure()
    humidity_min_pct = figure()
    humidity_max_pct = serializers.DecimalField(max_digits=4, decimal_places=1, required=False)
    margin_min_c = serializers.DecimalField(max_digits=3, decimal_places=1, required=False)


class RevisionIn(Because):
    id = serializers.UUIDField(help_text="Made by the sender: the same sent again is stored once")
    applies_from = serializers.DateField(help_text="A day of the project")
    begun_stay = serializers.BooleanField(
        required=False, default=False,
        help_text="Coats begun but not judged stay with the former revision",
    )  # fmt: skip
    specification_revision = serializers.UUIDField(allow_null=True, required=False)
    preparation_grade = serializers.CharField(max_length=40, required=False)
    profile_min_um = micrometres()
    profile_max_um = micrometres()
    salts_max_mg_m2 = figure()
    salts_as = serializers.ChoiceField(SaltsAs.choices, allow_blank=True, required=False)
    dust_max_quantity = serializers.IntegerField(min_value=1, max_value=5, allow_null=True, required=False)
    dust_max_size = serializers.IntegerField(min_value=0, max_value=5, allow_null=True, required=False)
    steelwork_grade = serializers.ChoiceField(SteelworkGrade.choices, allow_blank=True, required=False)
    first_coat_within_h = figure()
    total_minimum_um = micrometres()
    total_nominal_um = micrometres()
    total_maximum_um = micrometres()
    coats = CoatIn(many=True, required=False, help_text="All of them, in order; left out: as in the former")


class StepSerializer(serializers.Serializer):
    """A step of an area: the coat by which it is judged there."""

    coat = serializers.UUIDField(source="coat.pk")
    name = serializers.CharField(source="coat.name")
    system = serializers.UUIDField(source="coat.system_id")
    revision = serializers.IntegerField(source="coat.system.number", help_text="Of the coating system; 0 is the first")
    kept = serializers.BooleanField(help_text="Whether the area keeps it of a former revision")
    judged = serializers.BooleanField()
    measured_at = serializers.DateTimeField(allow_null=True)


def _columns(sent: dict[str, Any]) -> dict[str, Any]:
    """By the names of the columns, thicknesses in nm."""
    found = {}
    for name, value in sent.items():
        if name.endswith("_um"):
            found[f"{name[:-3]}_nm"] = None if value is None else int(value * NANOMETRES)
        else:
            found[name] = value
    return found


def _revised(system: CoatingSystem, coats: list[dict[str, Any]] | None) -> list[RevisedCoat]:
    former = {each.carries_on: each.spec for each in as_it_is(system)}
    if coats is None:
        return as_it_is(system)
    found = []
    for order, sent in enumerate(coats, start=1):
        given = _columns(sent)
        carries_on = given.pop("carries_on")
        before = former.get(carries_on)
        if before is None and (missing := {"name", "product", "volume_solids_pct", "rule"} - given.keys()):
            words = f"Give {', '.join(sorted(missing))}: coat {order} carries on no coat of {system}."
            raise Refused(Fault(words, "coats", order))
        if before and given.get("rule", before.rule) != before.rule:
            before = replace(before, declared=None, pa2_level=None)
        spec = replace(before, order=order, **given) if before else CoatSpec(order=order, **given)
        found.append(RevisedCoat(spec, carries_on))
    return found


class SystemRevise(Writes):
    serializer_class = RevisionIn

    @extend_schema(responses={201: SystemSerializer, 200: SystemSerializer})
    def post(self, request: Request, pk: UUID) -> Response:
        """Issue the next revision. Unfinished coats move to it from its day on; what was judged keeps its own.

        409 where another revision follows the system already. The same sent again answers 200 with what is stored.
        """
        by, sent = person_of(request), self.sent(request)
        system = get_object_or_404(queries.systems_seen_by(by).select_related("project"), pk=pk)
        coats = _revised(system, sent.pop("coats", None))
        standing = system.specification_revision_id
        wanted = sent.pop("specification_revision", standing)
        revisions_seen = SpecificationRevision.objects.visible_to(by).select_related("specification")
        specification = named(revisions_seen, wanted, "specification_revision")
        own = {name: sent.pop(name) for name in ("id", "applies_from", "begun_stay", "reason")}
        of_system = replace(SystemSpec.of(system), **_columns(sent))
        revision, new = revisions.issue_revision(
            by, system=system, coats=coats, of_system=of_system, specification_revision=specification, **own
        )
        told = SystemSerializer(queries.systems_seen_by(by).get(pk=revision.pk)).data
        return Response(told, status=201 if new else 200)


class SystemTakeBack(Writes):
    serializer_class = Because

    @extend_schema(responses=SystemSerializer)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a revision back while nothing is recorded or decided under it; 409 when something is."""
        by = person_of(request)
        system = get_object_or_404(queries.systems_seen_by(by), pk=pk)
        revised_areas.take_back(by, system=system, **self.sent(request))
        return Response(SystemSerializer(queries.systems_seen_by(by).get(pk=pk)).data)


class AreaSteps(GenericAPIView):
    serializer_class = StepSerializer
    queryset = InspectionArea.objects.none()
    pagination_class = None

    @extend_schema(responses=StepSerializer(many=True))
    def get(self, request: Request, pk: UUID) -> Response:
        """The coats of an area from the steel up, each with the revision of the system that it is under there."""
        area = get_object_or_404(queries.areas_seen_by(person_of(request)), pk=pk)
        return Response(StepSerializer(steps_shown(area), many=True).data)
