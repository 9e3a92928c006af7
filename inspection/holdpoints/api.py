"""Hold points in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.serializers import Because, BecauseSigned
from inspection.holdpoints import actions, matrix, queries, serializers
from inspection.holdpoints.awaited import LETTERS, awaited
from inspection.holdpoints.chain.of_lot import chains_of_lot
from inspection.holdpoints.ground import LYING, PLACES, grounded
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.several_views import DEEDS
from inspection.nonconformance.models import Nonconformance
from inspection.projects.api import OF_PROJECT, Writes, id_of, of_project, one_of
from inspection.projects.models import Party, Project
from inspection.works.lots.queries import lots_seen
from inspection.works.models import Lot

AWAITS = OpenApiParameter(
    "awaits", str, enum=[each.value for each in LETTERS],
    description="Only those that wait for the word of the parties you act for, or that you are asked to witness",
)  # fmt: skip
LETTER_SENT = {"party_kind": "", "party": None, "letter": ""}
RAISED = OpenApiParameter("nonconformance", UUID, description="Only those of the area and coat of this nonconformance")
PLACE = OpenApiParameter("place", str, enum=list(PLACES), description="Only those that lie there on the board")


class PointReads(GenericAPIView):
    queryset = HoldPoint.objects.none()

    def get_queryset(self) -> QuerySet[Any]:
        points = grounded(queries.points_seen_by(person_of(self.request)))
        return points.select_related("project", "area", "coat")


@extend_schema(parameters=[OF_PROJECT, PLACE, AWAITS, RAISED])
class PointList(PointReads, ListAPIView):
    """Hold points and witness points of your projects, newest first."""

    serializer_class = serializers.HoldPointOut

    def get_queryset(self) -> QuerySet[Any]:
        asked = self.request.query_params
        points = of_project(super().get_queryset(), asked.get("project"), "project")
        if letter := one_of(asked.get("awaits"), [each.value for each in LETTERS], "awaits"):
            points = points.filter(pk__in=awaited(person_of(self.request), letter).values("pk"))
        if raised := asked.get("nonconformance"):
            person = person_of(self.request)
            found = get_object_or_404(Nonconformance.objects.visible_to(person), pk=id_of(raised))
            points = points.filter(pk__in=queries.points_held_by(person, found).order_by().values("pk"))
        place = one_of(asked.get("place"), list(PLACES), "place")
        return points.filter(lies=LYING[place]) if place else points


class PointDetail(PointReads, RetrieveAPIView):
    """One point with its evidence as it is now and every decision on it."""

    serializer_class = serializers.HoldPointDetail

    def get_queryset(self) -> QuerySet[Any]:
        told = Decision.objects.select_related("person")
        person = person_of(self.request)
        if person.is_contractors:
            told = told.filter(party__in=Party.objects.of_contractor(person))
        return super().get_queryset().prefetch_related(Prefetch("decisions", told.order_by("number")))


class LotChain(GenericAPIView):
    """What had to come before a lot, at each of its areas: met, not met or not recorded."""

    serializer_class = serializers.PlaceChainOut
    queryset = Lot.objects.none()
    pagination_class = None

    @extend_schema(responses=serializers.PlaceChainOut(many=True))
    def get(self, request: Request, pk: UUID) -> Response:
        """Empty for a version that was corrected, and for a lot that was withdrawn; areas that lack something first."""
        person = person_of(request)
        lot = get_object_or_404(lots_seen(person), pk=pk)
        counts = lot.withdrawn_at is None and not hasattr(lot, "replaced_by")
        return Response(serializers.PlaceChainOut(chains_of_lot(person, lot) if counts else [], many=True).data)


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


class PointWaive(PointWrites):
    serializer_class = serializers.SignedWithReason

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Waive the point with a reason: work may go on without your looking. 409 when it does not wait any more."""
        decision = actions.waive(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(decision).data, status=201)


class PointAttend(PointWrites):
    serializer_class = serializers.Attendance

    @extend_schema(responses={201: serializers.DecisionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Note that a party attended, or did not come. It releases nothing and holds nothing."""
        noted = actions.note_attendance(person_of(request), point=self.point(pk), **self.sent(request))
        return Response(serializers.DecisionOut(noted).data, status=201)


class PointsDecide(Writes):
    serializer_class = serializers.DecidedTogether
    queryset = Decision.objects.none()

    @extend_schema(responses={201: serializers.DecisionOut(many=True)})
    def post(self, request: Request, pk: UUID) -> Response:
        """Release, refuse or waive up to 200 waiting points of a project under one signature: all of them or none."""
        person = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(person), pk=pk)
        sent = self.sent(request)
        shown = {row["point"]: row["evidence_digest"] for row in sent.pop("points")}
        outcome = Decision.Outcome(sent.pop("outcome"))
        made = actions.decide_many(person, project=project, outcome=outcome, shown=shown, **sent)
        return Response(serializers.DecisionOut(made, many=True).data, status=201)


class PointsSeveral(Writes):
    serializer_class = serializers.SeveralChanged
    queryset = HoldPoint.objects.none()

    @extend_schema(responses={200: serializers.HoldPointOut(many=True)})
    def post(self, request: Request, pk: UUID) -> Response:
        """Change up to 200 points of a project in one go, all of them or none. 409 names each that cannot be."""
        person = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(person), pk=pk)
        sent = self.sent(request)
        name = sent.pop("deed")
        of_letter = {key: sent.pop(key, default) for key, default in LETTER_SENT.items()}
        DEEDS[name][0](person, project=project, **sent, **(of_letter if name == "letter" else {}))
        changed = grounded(queries.points_seen_by(person)).filter(pk__in=sent["points"])
        rows = changed.select_related("project", "area", "coat").order_by("area__code", "pk")
        return Response(serializers.HoldPointOut(rows, many=True, context={"request": request}).data)


@extend_schema(
    parameters=[
        OpenApiParameter("state", str, enum=list(matrix.STATES), description="Only areas with a cell that is so"),
        OpenApiParameter("words", str, description="Only areas whose code or name holds it"),
    ],
    responses=serializers.MatrixRowOut(many=True),
)
class Matrix(ListAPIView):
    """The lines of the plan in force at each inspection area, a page of areas at a time."""

    serializer_class = serializers.MatrixRowOut
    queryset = HoldPoint.objects.none()

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        person = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(person), pk=kwargs["pk"])
        asked = request.query_params
        state = one_of(asked.get("state"), list(matrix.STATES), "state")
        areas = matrix.areas_shown(person, project, state=state or "", words=asked.get("words", ""))
        shown = self.paginate_queryset(areas) or []
        rows = matrix.rows_of(shown, matrix.lines_shown(project), project, person)
        return self.get_paginated_response(serializers.MatrixRowOut(rows, many=True).data)


class PlanApply(Writes):
    serializer_class = serializers.ApplyTo

    @extend_schema(responses={201: serializers.AppliedOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Plan a point for each line of the plan in force at each of the areas; what is planned already stays."""
        person = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(person), pk=pk)
        applied = actions.apply_plan(person, project=project, **self.sent(request))
        return Response(serializers.AppliedOut(applied).data, status=201)


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
