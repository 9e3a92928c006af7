"""Batches and mixes in the API: the same actions, sight and words as the pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Person
from accounts.rights import require
from accounts.serializers import Because
from inspection.foundation.refusals import Fault
from inspection.projects.api import OF_PROJECT, Writes, of_project, one_of
from inspection.projects.breakdown_api import named
from inspection.projects.models import Coat, Party, Project
from inspection.projects.preconditions import NotThere
from inspection.works.entering import WORKERS
from inspection.works.models import BatchStep, Mix, PaintBatch
from inspection.works.paint import batches, mixes, serializers
from inspection.works.paint import queries as paint_queries
from inspection.works.paint.mixes import MixSent
from inspection.works.paint.models import Component
from inspection.works.paint.reckoning import PartSent

COMPONENT = OpenApiParameter("component", str, enum=list(Component.values), description="Only those of this component")


def batches_told(rows: Sequence[PaintBatch]) -> Any:
    now = {each.batch.pk: each for each in paint_queries.batches_now(rows)}
    return serializers.BatchOut(rows, many=True, context={"now": now}).data


def mixes_told(rows: Sequence[Mix]) -> Any:
    now = {each.mix.pk: each for each in paint_queries.mixes_now(rows)}
    return serializers.MixOut(rows, many=True, context={"now": now}).data


class BatchReads(GenericAPIView):
    serializer_class: Any = serializers.BatchOut
    queryset = PaintBatch.objects.none()

    def get_queryset(self) -> QuerySet[PaintBatch]:
        return paint_queries.batches_seen(person_of(self.request))


class BatchList(BatchReads, ListAPIView, Writes):
    """Batches of paint of your projects, newest first, with how they stand now; or enter one."""

    def get_queryset(self) -> QuerySet[PaintBatch]:
        asked = self.request.query_params
        rows = of_project(super().get_queryset(), asked.get("project"), "project")
        component = one_of(asked.get("component"), list(Component.values), "component")
        return rows.filter(component=component) if component else rows

    @extend_schema(parameters=[OF_PROJECT, COMPONENT])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        shown = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(batches_told(list(shown or [])))

    @extend_schema(
        request=serializers.NewBatch, responses={201: serializers.BatchOut, 200: serializers.BatchOut}
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """Enter a batch. 200 for the same sent again; 428 for what is doubtful, until sent with `confirmed`."""
        by = person_of(request)
        require(by, *WORKERS, to="enter batches of paint")
        asked = serializers.NewBatch(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        project = named(Project.objects.visible_to(by), sent.pop("project"), "project")
        party = named(Party.objects.visible_to(by).filter(project=project), sent.pop("party"), "party")
        batch, new = batches.receive_batch(by, project=project, party=party, **sent)
        return _batch_told(by, batch.pk, status=201 if new else 200)


class BatchDetail(BatchReads, RetrieveAPIView):
    """One batch with what befell it and how it stands now."""

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return _batch_told(person_of(request), kwargs["pk"])


def _batch_told(by: Person, pk: UUID, *, status: int = 200) -> Response:
    batch = get_object_or_404(paint_queries.batches_seen(by), pk=pk)
    return Response(batches_told([batch])[0], status=status)


class BatchWrites(Writes):
    """One change of one batch; it answers with the batch as it is then."""

    queryset = PaintBatch.objects.none()
    act: Callable[..., Any]

    @extend_schema(responses=serializers.BatchOut)
    def post(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        batch = get_object_or_404(paint_queries.batches_seen(by), pk=pk)
        require(by, *WORKERS, to="change batches of paint")
        type(self).act(by, batch=batch, **self.sent(request))
        return _batch_told(by, batch.pk)


class BatchCorrect(BatchWrites):
    """Put it right, whole; what is left out is empty then. The journal keeps what stood before."""

    serializer_class = serializers.CorrectedBatch
    act = staticmethod(batches.correct_batch)


class BatchExtend(BatchWrites):
    """Keep that the maker extended its shelf life in writing. The same sent again changes nothing."""

    serializer_class = serializers.Extension
    act = staticmethod(batches.extend_batch)


class BatchQuarantine(BatchWrites):
    """Put it in quarantine. 409 where it is in it already."""

    serializer_class = serializers.Moved
    act = staticmethod(batches.quarantine_batch)


class BatchRelease(BatchWrites):
    """Release it from quarantine. 409 where it is not in it."""

    serializer_class = serializers.Moved
    act = staticmethod(batches.release_batch)


class BatchWithdraw(BatchWrites):
    """Withdraw it: entered by mistake, or not to be used."""

    serializer_class = Because
    act = staticmethod(batches.withdraw_batch)


class BatchRestore(BatchWrites):
    """Take its withdrawal back."""

    serializer_class = Because
    act = staticmethod(batches.restore_batch)


class StepWithdraw(Writes):
    serializer_class = Because
    queryset = BatchStep.objects.none()

    @extend_schema(responses=serializers.BatchOut)
    def post(self, request: Request, pk: UUID) -> Response:
        """Take back a step of a batch that was entered wrong; it stays readable."""
        by = person_of(request)
        rows: QuerySet[BatchStep] = BatchStep.objects.visible_to(by).select_related("batch")
        step = get_object_or_404(rows, pk=pk)
        require(by, *WORKERS, to="take back what befell a batch")
        batches.withdraw_step(by, step=step, **self.sent(request))
        return _batch_told(by, step.batch_id)


# --- mixes ------------------------------------------------------------------------------------------------------------


class MixReads(GenericAPIView):
    serializer_class: Any = serializers.MixOut
    queryset = Mix.objects.none()

    def get_queryset(self) -> QuerySet[Mix]:
        return paint_queries.mixes_seen(person_of(self.request))


class MixList(MixReads, ListAPIView, Writes):
    """Mixes of your projects, newest first; or record one."""

    def get_queryset(self) -> QuerySet[Mix]:
        return of_project(super().get_queryset(), self.request.query_params.get("project"), "project")

    @extend_schema(parameters=[OF_PROJECT])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        shown = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response(mixes_told(list(shown or [])))

    @extend_schema(request=serializers.NewMix, responses={201: serializers.MixOut, 200: serializers.MixOut})
    def post(self, request: Request) -> Response:
        """Keep what was mixed. 200 for the same sent again; 428 for what is doubtful, until sent with `confirmed`.

        Of a batch that was expired, in quarantine or withdrawn it is kept with a `reason` only.
        """
        by = person_of(request)
        require(by, *WORKERS, to="record mixes of paint")
        asked = serializers.NewMix(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        project = named(Project.objects.visible_to(by), sent.pop("project"), "project")
        party = named(Party.objects.visible_to(by).filter(project=project), sent.pop("party"), "party")
        own, confirmed = sent.pop("id"), sent.pop("confirmed")
        told = _sent(by, project, sent)
        mix, new = mixes.record_mix(by, id=own, project=project, sent=told, party=party, confirmed=confirmed)
        return _mix_told(by, mix.pk, status=201 if new else 200)


def _sent(by: Person, project: Project, sent: dict[str, Any]) -> MixSent:
    """What was sent, with the rows that it names. Raises NotThere naming the row of a batch that is not there."""
    coats = Coat.objects.visible_to(by).filter(system__project=project).select_related("system", "data_sheet")
    coat = named(coats, sent.pop("coat"), "coat")
    given = sent.pop("parts")
    rows = paint_queries.batches_seen(by, project.pk).filter(pk__in=[part["batch"] for part in given])
    found = {batch.pk: batch for batch in rows}
    for row, part in enumerate(given, start=1):
        if part["batch"] not in found:
            raise NotThere(Fault("There is no such batch in this project, or it is not yours to see.", "batch", row))
    parts = [PartSent(**{**part, "batch": found[part["batch"]]}) for part in given]
    return MixSent(coat=coat, parts=parts, **sent)


class MixDetail(MixReads, RetrieveAPIView):
    """One mix with what it was made of."""

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return _mix_told(person_of(request), kwargs["pk"])


def _mix_told(by: Person, pk: UUID, *, status: int = 200) -> Response:
    mix = get_object_or_404(paint_queries.mixes_seen(by), pk=pk)
    return Response(mixes_told([mix])[0], status=status)


class MixWrites(Writes):
    """One change of one mix; it answers with the mix as it is then."""

    queryset = Mix.objects.none()
    act: Callable[..., Any]

    @extend_schema(responses=serializers.MixOut)
    def post(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        mix = get_object_or_404(paint_queries.mixes_seen(by), pk=pk)
        require(by, *WORKERS, to="change mixes of paint")
        self.change(by, mix, self.sent(request))
        return _mix_told(by, mix.pk)

    def change(self, by: Person, mix: Mix, sent: dict[str, Any]) -> None:
        type(self).act(by, mix=mix, **sent)


class MixCorrect(MixWrites):
    """Put it right, whole; the journal keeps what stood before, and what was taken out of it stays readable."""

    serializer_class = serializers.CorrectedMix

    def change(self, by: Person, mix: Mix, sent: dict[str, Any]) -> None:
        why, confirmed = sent.pop("why"), sent.pop("confirmed")
        mixes.correct_mix(by, mix=mix, sent=_sent(by, mix.project, sent), why=why, confirmed=confirmed)


class MixUse(MixWrites):
    """Say when it was used. 409 where that is told otherwise already; 428 for what is doubtful."""

    serializer_class = serializers.Used
    act = staticmethod(mixes.tell_use)


class MixWithdraw(MixWrites):
    """Withdraw it: entered by mistake."""

    serializer_class = Because
    act = staticmethod(mixes.withdraw_mix)


class MixRestore(MixWrites):
    """Take its withdrawal back."""

    serializer_class = Because
    act = staticmethod(mixes.restore_mix)
