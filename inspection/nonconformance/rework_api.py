"""Rework items in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.rights import require
from inspection.nonconformance import actions, rework, serializers
from inspection.nonconformance.models import ReworkEntry, ReworkItem
from inspection.projects.api import OF_PROJECT, Writes, of_project, one_of
from inspection.projects.models import Coat, InspectionArea

STATE = OpenApiParameter("state", str, enum=ReworkItem.State.values, description="Only those in this state")
AREA = OpenApiParameter("area", str, description="Only those of this area, by its id")


class ReworkReads(GenericAPIView):
    queryset = ReworkItem.objects.none()

    def get_queryset(self) -> QuerySet[ReworkItem]:
        return rework.rework_items(person_of(self.request))


class ReworkList(ReworkReads, ListAPIView, Writes):
    """Items of rework that you may see, newest first; or open one."""

    serializer_class = serializers.ReworkItemOut

    def get_queryset(self) -> QuerySet[ReworkItem]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        rows = of_project(rows, asked.get("area"), "area")
        state = one_of(asked.get("state"), ReworkItem.State.values, "state")
        return rows.filter(state=state) if state else rows

    @extend_schema(parameters=[OF_PROJECT, AREA, STATE])
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request=serializers.ReworkOpened,
        responses={201: serializers.ReworkItemOut, 200: serializers.ReworkItemOut},
    )
    def post(self, request: Request) -> Response:
        """Open one. 201 when it is new, 200 when it was opened by an earlier sending."""
        by = person_of(request)
        require(by, *rework.WORKERS, to="open an item of rework")
        asked = serializers.ReworkOpened(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        area = get_object_or_404(
            InspectionArea.objects.visible_to(by).select_related("structure__project"), pk=sent["area"]
        )
        coats = Coat.objects.visible_to(by).select_related("system")
        coat = get_object_or_404(coats, pk=sent["coat"]) if sent["coat"] else None
        item, new = actions.open_item(by, **{**sent, "area": area, "coat": coat})
        return Response(serializers.ReworkItemOut(item).data, status=201 if new else 200)


class ReworkDetail(ReworkReads, RetrieveAPIView):
    """One item of rework with all that was done and said about it."""

    serializer_class = serializers.ReworkItemDetail

    def get_queryset(self) -> QuerySet[ReworkItem]:
        return rework.with_entries(super().get_queryset())


class Enters(Writes):
    """One entry about an item of rework."""

    queryset = ReworkItem.objects.none()

    def item(self, request: Request, pk: UUID, to: str) -> ReworkItem:
        by = person_of(request)
        found = get_object_or_404(rework.rework_items(by), pk=pk)
        require(by, *rework.WORKERS, to=to)
        return found

    def entered(self, entry: ReworkEntry) -> Response:
        return Response(serializers.ReworkEntryOut(entry).data, status=201)


class ReworkDone(Enters):
    serializer_class = serializers.ReworkDone

    @extend_schema(responses={201: serializers.ReworkEntryOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say what was done, by whom and when; the same again answers with what is stored. 409 where it is not open."""
        item = self.item(request, pk, "say what was done about an item of rework")
        return self.entered(actions.mark_done(person_of(request), item=item, **self.sent(request)))


class ReworkLook(Enters):
    serializer_class = serializers.ReworkLookedAt

    @extend_schema(responses={201: serializers.ReworkEntryOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say whether what was done is in order, by another person than who entered it. 409 where nothing was done."""
        item = self.item(request, pk, "look at rework that was done")
        return self.entered(actions.look_at(person_of(request), item=item, **self.sent(request)))


class ReworkDrop(Enters):
    serializer_class = serializers.TakenBack

    @extend_schema(responses={201: serializers.ReworkEntryOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say why it is not to be done. 409 where it is closed."""
        item = self.item(request, pk, "drop an item of rework")
        return self.entered(actions.drop_item(person_of(request), item=item, **self.sent(request)))


class ReworkTakeBack(Enters):
    serializer_class = serializers.TakenBack

    @extend_schema(responses={201: serializers.ReworkEntryOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that an entry was wrong; both stay readable. 409 the second time."""
        by = person_of(request)
        entry = get_object_or_404(rework.rework_entries(by), pk=pk)
        require(by, *rework.WORKERS, to="take an entry back")
        return self.entered(actions.take_entry_back(by, entry=entry, **self.sent(request)))
