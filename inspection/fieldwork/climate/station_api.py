"""Climate stations, readings at them and logger's files in the API, by the actions of the pages."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.conf import settings
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork import queries
from inspection.fieldwork.climate import logger_files, station_queries, stations
from inspection.fieldwork.climate import station_serializers as serializers
from inspection.fieldwork.climate.log_shown import shown
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.recording import warnings_of
from inspection.fieldwork.climate.samples import QUANTITIES, READ_AS
from inspection.fieldwork.climate.serializers import ClimateAnswer
from inspection.fieldwork.models import ClimateRecord
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.instruments.models import Gauge
from inspection.projects import told_tables
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.breakdown_api import named
from inspection.projects.models import Coat, InspectionArea, Project, Station
from inspection.projects.preconditions import NotThere
from inspection.projects.table_api import NOTHING, HowTold, how_told
from inspection.projects.table_serializers import TableAnswer


class StationReads(GenericAPIView):
    serializer_class = serializers.StationOut
    queryset = Station.objects.none()

    def get_queryset(self) -> QuerySet[Station]:
        return station_queries.stations_seen(person_of(self.request)).order_by("code", "pk")


class StationList(StationReads, ListAPIView):
    """Climate stations of your projects; or declare one."""

    def get_queryset(self) -> QuerySet[Station]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")

    @extend_schema(parameters=[OF_PROJECT])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request=serializers.StationSent, responses={201: serializers.StationOut, 200: serializers.StationOut}
    )
    def post(self, request: Request) -> Response:
        """Declare a station and what it serves. 201 when it is new, 200 when it was declared by an earlier sending."""
        by = _recorder(request, "keep climate stations")
        sent = _valid(serializers.StationSent, request)
        project = named(Project.objects.visible_to(by), sent.pop("project"), "project")
        areas = _areas(by, sent.pop("areas"))
        station, new = stations.declare_station(by, project=project, areas=areas, **sent)
        return _stored(serializers.StationOut(station).data, new=new)


class StationDetail(StationReads, RetrieveAPIView):
    """One climate station."""


class StationWrites(Writes):
    queryset = Station.objects.none()
    serializer_class: Any = serializers.StationWhy
    act: Any

    @extend_schema(responses=serializers.StationOut)
    def post(self, request: Request, pk: UUID) -> Response:
        by = _recorder(request, "keep climate stations")
        station, sent = _station(by, pk), self.sent(request)
        if "areas" in sent:
            sent["areas"] = _areas(by, sent["areas"])
        return Response(serializers.StationOut(type(self).act(by, station=station, **sent)).data)


class StationChange(StationWrites):
    """Put what was declared right."""

    serializer_class = serializers.StationChange
    act = staticmethod(stations.change_station)


class StationAreas(StationWrites):
    """Let it serve exactly these areas from a moment on."""

    serializer_class = serializers.StationAreas
    act = staticmethod(stations.serve_areas)


class StationEnd(StationWrites):
    """End it; what was read there stays."""

    act = staticmethod(stations.end_station)


class StationRestore(StationWrites):
    """Take its end back."""

    act = staticmethod(stations.restore_station)


class StationReadings(GenericAPIView):
    serializer_class = serializers.StationReadingSent
    queryset = Station.objects.none()

    @extend_schema(responses={201: ClimateAnswer(many=True), 200: ClimateAnswer(many=True)})
    def post(self, request: Request, pk: UUID) -> Response:
        """Store a reading for all it serves: a record for each coat named. 200 when an earlier sending stored it."""
        by = _recorder(request, "record climate")
        station, sent = _station(by, pk), _valid(serializers.StationReadingSent, request)
        wanted, gauge = sent.pop("coats"), sent.pop("gauge")
        coats = list(Coat.objects.visible_to(by).filter(pk__in=wanted).select_related("system"))
        if len(coats) < len(set(wanted)):
            raise NotThere(Fault("There is no such coat, or it is not yours to see.", "coats"))
        meter = named(Gauge.objects.visible_to(by), gauge, "gauge") if gauge else None
        records, new = stations.record_at_station(
            by, station=station, coats=coats, gauge=meter, source=ClimateRecord.Source.API, **sent
        )
        rows = queries.seen_of_kind(by, ClimateRecord, light=False).in_bulk([record.pk for record in records])
        told = [
            ClimateAnswer(rows[record.pk], context={"warnings": warnings_of(rows[record.pk])}).data
            for record in records
        ]
        return _stored(told, new=new)


class StationLog(GenericAPIView):
    serializer_class = serializers.LogAsked
    queryset = Station.objects.none()

    @extend_schema(responses=serializers.LogOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """How a time of its log was against the limits of a coat, or the usual margin; nothing is stored."""
        by = person_of(request)
        station, asked = _station(by, pk), _valid(serializers.LogAsked, request)
        coat = named(Coat.objects.visible_to(by), asked["coat"], "coat") if asked["coat"] else None
        ends = logger_files.end_of(asked["begins"], asked["ends"], asked["cure_h"])
        if coat is not None and coat.system.project_id != station.project_id:
            raise NotThere(Fault("There is no such coat, or it is not yours to see.", "coat"))
        window = logger_files.window_of(station, asked["begins"], ends, coat=coat)
        if window is None:
            raise Refused("No logger's file reaches into this time.", field="begins")
        return Response(serializers.LogOut(shown(window, station, coat)).data)


class LoggerFileReads(GenericAPIView):
    serializer_class = serializers.LoggerFileOut
    queryset = LoggerFile.objects.none()

    def get_queryset(self) -> QuerySet[LoggerFile]:
        return logger_files.files_seen(person_of(self.request)).order_by("-first_at", "-pk")


@extend_schema(parameters=[OpenApiParameter("station", UUID, description="Only those of this station")])
class LoggerFileList(LoggerFileReads, ListAPIView):
    """Logger's files of the stations you may see."""

    def get_queryset(self) -> QuerySet[LoggerFile]:
        return of_project(super().get_queryset(), self.request.query_params.get("station"), "station")


