"""Nonconformances in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.rights import require
from inspection.instruments.models import Gauge
from inspection.nonconformance import actions, queries, serializers
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.projects.api import OF_PROJECT, Writes, id_of, of_project, one_of
from inspection.projects.models import Coat, InspectionArea, Party, Project
from inspection.works.lots.models import Lot
from inspection.works.paint.models import PaintBatch

# What the request to raise one names by its id.
NAMED: dict[str, Any] = {
    "project": Project, "area": InspectionArea, "coat": Coat, "lot": Lot, "batch": PaintBatch, "gauge": Gauge,
    "asked": Party,
}  # fmt: skip
AREA = OpenApiParameter("area", UUID, description="Only those of this area")
RECORD = OpenApiParameter("record", UUID, description="Only those that this record raised or closed")
STATE = OpenApiParameter("state", str, enum=Nonconformance.State.values, description="Only open or only closed ones")


class NonconformanceReads(GenericAPIView):
    serializer_class = serializers.NonconformanceOut
    queryset = Nonconformance.objects.none()

    def get_queryset(self) -> QuerySet[Nonconformance]:
        by = person_of(self.request)
        shown = Prefetch("dispositions", queries.entries_shown_to(by))
        return queries.nonconformances(by).prefetch_related(shown)


class NonconformanceList(NonconformanceReads, ListAPIView, Writes):
    """Nonconformances of your projects, newest first; or raise one."""

    def get_queryset(self) -> QuerySet[Nonconformance]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        rows = of_project(rows, asked.get("area"), "area")
        if asked.get("record"):
            rows = queries.of_record(rows, id_of(asked["record"]))
        state = one_of(asked.get("state"), Nonconformance.State.values, "state")
        return rows.filter(state=state) if state else rows

    @extend_schema(parameters=[OF_PROJECT, STATE, AREA, RECORD])
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        return super().get(request, *args, **kwargs)

    @extend_schema(
        request=serializers.Raised, responses={201: serializers.NonconformanceOut, 200: serializers.NonconformanceOut}
    )
    def post(self, request: Request) -> Response:
        """Raise one against an area after a coat, a lot, a batch, an instrument, a procedure, a document, the project.

        A draft where a client's or a contractor's people raise it. 200 when it was raised by an earlier sending.
        """
        by = person_of(request)
        require(by, *actions.RAISERS, to="raise a nonconformance")
        asked = serializers.Raised(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        found: dict[str, Any] = {
            name: get_object_or_404(model._default_manager.visible_to(by), pk=sent[name]) if sent[name] else None
            for name, model in NAMED.items()
        }
        names = ("area", "coat", "lot", "batch", "gauge")
        about = actions.About(sent["against"], named=sent["named"], **{name: found[name] for name in names})
        more = {name: sent[name] for name in ("id", "title", "description", "as_draft")}
        raised, new = actions.raise_once(by, project=found["project"], about=about, asked=found["asked"], **more)
        shown = serializers.NonconformanceOut(raised, context=self.get_serializer_context()).data
        return Response(shown, status=201 if new else 200)


class NonconformanceDetail(NonconformanceReads, RetrieveAPIView):
    """One nonconformance, with what has to happen before it closes."""

    serializer_class = serializers.NonconformanceDetail


class Disposes(Writes):
    """One entry about a nonconformance."""

    def entered(self, request: Request, act: Callable[..., Disposition], **about: object) -> Response:
        entry = act(person_of(request), **about, **self.sent(request))
        return Response(serializers.DispositionOut(entry, context=self.get_serializer_context()).data, status=201)


class NonconformanceRework(Disposes):
    serializer_class = serializers.ReworkDone

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Record what was done about it, by whom and when; the same again answers with what is stored."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        return self.entered(request, actions.record_rework, nonconformance=found)


class NonconformanceSay(Writes):
    serializer_class = serializers.Said

    @extend_schema(responses={201: serializers.DispositionOut, 200: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say one thing about it: its class, what it is against, what contains it, its cause, what is decided,
        an action and that it is done, the effect, a comment. 200 when an earlier sending stored it."""
        by = person_of(request)
        found = get_object_or_404(queries.nonconformances(by), pk=pk)
        sent = self.sent(request)
        if about := sent.pop("about", None):
            sent["about"] = get_object_or_404(queries.dispositions(by).filter(nonconformance=found), pk=about)
        entry, new = actions.say(by, nonconformance=found, **sent)
        shown = serializers.DispositionOut(entry, context=self.get_serializer_context()).data
        return Response(shown, status=201 if new else 200)


class NonconformanceAnswer(Disposes):
    serializer_class = serializers.Answered

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Answer it for the painting contractor; it closes nothing. The same again answers with what is stored."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        return self.entered(request, actions.answer, nonconformance=found)


class NonconformanceConcede(Disposes):
    serializer_class = serializers.Conceded

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Accept it as it is, with a reason, signed with the person's password. 409 when it is closed already."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        return self.entered(request, actions.concede, nonconformance=found)


class NonconformanceIssue(Disposes):
    serializer_class = serializers.Signed

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Issue a draft, signed with the quality manager's password; it is then open. 409 when it is no draft."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        return self.entered(request, actions.issue_draft, nonconformance=found)


class NonconformanceDrop(Disposes):
    serializer_class = serializers.TakenBack

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Close a draft that is not to be issued, with the reason. 409 when it is no draft."""
        found = get_object_or_404(queries.nonconformances(person_of(request)), pk=pk)
        return self.entered(request, actions.drop_draft, nonconformance=found)


class DispositionTakeBack(Disposes):
    serializer_class = serializers.TakenBack

    @extend_schema(responses={201: serializers.DispositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that a rework, concession or closure was wrong; both entries stay readable. 409 the second time."""
        found = get_object_or_404(queries.dispositions(person_of(request)), pk=pk)
        return self.entered(request, actions.take_back, disposition=found)
