"""Hold points in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.serializers import Because, BecauseSigned
from inspection.holdpoints import actions, queries, serializers
from inspection.holdpoints.ground import LYING, PLACES, grounded
from inspection.holdpoints.models import HoldPoint
from inspection.projects.api import OF_PROJECT, Writes, of_project, one_of

PLACE = OpenApiParameter("place", str, enum=list(PLACES), description="Only those that lie there on the board")


class PointReads(GenericAPIView):
    queryset = HoldPoint.objects.none()

    def get_queryset(self) -> QuerySet[Any]:
        points = grounded(queries.points_seen_by(person_of(self.request)))
        return points.select_related("project", "area", "coat")


@extend_schema(parameters=[OF_PROJECT, PLACE])
class PointList(PointReads, ListAPIView):
    """Hold points and witness points of your projects, newest first."""

    serializer_class = serializers.HoldPointOut

    def get_queryset(self) -> QuerySet[Any]:
        asked = self.request.query_params
        points = of_project(super().get_queryset(), asked.get("project"), "project")
        place = one_of(asked.get("place"), list(PLACES), "place")
        return points.filter(lies=LYING[place]) if place else points


class PointDetail(PointReads, RetrieveAPIView):
    """One point with its evidence as it is now and every decision on it."""

    serializer_class = serializers.HoldPointDetail

    def get_queryset(self) -> QuerySet[Any]:
        return super().get_queryset().prefetch_related("decisions")


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
    serializer_class = BecauseSigned

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
        return Response(serializers.HoldPointOut(grounded(queries.points_seen_by(person)).get(pk=renamed.pk)).data)


class PointRemove(PointWrites):
    serializer_class = Because

    @extend_schema(responses={204: None})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take away a point that nobody has decided on. 409 when somebody has: it is closed instead."""
        actions.remove_point(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(status=204)


class PointClose(PointWrites):
    serializer_class = Because

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """End a point that is no longer asked for; its decisions stay readable."""
        decision = actions.close_point(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointReopen(PointWrites):
    serializer_class = Because

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a closing back: the point waits for a decision again."""
        decision = actions.reopen_point(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)
