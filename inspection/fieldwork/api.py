"""Thickness, climate and calculations in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.conf import settings
from django.db.models import Model, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import exceptions, status
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import person_of
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork import queries, serializers
from inspection.fieldwork.cautions import confirm_cautions
from inspection.fieldwork.conformance import conformance_of
from inspection.fieldwork.conformance_shown import conformance_data
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.kind import RecordKind, TakenByForm
from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.fieldwork.printed.actions import record_by_id
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.sending import in_senders_words, readings_sent
from inspection.fieldwork.storing import of_changed_area
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit
from inspection.instruments.models import Gauge
from inspection.projects.api import OF_PROJECT, of_project
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.standards import InputFault, all_calculations, calculate, get
from inspection.standards.registry import Calculation as StandardsCalculation
from inspection.standards.registry import UnknownCalculation

OF_AREA = OpenApiParameter("area", UUID, description="Only those of this inspection area")
VERDICT = OpenApiParameter("verdict", str, description="pass, fail or, for thickness, incomplete or not judged")
CURRENT = OpenApiParameter("current", bool, description="true leaves out versions that were replaced")

READINGS_FROM = OpenApiParameter("readings_from", int, description="How many readings to pass over; follow the links")


class NotThere(Refused):
    """Something the request names does not exist, or is not the sender's to see: the two look alike."""

    status = 404
    kind = "not-found"
    title = "There is no such thing, or it is not yours to see"


class RecordList(ListAPIView):
    """Records of one kind that the person may see, narrowed by the address."""

    def get_queryset(self) -> QuerySet[Any]:
        asked = self.request.query_params
        rows: Any = self.rows(person_of(self.request))
        rows = of_project(of_project(rows, asked.get("project"), "project"), asked.get("area"), "area")
        if verdict := asked.get("verdict"):
            if verdict not in ThicknessRecord.Verdict.values:
                raise Refused(f"Give one of {', '.join(ThicknessRecord.Verdict.values)}.", field="verdict")
            rows = rows.filter(verdict=verdict)
        return cast("QuerySet[Any]", rows.current() if asked.get("current") == "true" else rows)

    def rows(self, person: Person) -> QuerySet[Any]:
        raise NotImplementedError


# --- thickness --------------------------------------------------------------------------------------------------------
class ThicknessList(RecordList):
    """Thickness records you may see, newest first; or store one, whole or not at all."""

    serializer_class = serializers.ThicknessSerializer
    queryset = ThicknessRecord.objects.none()
    most_bytes = settings.DATA_UPLOAD_MAX_MEMORY_SIZE

    def rows(self, person: Person) -> QuerySet[Any]:
        return queries.thickness_records(person)

    @extend_schema(parameters=[OF_PROJECT, OF_AREA, VERDICT, CURRENT])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request=serializers.ThicknessSent,
        responses={201: serializers.ThicknessAnswer, 200: serializers.ThicknessAnswer},
    )
    def post(self, request: Request) -> Response:
        """Store a record with all its readings. 201 when it is new, 200 when it was stored by an earlier sending.

        428 where its id is that of a printed sheet's area and something looks like a slip, until `confirmed`.
        """
        person = recorder_of(request, "record thickness")
        readings, unit, sent = self._parsed(request.data)
        named = named_rows(person, sent, ThicknessRecord)
        try:
            record, new = record_by_id(
                person, id=sent["id"], confirmed=sent["confirmed"], **named, profile_way=sent["profile_way"],
                correction_nm=sent["correction_nm"],
                unit=unit, readings=readings, first_reading_at=sent["first_reading_at"],
                last_reading_at=sent["last_reading_at"], note=sent["note"], source=ThicknessRecord.Source.API,
                replacement_reason=sent["replacement_reason"],
            )  # fmt: skip
        except Refused as refusal:
            refusal.faults = tuple(in_senders_words(refusal, unit))
            raise
        # Of a large record neither what the rule was given nor what it said is in the answer.
        large = ("inputs", "result") if record.reading_count > serializers.READINGS_A_WINDOW else ("inputs",)
        stored = queries.thickness_records(person).defer(None).defer(*large).get(pk=record.pk)
        already = queries.stored_already(
            person, project=named["project"], area=named["area"], coat=named["coat"], readings=readings,
            corrects=named["replaces"], apart_from=record.pk,
        )  # fmt: skip
        return stored_answer(serializers.ThicknessAnswer(stored, context={"already": already}).data, new=new)

    def _parsed(self, data: Any) -> tuple[list[ReadingSent], Unit, dict[str, Any]]:
        """Readings, their unit, and the validated rest; everything wrong in both is said at once."""
        if not isinstance(data, dict):
            raise Refused("Send one JSON object.")
        faults: list[Fault] = []
        readings: list[ReadingSent] = []
        unit = Unit.UM
        try:
            readings, unit = readings_sent(data.get("readings"))
        except Refused as refusal:
            faults = list(refusal.faults)
        head = serializers.ThicknessHead(data={name: value for name, value in data.items() if name != "readings"})
        if faults:
            head.is_valid()
            faults += [Fault(" ".join(map(str, wrong)), str(field)) for field, wrong in head.errors.items()]
            raise Refused(faults)
        head.is_valid(raise_exception=True)
        sent = dict(head.validated_data)
        given = [name for name in ("correction_um", "correction_mil") if name in sent]
        other = f"correction_{Unit.MIL if unit is Unit.UM else Unit.UM}"
        if other in given:
            raise Refused(f"Give it in the unit of the readings: correction_{unit}.", field=other)
        return readings, unit, sent | {"correction_nm": sent.get(f"correction_{unit}", 0)}


