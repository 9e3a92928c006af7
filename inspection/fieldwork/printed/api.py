"""Printed sheets in the API, by the actions of the pages. What was written on one is stored as thickness, by its id."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.rights import require
from inspection.fieldwork.printed import actions, queries, serializers
from inspection.fieldwork.printed.models import PrintedSheet
from inspection.foundation.refusals import Fault
from inspection.projects.api import OF_PROJECT, Writes, of_project
from inspection.projects.breakdown_api import named
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.preconditions import NotThere


class SheetReads(GenericAPIView):
    serializer_class = serializers.SheetOut
    queryset = PrintedSheet.objects.none()

    def get_queryset(self) -> QuerySet[PrintedSheet]:
        return queries.sheets_seen(person_of(self.request))


class PrintedSheetList(SheetReads, ListAPIView):
    """Sheets printed for your projects, newest first; or print one."""

    def get_queryset(self) -> QuerySet[PrintedSheet]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")

    @extend_schema(parameters=[OF_PROJECT])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request=serializers.SheetSent, responses={201: serializers.SheetDetailOut, 200: serializers.SheetDetailOut}
    )
    def post(self, request: Request) -> Response:
        """Print a sheet of areas, each after a coat. 201 when it is new, 200 when an earlier sending printed it."""
        by = person_of(request)
        require(by, *actions.PEOPLE, to="print sheets")
        sent = serializers.SheetSent(data=request.data)
        sent.is_valid(raise_exception=True)
        asked = sent.validated_data
        project = named(Project.objects.visible_to(by), asked["project"], "project")
        places = list(_places(by, project, asked["places"]))
        sheet, new = actions.print_sheet(by, id=asked["id"], project=project, places=places)
        return Response(_told(by, sheet.pk), status=201 if new else 200)


def _places(by: Person, project: Project, sent: list[dict[str, UUID]]) -> list[tuple[InspectionArea, Coat]]:
    seen = InspectionArea.objects.visible_to(by).filter(structure__project=project)
    areas = seen.select_related("structure__project", "section", "system").in_bulk([each["area"] for each in sent])
    coats = Coat.objects.filter(system__project=project).select_related("system")
    found = coats.prefetch_related("system__coats").in_bulk([each["coat"] for each in sent])
    faults = [
        Fault(f"There is no {name} with this id in the project, or it is not yours to see.", "places", row)
        for row, each in enumerate(sent, start=1)
        for name, known in (("area", areas), ("coat", found))
        if each[name] not in known
    ]
    if faults:
        raise NotThere(faults)
    return [(areas[each["area"]], found[each["coat"]]) for each in sent]


def _told(by: Person, pk: UUID) -> dict[str, Any]:
    sheet = get_object_or_404(queries.sheets_seen(by), pk=pk)
    return dict(serializers.SheetDetailOut(sheet, context={"areas": queries.areas_of(sheet)}).data)


class PrintedSheetDetail(SheetReads, RetrieveAPIView):
    """One sheet with its areas, each with the id under which its readings are stored as thickness."""

    serializer_class = serializers.SheetDetailOut

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(_told(person_of(request), kwargs["pk"]))


class SheetWrites(Writes):
    queryset = PrintedSheet.objects.none()
    serializer_class: Any = serializers.SheetWhy
    act: Any

    @extend_schema(responses=serializers.SheetDetailOut)
    def post(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        require(by, *actions.PEOPLE, to="set printed sheets aside")
        sheet, sent = get_object_or_404(PrintedSheet.objects.visible_to(by), pk=pk), self.sent(request)
        type(self).act(by, sheet=sheet, **sent)
        return Response(_told(by, pk))


class PrintedSheetWithdraw(SheetWrites):
    """Set a sheet aside; what was entered from it stays."""

    act = staticmethod(actions.withdraw_sheet)


class PrintedSheetRestore(SheetWrites):
    """Bring a sheet back that was set aside."""

    act = staticmethod(actions.restore_sheet)
