"""Lots in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.rights import require
from inspection.foundation.refusals import Fault
from inspection.projects.api import OF_PROJECT, Writes, of_project, one_of
from inspection.projects.breakdown_api import named
from inspection.projects.models import Coat, Project, StripeCoat
from inspection.projects.preconditions import NotThere
from inspection.works.lots import actions as lots
from inspection.works.lots import queries, serializers
from inspection.works.lots.checks import LotSent, PlaceSent
from inspection.works.lots.mixes import MixDrawn
from inspection.works.lots.recoat import project_windows
from inspection.works.models import Crew, Lot, Mix, Shift

ACTIVITY = OpenApiParameter("activity", str, enum=Lot.Activity.values, description="Only those of this activity")
AREA = OpenApiParameter("area", str, description="Only those with this area, by its id")


class LotReads(GenericAPIView):
    serializer_class = serializers.LotOut
    queryset = Lot.objects.none()

    def get_queryset(self) -> QuerySet[Lot]:
        return queries.lots_seen(person_of(self.request))


@extend_schema(parameters=[OF_PROJECT, ACTIVITY, AREA])
class LotList(LotReads, ListAPIView):
    """Lots of your projects, the current version of each, those withdrawn among them."""

    def get_queryset(self) -> QuerySet[Lot]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset().filter(replaced_by=None), asked.get("project"), "project")
        rows = of_project(rows, asked.get("area"), "places__area")
        activity = one_of(asked.get("activity"), list(Lot.Activity.values), "activity")
        return rows.filter(activity=activity) if activity else rows


class LotDetail(LotReads, RetrieveAPIView):
    """One version of a lot."""


class LotWrites(Writes):
    queryset = Lot.objects.none()

    def lot(self, by: Person, pk: UUID, to: str) -> Lot:
        found = get_object_or_404(queries.lots_seen(by), pk=pk)
        require(by, *lots.LOGGERS, to=to)
        return found

    def told(self, by: Person, lot: Lot, status: int = 200) -> Response:
        return Response(serializers.LotOut(queries.lots_seen(by).get(pk=lot.pk)).data, status=status)


class LotBegin(LotWrites):
    serializer_class = serializers.LotIn

    @extend_schema(responses={201: serializers.LotOut, 200: serializers.LotOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Record a lot of the project that was begun, or ended too; whole or not at all.

        200 for the same sent again. 428 for what is doubtful: nothing is stored yet; send it again with `confirmed` if
        it is meant, and the lot keeps what was asked.
        """
        by = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        require(by, *lots.LOGGERS, to="record a lot")
        sent = self.sent(request)
        own, confirmed = sent.pop("id"), sent.pop("confirmed")
        lot, new = lots.begin_lot(by, id=own, project=project, sent=read(by, project, sent), confirmed=confirmed)
        return self.told(by, lot, 201 if new else 200)


class LotCorrect(LotWrites):
    serializer_class = serializers.LotCorrection

    @extend_schema(responses={201: serializers.LotOut, 200: serializers.LotOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Put it right by a new version with all of its content. 409 where it was corrected meanwhile. 428 as above."""
        by = person_of(request)
        found, sent = self.lot(by, pk, "correct a lot"), self.sent(request)
        own, confirmed, reason = sent.pop("id"), sent.pop("confirmed"), sent.pop("reason")
        lot, new = lots.correct_lot(
            by, lot=found, id=own, sent=read(by, found.project, sent), reason=reason, confirmed=confirmed
        )
        return self.told(by, lot, 201 if new else 200)


class LotEnd(LotWrites):
    serializer_class = serializers.LotEnd

    @extend_schema(responses=serializers.LotOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say when it ended and what paint it took. The same sent again changes nothing."""
        by = person_of(request)
        found, sent = self.lot(by, pk, "end a lot"), self.sent(request)
        lot, _ = lots.end_lot(by, lot=found, **{**sent, "mixes": drawn(by, found.project, sent["mixes"])})
        return self.told(by, lot)


class LotWithdraw(LotWrites):
    serializer_class = serializers.LotWhy

    @extend_schema(responses=serializers.LotOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Say that it never was; it stays readable and counts for nothing."""
        by = person_of(request)
        return self.told(by, lots.withdraw_lot(by, lot=self.lot(by, pk, "withdraw a lot"), **self.sent(request)))


class LotRestore(LotWrites):
    serializer_class = serializers.LotWhy

    @extend_schema(responses=serializers.LotOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take a withdrawal back."""
        by = person_of(request)
        return self.told(by, lots.restore_lot(by, lot=self.lot(by, pk, "bring a lot back"), **self.sent(request)))


class RecoatClock(GenericAPIView):
    """The recoat windows of a project as they stand now, those that close or open first on top."""

    serializer_class = serializers.WindowOut
    queryset = Lot.objects.none()
    pagination_class = None

    @extend_schema(responses=serializers.WindowOut(many=True))
    def get(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        context = {"with_notes": not by.is_contractors}
        windows = project_windows(by, project, timezone.now())
        return Response(serializers.WindowOut(windows, many=True, context=context).data)


def read(by: Person, project: Project, sent: dict[str, Any]) -> LotSent:
    """What was sent, with the rows that its ids name. Raises NotThere naming the field."""
    systems = Coat.objects.visible_to(by).filter(system__project=project).select_related("system", "data_sheet")
    rows = {
        "coat": systems,
        "stripe": StripeCoat.objects.visible_to(by).filter(coat__system__project=project),
        "crew": Crew.objects.visible_to(by).filter(project=project),
        "shift": Shift.objects.visible_to(by).filter(crew__project=project),
    }
    found = {name: named(cast("QuerySet[Any]", each), sent[name], name) for name, each in rows.items()}
    ids = [place["area"] for place in sent["places"]]
    areas = {area.pk: area for area in queries.areas_for(by, project).filter(pk__in=ids)}
    missing = [Fault("There is no such area, or it is not yours to see.", "places", row)
               for row, pk in enumerate(ids, start=1) if pk not in areas]  # fmt: skip
    if missing:
        raise NotThere(missing)
    places = [PlaceSent(**{**place, "area": areas[place["area"]]}) for place in sent["places"]]
    parents = list(queries.lots_seen(by).filter(project=project, pk__in=sent["parents"]))
    if len(parents) < len(set(sent["parents"])):
        raise NotThere(Fault("There is no such lot, or it is not yours to see.", "parents"))
    mixes = drawn(by, project, sent["mixes"])
    return LotSent(**{**sent, **found, "places": places, "parents": parents, "mixes": mixes})


def drawn(by: Person, project: Project, rows: list[dict[str, Any]]) -> list[MixDrawn]:
    """The mixes that were sent by their ids. Raises NotThere naming the row."""
    seen = Mix.objects.visible_to(by).filter(project=project, pk__in=[row["mix"] for row in rows])
    known = {mix.pk: mix for mix in seen.select_related("coat")}
    missing = [row for row, sent in enumerate(rows, start=1) if sent["mix"] not in known]
    if missing:
        raise NotThere(Fault("There is no such mix, or it is not yours to see.", "mixes", row) for row in missing)
    return [MixDrawn(**{**row, "mix": known[row["mix"]]}) for row in rows]