class ThicknessDetail(RetrieveAPIView):
    """One thickness record with its verdict, what the verdict was given, and its readings, a window at a time."""

    serializer_class = serializers.ThicknessDetailSerializer
    queryset = ThicknessRecord.objects.none()

    def get_queryset(self) -> QuerySet[ThicknessRecord]:
        return cast("QuerySet[ThicknessRecord]", queries.thickness_records(person_of(self.request)).defer(None))

    @extend_schema(parameters=[READINGS_FROM])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        record, window = self.get_object(), serializers.READINGS_A_WINDOW
        first = _counted(request.query_params.get("readings_from", "0"), "readings_from")
        found = list(record.readings.all()[first : first + window + 1])
        following = f"{request.build_absolute_uri(request.path)}?readings_from={first + window}"
        context = {"readings": found[:window], "readings_next": following if len(found) > window else None}
        return Response(self.get_serializer_class()(record, context=context).data)


class ThicknessResult(GenericAPIView):
    """What the rule answered, check by check, however many readings the record has."""

    queryset = ThicknessRecord.objects.none()

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: UUID) -> Response:
        records = queries.thickness_records(person_of(request)).defer(None)
        return Response(get_object_or_404(records, pk=pk).result)


class ThicknessConformance(GenericAPIView):
    """How probable it is that the area of a record conforms, beside its verdict; with what went into it."""

    queryset = ThicknessRecord.objects.none()
    serializer_class = serializers.ConformanceSerializer

    @extend_schema(responses={200: serializers.ConformanceSerializer})
    def get(self, request: Request, pk: UUID) -> Response:
        """Every figure is null where the rule limits nothing of the kind, or with fewer than two spots."""
        records = queries.thickness_records(person_of(request)).defer(None).select_related("profile_record")
        record = get_object_or_404(records, pk=pk)
        found = conformance_of(record, queries.readings_of(record))
        return Response(serializers.ConformanceSerializer(conformance_data(found, record.project.unit)).data)


# --- kinds taken in one go ------------------------------------------------------------------------------------------
def views_of(kind: RecordKind, taken: TakenByForm) -> tuple[type[RecordList], type[RetrieveAPIView]]:
    """The list of a kind, which also stores one, and the page of one: alike for every kind taken in one go."""

    class Many(RecordList):
        serializer_class = taken.shown
        queryset = kind.model._default_manager.none()

        def rows(self, person: Person) -> QuerySet[Any]:
            return queries.seen_of_kind(person, kind.model)

        @extend_schema(parameters=[OF_PROJECT, OF_AREA, VERDICT, CURRENT])
        def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
            return super().get(request, *args, **kwargs)

        @extend_schema(
            request=taken.sent, responses={201: taken.answer, 200: taken.answer},
            description=f"Store a {kind.one}. 201 when it is new, 200 when it was stored by an earlier sending.",
        )  # fmt: skip
        def post(self, request: Request) -> Response:
            person = recorder_of(request, f"record {kind.name}")
            asked = taken.sent(data=request.data)
            asked.is_valid(raise_exception=True)
            sent = dict(asked.validated_data)
            named = named_rows(person, sent, kind.model)
            values = {name: value for name, value in sent.items() if name not in named}
            record, new = taken.record(person, **values, **named, source=Record.Source.API)
            stored = queries.seen_of_kind(person, kind.model, light=False).get(pk=record.pk)
            warnings = [*kind.warnings(stored), *of_changed_area(stored)]
            return stored_answer(taken.answer(stored, context={"warnings": warnings}).data, new=new)

    class One(RetrieveAPIView):
        serializer_class = taken.detail
        queryset = kind.model._default_manager.none()

        def get_queryset(self) -> QuerySet[Any]:
            return queries.seen_of_kind(person_of(self.request), kind.model, light=False)

    Many.__doc__ = f"{kind.many.capitalize()} you may see, newest first; or store one."
    One.__doc__ = f"One {kind.one} with every check."
    return Many, One


