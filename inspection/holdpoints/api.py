"""Hold points and nonconformances in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from inspection.foundation.refusals import Refused
from inspection.holdpoints import actions, queries, serializers
from inspection.holdpoints.ground import PLACES, with_ground
from inspection.holdpoints.models import HoldPoint, Nonconformance
from inspection.projects.api import OF_PROJECT, of_project

PLACE = OpenApiParameter("place", str, enum=list(PLACES), description="Only those that lie there on the board")
STATE = OpenApiParameter("state", str, enum=Nonconformance.State.values, description="Only open or only closed ones")


def _one_of(text: str | None, allowed: list[str], field: str) -> str:
    if text and text not in allowed:
        raise Refused(f"Give one of {', '.join(allowed)}.", field=field)
    return text or ""


class PointReads(GenericAPIView):
    queryset = HoldPoint.objects.none()

    def get_queryset(self) -> QuerySet[Any]:
        points = with_ground(queries.points_seen_by(person_of(self.request)))
        return points.select_related("project", "area", "coat")


@extend_schema(parameters=[OF_PROJECT, PLACE])
class PointList(PointReads, ListAPIView):
    """Hold points and witness points of your projects, newest first."""

    serializer_class = serializers.HoldPointOut

    def get_queryset(self) -> QuerySet[Any]:
        asked = self.request.query_params
        points = of_project(super().get_queryset(), asked.get("project"), "project")
        place = _one_of(asked.get("place"), list(PLACES), "place")
        return points.filter(place=place) if place else points


class PointDetail(PointReads, RetrieveAPIView):
    """One point with its evidence as it is now and every decision on it."""

    serializer_class = serializers.HoldPointDetail

    def get_queryset(self) -> QuerySet[Any]:
        return super().get_queryset().prefetch_related("decisions")


class Writes(GenericAPIView):
    """One change, by the action that the page calls."""

    def sent(self, request: Request) -> dict[str, Any]:
        sent = self.get_serializer(data=request.data)
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)


class PointWrites(Writes):
    def point(self, pk: UUID) -> HoldPoint:
        points = queries.points_seen_by(person_of(self.request)).select_related("project", "area", "coat")
        found: HoldPoint = get_object_or_404(points, pk=pk)
        return found


class PointRelease(PointWrites):
    serializer_class = serializers.SignedRelease

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Release the point. 409 when its evidence or state has changed since you saw it."""
        decision = actions.release(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointRefuse(PointWrites):
    serializer_class = serializers.SignedWithReason

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Refuse the point with a reason. 409 when its evidence or state has changed since you saw it."""
        decision = actions.refuse(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointPresent(PointWrites):
    serializer_class = serializers.PresentedAgain

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Put a refused point before the client again. 409 when it is not refused any more."""
        decision = actions.present_again(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointUnrefuse(PointWrites):
    serializer_class = serializers.BecauseSigned

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a refusal back, signed; what was measured before it counts again. 409 when it is not refused."""
        decision = actions.take_refusal_back(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointRename(PointWrites):
    serializer_class = serializers.NewTitle

    @extend_schema(responses={200: serializers.HoldPointOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Give the point another title; issued reports and the journal keep the former one."""
        person = person_of(request)
        renamed = actions.rename_point(person, point=self.point(pk), **self.sent(request))
        return Response(serializers.HoldPointOut(with_ground(queries.points_seen_by(person)).get(pk=renamed.pk)).data)


class PointRemove(PointWrites):
    serializer_class = serializers.Because

    @extend_schema(responses={204: None})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take away a point that nobody has decided on. 409 when somebody has: it is closed instead."""
        actions.remove_point(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(status=204)


class PointClose(PointWrites):
    serializer_class = serializers.Because

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """End a point that is no longer asked for; its decisions stay readable."""
        decision = actions.close_point(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointReopen(PointWrites):
    serializer_class = serializers.Because

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a closing back: the point waits for a decision again."""
        decision = actions.reopen_point(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class NonconformanceReads(GenericAPIView):
    serializer_class = serializers.NonconformanceOut
    queryset = Nonconformance.objects.none()

    def get_queryset(self) -> QuerySet[Nonconformance]:
        return queries.nonconformances(person_of(self.request)).prefetch_related("dispositions")


@extend_schema(parameters=[OF_PROJECT, STATE])
class NonconformanceList(NonconformanceReads, ListAPIView):
    """Nonconformances of your projects, newest first."""

    def get_queryset(self) -> QuerySet[Nonconformance]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        state = _one_of(asked.get("state"), Nonconformance.State.values, "state")
        return rows.filter(state=state) if state else rows


class NonconformanceDetail(NonconformanceReads, RetrieveAPIView):
    """One nonconformance, with what has to happen before it closes."""

    serializer_class = serializers.NonconformanceDetail


class NonconformanceRework(Writes):
    serializer_class = serializers.ReworkDone

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Record what was done about it, by whom and when; the same again answers with what is stored."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        entry = actions.record_rework(person_of(request), nonconformance=found, **self.sent(request))
        return Response(serializers.DispositionOut(entry).data, status=201)


class NonconformanceConcede(Writes):
    serializer_class = serializers.Conceded

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Accept it as it is, with a reason, signed with the person's password. 409 when it is closed already."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        entry = actions.concede(person_of(request), nonconformance=found, **self.sent(request))
        return Response(serializers.DispositionOut(entry).data, status=201)


class DispositionTakeBack(Writes):
    serializer_class = serializers.TakenBack

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that a rework, concession or closure was wrong; both entries stay readable. 409 the second time."""
        entry = get_object_or_404(queries.dispositions(person_of(request)), pk=pk)
        taken = actions.take_back(person_of(request), disposition=entry, **self.sent(request))
        return Response(serializers.DispositionOut(taken).data, status=201)
