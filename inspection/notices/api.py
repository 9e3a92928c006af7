"""Notices in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast
from uuid import UUID

from django.db.models import Model, QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.rights import require
from accounts.serializers import Because
from inspection.foundation.refusals import Fault
from inspection.holdpoints.models import HoldPoint
from inspection.notices import actions, queries, serializers
from inspection.notices.actions.common import GIVERS
from inspection.notices.actions.giving import Sent
from inspection.notices.choosing import MOST_AREAS
from inspection.notices.models import Notice
from inspection.plan.models import PlanLine
from inspection.projects.api import OF_PROJECT, Writes, of_project, one_of
from inspection.projects.models import InspectionArea, Party, Project
from inspection.projects.preconditions import NotThere

STATE = OpenApiParameter("state", str, enum=list(Notice.State.values), description="Only those that are so")
Row = TypeVar("Row", bound=Model)


class NoticeReads(GenericAPIView):
    serializer_class = serializers.NoticeOut
    queryset = Notice.objects.none()

    def get_queryset(self) -> QuerySet[Notice]:
        return queries.notices_seen(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT, STATE])
class NoticeList(NoticeReads, ListAPIView):
    """Notices of inspection of your projects, newest first."""

    def get_queryset(self) -> QuerySet[Notice]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        state = one_of(asked.get("state"), list(Notice.State.values), "state")
        return rows.filter(state=state) if state else rows

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        shown = list(self.paginate_queryset(self.filter_queryset(self.get_queryset())) or [])
        what = queries.what_of([notice.pk for notice in shown]) if shown else {}
        told = serializers.NoticeOut(shown, many=True, context={"what": what})
        return self.get_paginated_response(told.data)


def told(pk: UUID, person: Person) -> dict[str, Any]:
    """One notice as the API shows it to a person."""
    notice = get_object_or_404(queries.notices_seen(person), pk=pk)
    steps = queries.steps_of(notice, person)
    context = {
        "what": queries.what_of([notice.pk]),
        "stands": queries.party_stands(queries.parties_told(notice, person), steps),
        "places": queries.places_of(notice, person)[:MOST_AREAS],
        "steps": steps,
    }
    return dict(serializers.NoticeDetailOut(notice, context=context).data)


class NoticeDetail(NoticeReads, RetrieveAPIView):
    """One notice with its parties, its places and all that was said of it."""

    serializer_class = serializers.NoticeDetailOut

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(told(kwargs["pk"], person_of(request)))


class NoticeGive(Writes):
    serializer_class = serializers.NewNotice
    queryset = Notice.objects.none()

    @extend_schema(responses={201: serializers.NoticeDetailOut, 200: serializers.NoticeDetailOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Give notice of an inspection, whole or not at all.

        200 for the same sent again. 428 for one that is shorter than the contract asks: nothing is stored yet; send it
        again with `confirmed` if it is meant.
        """
        person, sent = person_of(request), self.sent(request)
        project = get_object_or_404(Project.objects.visible_to(person), pk=pk)
        require(person, *GIVERS, to="give notice of an inspection")
        in_force = PlanLine.objects.filter(revision__plan__project=project)
        areas = InspectionArea.objects.visible_to(person).select_related("structure__project")
        points = HoldPoint.objects.filter(area__in=InspectionArea.objects.visible_to(person))
        named: dict[str, Any] = {
            "lines": _rows(in_force, sent.pop("lines"), "lines"),
            "areas": _rows(areas, sent.pop("areas"), "areas"),
            "points": _rows(points, sent.pop("points"), "points"),
            "parties": _rows(Party.objects.visible_to(person).filter(project=project), sent.pop("parties"), "parties"),
        }
        own, confirmed = sent.pop("id"), sent.pop("confirmed")
        notice, new = actions.give_notice(
            person, id=own, project=project, sent=Sent(**named, **sent), confirmed=confirmed
        )
        return Response(told(notice.pk, person), status=201 if new else 200)


def _rows(rows: QuerySet[Row], ids: list[UUID], field: str) -> list[Row]:
    """The rows of these ids, in their order. Raises NotThere where one is not there to the sender."""
    wanted = list(dict.fromkeys(ids))
    found = {row.pk: row for row in rows.filter(pk__among=wanted)} if wanted else {}
    if len(found) < len(wanted):
        row = next(number for number, pk in enumerate(wanted, start=1) if pk not in found)
        raise NotThere(Fault("There is no such thing in this project, or it is not yours to see.", field, row))
    return [found[pk] for pk in wanted]


class NoticeWrites(Writes):
    """One change of one notice; it answers with the notice as it is then."""

    queryset = Notice.objects.none()
    act: Callable[..., Any]

    @extend_schema(responses=serializers.NoticeDetailOut)
    def post(self, request: Request, pk: UUID) -> Response:
        person, sent = person_of(request), self.sent(request)
        notice = get_object_or_404(queries.notices_seen(person), pk=pk)
        if sent.get("party"):
            parties = cast("QuerySet[Party]", Party.objects.visible_to(person))
            sent["party"] = _rows(parties.filter(project=notice.project_id), [sent["party"]], "party")[0]
        type(self).act(person, notice=notice, **sent)
        return Response(told(notice.pk, person))


class NoticeMove(NoticeWrites):
    """Move it to another time or place. 409 when it has changed since you saw it; 428 as for a new one."""

    serializer_class = serializers.MovedNotice
    act = staticmethod(actions.move_notice)


class NoticeWithdraw(NoticeWrites):
    """Withdraw it."""

    serializer_class = Because
    act = staticmethod(actions.withdraw_notice)


class NoticeRestore(NoticeWrites):
    """Take a withdrawal back, while its time is to come. 428 as for a new one."""

    serializer_class = serializers.RestoredNotice
    act = staticmethod(actions.restore_notice)


class NoticeAcknowledge(NoticeWrites):
    """Say for your party that you have read it. Sent again, it changes nothing."""

    serializer_class = serializers.ForParty
    act = staticmethod(actions.acknowledge)


class NoticeUnacknowledge(NoticeWrites):
    """Take your party's acknowledgement back."""

    serializer_class = serializers.ForPartyBecause
    act = staticmethod(actions.take_acknowledgement_back)


class NoticeOutcome(NoticeWrites):
    """Tell what became of it: held, held at some of its places, or not held and why."""

    serializer_class = serializers.OutcomeTold
    act = staticmethod(actions.record_outcome)


class NoticeReopen(NoticeWrites):
    """Take its outcome back; it stands again."""

    serializer_class = Because
    act = staticmethod(actions.take_outcome_back)