class LoggerFileDetail(LoggerFileReads, RetrieveAPIView):
    """One logger's file, as it was read."""


class LoggerFileTaken(GenericAPIView):
    """What both addresses take."""

    serializer_class = serializers.LoggerFileSent
    queryset = Station.objects.none()
    most_bytes = settings.DATA_UPLOAD_MAX_MEMORY_SIZE

    def taken(self, request: Request, pk: UUID) -> tuple[Person, Station, dict[str, Any], HowTold | None]:
        """Who sends, for which station, what, and how it is read; None where its heads are named."""
        by = _recorder(request, "store a logger's file")
        station, sent = _station(by, pk), _valid(serializers.LoggerFileSent, request)
        heads = sent["heads"]
        if unknown := sorted(set(heads) - {"time", *QUANTITIES}):
            raise Refused(f"Name heads of {', '.join(('time', *QUANTITIES))}, not {unknown[0][:40]}.", field="heads")
        return by, station, sent, None if heads else how_told(by, READ_AS, sent["bytes"], sent["shape"])

    def looked_at(self, station: Station, sent: dict[str, Any], how: HowTold | None) -> logger_files.Held:
        return logger_files.looked_at(
            station, content=sent["bytes"], name=sent["name"], gap_min=sent["gap_min"], named=sent["heads"],
            note=sent["note"], shape=how.shape if how else None,
        )  # fmt: skip


class LoggerFileLook(LoggerFileTaken):
    """See how a logger's file would be read; nothing is stored."""

    @extend_schema(responses={200: TableAnswer})
    def post(self, request: Request, pk: UUID) -> Response:
        by, station, sent, how = self.taken(request, pk)
        unasked: dict[str, Any] = {"shape": {}, "told_before": False, "asked": [], "first_lines": []}
        shown = NOTHING | (how.shown if how else unasked)
        if not shown["asked"]:
            held = self.looked_at(station, sent, how)
            told = held.told
            shown |= {
                "rows": told["rows"], "found": f"{told['rows']} samples of {', '.join(told['columns'])}",
                "notes": told["notes"], "faults": [Fault(*fault) for fault in told["faults"]],
                "stored_before": logger_files.said_before(by, station, held),
            }  # fmt: skip
        return Response(TableAnswer(shown).data)


class LoggerFileAdd(LoggerFileTaken):
    @extend_schema(responses={201: serializers.LoggerFileOut, 200: serializers.LoggerFileOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Store a logger's file, whole or not at all. 200 where the station has it; 428 where another has it."""
        by, station, sent, how = self.taken(request, pk)
        if how and how.asked:
            raise Refused(how.asked)
        held = self.looked_at(station, sent, how)
        if not sent["confirmed"] and (before := logger_files.said_before(by, station, held)):
            raise Asked(Fault(told, "confirmed") for told in before)
        row, new = logger_files.store_held(by, station=station, held=held)
        if how and sent["remember"] and sent["shape"]:
            told_tables.tell_table(by, columns=READ_AS, sheet=how.sheet, shape=how.shape, remember=True)
        stored = logger_files.files_seen(by).get(pk=row.pk)
        return _stored(serializers.LoggerFileOut(stored).data, new=new)


class LoggerFileWrites(Writes):
    queryset = LoggerFile.objects.none()
    serializer_class = serializers.StationWhy
    act: Any

    @extend_schema(responses=serializers.LoggerFileOut)
    def post(self, request: Request, pk: UUID) -> Response:
        by = _recorder(request, "store a logger's file")
        file = get_object_or_404(logger_files.files_seen(by), pk=pk)
        return Response(serializers.LoggerFileOut(type(self).act(by, file=file, **self.sent(request))).data)


class LoggerFileWithdraw(LoggerFileWrites):
    """Say that it counts no more."""

    act = staticmethod(logger_files.withdraw_file)


class LoggerFileRestore(LoggerFileWrites):
    """Take its withdrawal back."""

    act = staticmethod(logger_files.restore_file)


def _recorder(request: Request, deed: str) -> Person:
    """Who sends; asked first, so that nobody learns what is missing in a thing they may not do."""
    person = person_of(request)
    require(person, Role.INSPECTOR, Role.QUALITY_MANAGER, to=deed)
    return person


def _station(by: Person, pk: UUID) -> Station:
    return get_object_or_404(station_queries.stations_seen(by), pk=pk)


def _valid(serializer: Any, request: Request) -> dict[str, Any]:
    asked = serializer(data=request.data)
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)


def _areas(by: Person, wanted: list[UUID]) -> list[InspectionArea]:
    found = list(InspectionArea.objects.visible_to(by).filter(pk__among=list(set(wanted))))
    if len(found) < len(set(wanted)):
        raise NotThere(Fault("There is no such area, or it is not yours to see.", "areas"))
    return found


def _stored(data: Any, *, new: bool) -> Response:
    return Response(cast("Any", data), status=status.HTTP_201_CREATED if new else status.HTTP_200_OK)
