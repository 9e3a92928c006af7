"""Instruments in the API: to read by the same sight as the pages; checks are stored by the same action."""

from __future__ import annotations

from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Model, QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import person_of
from accounts.models import Person
from inspection.foundation.refusals import Fault
from inspection.instruments import actions, registers
from inspection.instruments.actions import PointSent
from inspection.instruments.company_rules import may_read
from inspection.instruments.models import Certificate, Gauge, InstrumentRules, ReferenceStandard, Verification
from inspection.instruments.serializers import (
    CertificateOut,
    GaugeOut,
    InstrumentRulesOut,
    StandardOut,
    VerificationAnswer,
    VerificationDetailOut,
    VerificationIn,
    VerificationOut,
)
from inspection.projects.api import OF_PROJECT, of_project
from inspection.projects.models import Project
from inspection.projects.preconditions import NotThere

IDENTITY = OpenApiParameter("identity", str, description="Only the one with this company number")
OF_GAUGE = OpenApiParameter("gauge", UUID, description="Only those of this gauge")
Named = TypeVar("Named", bound=Model)


def named(rows: QuerySet[Named], pk: UUID, field: str) -> Named:
    """The thing a request names by its id, if the sender may see it."""
    found = rows.filter(pk=pk).first()
    if found is None:
        raise NotThere(Fault(f"There is no {field} {pk}, or it is not yours to see.", field))
    return found


class EquipmentList(ListAPIView):
    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        identity = self.request.query_params.get("identity")
        return rows.filter(identity__iexact=identity) if identity else rows


class GaugeReads(GenericAPIView):
    serializer_class = GaugeOut
    queryset = Gauge.objects.none()

    def get_queryset(self) -> QuerySet[Gauge]:
        return registers.gauges_for(person_of(self.request), timezone.now().date())


@extend_schema(parameters=[IDENTITY])
class GaugeList(EquipmentList, GaugeReads):
    """Gauges you may see, each with the certificate it relies on."""


class GaugeDetail(GaugeReads, RetrieveAPIView):
    """One gauge."""


class StandardReads(GenericAPIView):
    serializer_class = StandardOut
    queryset = ReferenceStandard.objects.none()

    def get_queryset(self) -> QuerySet[ReferenceStandard]:
        return registers.standards_for(person_of(self.request), timezone.now().date())


@extend_schema(parameters=[IDENTITY])
class StandardList(EquipmentList, StandardReads):
    """Reference standards you may see, each with its certified value and certificate."""


class StandardDetail(StandardReads, RetrieveAPIView):
    """One reference standard."""


class CertificateReads(GenericAPIView):
    serializer_class = CertificateOut
    queryset = Certificate.objects.none()

    def get_queryset(self) -> QuerySet[Certificate]:
        return Certificate.objects.visible_to(person_of(self.request)).prefetch_related("values")


class CertificateList(CertificateReads, ListAPIView):
    """Certificates you may see, in all their versions, with their values."""


class CertificateDetail(CertificateReads, RetrieveAPIView):
    """One version of a certificate."""


class VerificationReads(GenericAPIView):
    serializer_class = VerificationOut
    queryset = Verification.objects.none()

    def get_queryset(self) -> QuerySet[Verification]:
        return registers.with_points(registers.verifications_for(person_of(self.request)))


class VerificationList(VerificationReads, ListAPIView):
    """Checks of gauges you may see, newest first; or store one, whole or not at all."""

    def get_queryset(self) -> QuerySet[Verification]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        return of_project(rows, asked.get("gauge"), "gauge")

    @extend_schema(parameters=[OF_PROJECT, OF_GAUGE])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(request=VerificationIn, responses={201: VerificationAnswer, 200: VerificationAnswer})
    def post(self, request: Request) -> Response:
        """Judge and store a check. 201 when it is new, 200 when it was stored by an earlier sending.

        428 where something is doubtful: readings that look like a slip, or records that it would put in question by
        the way it was made. Sent again with `confirmed` true, the same is stored. With `replaces` it corrects a check.
        """
        person = person_of(request)
        parsed = VerificationIn(data=request.data)
        parsed.is_valid(raise_exception=True)
        sent = parsed.validated_data
        check, new = actions.record_verification(
            person,
            sent_in=True,
            **sent
            | {
                "project": named(Project.objects.visible_to(person), sent["project"], "project"),
                "gauge": named(Gauge.objects.visible_to(person), sent["gauge"], "gauge"),
                "points": points_sent(person, sent["points"]),
                "replaces": named(Verification.objects.visible_to(person), sent["replaces"], "check")
                if sent["replaces"]
                else None,
            },
        )
        stored = registers.with_points(registers.verifications_for(person)).get(pk=check.pk)
        return Response(VerificationAnswer(stored).data, status=201 if new else 200)


class VerificationDetail(VerificationReads, RetrieveAPIView):
    """One check, with what was judged."""

    serializer_class = VerificationDetailOut


class Rules(APIView):
    """What the company has chosen for its instruments, as it holds now."""

    @extend_schema(responses=InstrumentRulesOut)
    def get(self, request: Request) -> Response:
        may_read(person_of(request))
        return Response(InstrumentRulesOut(InstrumentRules.now()).data)


def points_sent(person: Person, points: list[dict[str, Any]]) -> list[PointSent]:
    """The points with their standards, read in one query."""
    wanted = {pk for point in points for pk in point["standards"]}
    standards = ReferenceStandard.objects.visible_to(person).in_bulk(wanted)
    for number, point in enumerate(points):
        for place, pk in enumerate(point["standards"]):
            if pk not in standards:
                words = f"There is no standard {pk}, or it is not yours to see."
                raise NotThere(Fault(words, f"points[{number}].standards[{place}]", number + 1))
    return [
        PointSent(
            [standards[pk] for pk in point["standards"]],
            point.get("readings_um") or point.get("readings_mil") or [],
            point.get("readings", []),
            point["reference"],
        )
        for point in points
    ]
