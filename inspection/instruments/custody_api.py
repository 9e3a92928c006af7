"""Who holds instruments and what befell them, in the API: the same actions as the pages, under ids of the sender."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.db import transaction
from django.db.models import Model
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person, Role
from accounts.rights import require
from inspection.instruments import actions, registers
from inspection.instruments.api import named
from inspection.instruments.models import Custody, Gauge, GaugeIncident, ReferenceStandard
from inspection.instruments.serializers import HandOverOut, HandOverSent, IncidentReported, IncidentSent
from inspection.projects.api import Writes

KEEPERS = (Role.QUALITY_MANAGER, Role.INSPECTOR)


def _seen(person: Person, model: type[Any], pk: UUID) -> Any:
    return get_object_or_404(model.objects.visible_to(person), pk=pk)


def _held(person: Person, model: type[Any], pk: UUID) -> Any:
    """The thing in sight, held until the transaction ends: the same sent at the same moment is known to have come."""
    seen = _seen(person, model, pk)
    model.objects.select_for_update().get(pk=seen.pk)
    return seen


class IncidentReport(Writes):
    queryset = GaugeIncident.objects.none()
    serializer_class = IncidentSent

    @extend_schema(responses={201: IncidentReported, 200: IncidentReported})
    @transaction.atomic
    def post(self, request: Request, pk: UUID) -> Response:
        """Report a fall or an erratic reading. 200 where an earlier sending did; 409 for other content."""
        by = person_of(request)
        gauge = _held(by, Gauge, pk)
        require(by, *KEEPERS, to="report an incident")
        sent = self.sent(request)
        known = GaugeIncident.objects.filter(pk=sent["id"]).exists()
        return Response(
            IncidentReported(actions.report_incident(by, gauge=gauge, **sent)).data, status=200 if known else 201
        )


class HandOver(Writes):
    queryset = Custody.objects.none()
    serializer_class = HandOverSent
    of: ClassVar[tuple[str, type[Model]]]

    @transaction.atomic
    def handed(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        name, model = self.of
        thing = _held(by, model, pk)
        require(by, *KEEPERS, to="hand over equipment")
        sent = self.sent(request)
        to = named(registers.holders(), sent.pop("to"), "to") if sent["to"] else sent.pop("to")
        known = Custody.objects.filter(sent_as=sent["id"]).exists()
        custody = actions.hand_over(by, **{name: thing}, to=to, **sent)
        return Response(HandOverOut(custody).data, status=200 if known else 201)


class GaugeHandOver(HandOver):
    of = ("gauge", Gauge)

    @extend_schema(responses={201: HandOverOut, 200: HandOverOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Hand an instrument to somebody, or into store. 200 where an earlier sending did; 409 for other content."""
        return self.handed(request, pk)


class StandardHandOver(HandOver):
    of = ("standard", ReferenceStandard)

    @extend_schema(responses={201: HandOverOut, 200: HandOverOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Hand a reference standard to somebody, or into store. 200 where an earlier sending did."""
        return self.handed(request, pk)


class NothingSent(serializers.Serializer):
    """An empty body."""


class Receipt(Writes):
    queryset = Custody.objects.none()
    serializer_class = NothingSent
    of: ClassVar[tuple[str, type[Model]]]

    @extend_schema(responses=HandOverOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that you have what you were handed; said again it stands as it does. Who has it not hands it over."""
        by = person_of(request)
        name, model = self.of
        return Response(HandOverOut(actions.confirm_custody(by, **{name: _seen(by, model, pk)})).data)


class GaugeReceipt(Receipt):
    of = ("gauge", Gauge)


class StandardReceipt(Receipt):
    of = ("standard", ReferenceStandard)