def cautions_of(kind: RecordKind) -> type[GenericAPIView]:
    """The address at which the cautions of a kind are confirmed."""

    class Confirm(GenericAPIView):
        queryset = Project.objects.none()

        @extend_schema(
            request=None, responses={201: serializers.CautionsConfirmed},
            description=f"Confirm the cautions before a {kind.title.lower()}, once a day; told when.",
        )  # fmt: skip
        def post(self, request: Request, project: UUID) -> Response:
            person = recorder_of(request, f"record {kind.name}")
            site = get_object_or_404(Project.objects.visible_to(person), pk=project)
            cautions = list(kind.taken.cautions) if kind.taken else []
            answer = {"confirmed_at": confirm_cautions(person, project=site, kind=kind), "cautions": cautions}
            return Response(serializers.CautionsConfirmed(answer).data, status=status.HTTP_201_CREATED)

    return Confirm


def _counted(text: str, field: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        raise Refused("Give a whole number from 0.", field=field)
    return int(text)


def recorder_of(request: Request, deed: str) -> Person:
    """Who sends; asked first, so that nobody learns what is missing in a thing they may not do."""
    person = person_of(request)
    require(person, Role.INSPECTOR, Role.QUALITY_MANAGER, to=deed)
    return person


def stored_answer(data: Any, *, new: bool) -> Response:
    return Response(data, status=status.HTTP_201_CREATED if new else status.HTTP_200_OK)


def named_rows(person: Person, sent: dict[str, Any], model: type[Record]) -> dict[str, Any]:
    """The rows a request names by id, within the person's sight. Raises NotThere naming each that is not."""
    of_person: dict[str, Any] = {
        "project": Project.objects.visible_to(person),
        "area": InspectionArea.objects.visible_to(person).select_related("structure", "system"),
        **({"coat": Coat.objects.visible_to(person).select_related("system")} if "coat" in sent else {}),
        **({"base_metal_gauge": Gauge.objects.visible_to(person)} if "base_metal_gauge" in sent else {}),
        **({"profile_record": queries.seen_of_kind(person, ProfileRecord)} if "profile_record" in sent else {}),
        **({"gauge": Gauge.objects.visible_to(person)} if "gauge" in sent else {}),
        "replaces": cast("Any", model._default_manager).visible_to(person),
    }
    found: dict[str, Model | None] = {}
    faults = []
    for name, rows in of_person.items():
        wanted = sent[name]
        found[name] = rows.filter(pk=wanted).first() if wanted else None
        if wanted and found[name] is None:
            faults.append(Fault(f"There is no such {name}, or it is not yours to see.", name))
    if faults:
        raise NotThere(faults)
    return found


# --- calculations -----------------------------------------------------------------------------------------------------
class CalculationList(APIView):
    """Every calculation of the standards core: what it takes, where it comes from."""

    @extend_schema(responses=serializers.CalculationShown(many=True))
    def get(self, request: Request) -> Response:
        return Response([_described(one) for one in all_calculations()])


class Calculation(GenericAPIView):
    """Run one calculation on named values; nothing is stored."""

    limited_as = "calculation"
    most_bytes = settings.CALCULATION_MAX_BYTES

    @extend_schema(request=OpenApiTypes.OBJECT, responses=OpenApiTypes.OBJECT)
    def post(self, request: Request, name: str) -> Response:
        """The answer with its checks, sources and caution; 422 names each input that is not right."""
        try:
            get(name)
            return Response(calculate(name, cast("Any", request.data), explain=True))
        except UnknownCalculation as unknown:
            raise exceptions.NotFound(str(unknown)) from None
        except InputFault as wrong:
            raise Refused(Fault(fault.message, fault.field) for fault in wrong.faults) from None


def _described(one: StandardsCalculation) -> dict[str, Any]:
    return {
        "name": one.name,
        "title": one.title,
        "group": one.group,
        "summary": one.summary,
        "caution": one.caution,
        "sources": [str(source) for source in one.sources],
        "inputs": [
            {"name": spec.name, "label": spec.label, "kind": spec.kind, "unit": spec.unit, "required": spec.required,
             "help": spec.help, "options": list(spec.options)}
            for spec in one.inputs
        ],
        "example": dict(one.example),
    }  # fmt: skip
