"""Recalls in the API: what a batch of paint touches, its recall in one step, taking that back; all recalls."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView, ListAPIView, RetrieveAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from accounts.models import Role
from accounts.rights import require
from accounts.serializers import Because
from inspection.projects.api import Writes
from inspection.recall import batch_actions
from inspection.recall.batches import touched_by_batch
from inspection.recall.models import Recall
from inspection.recall.serializers import RecallOut, TouchedOut, touched_told
from inspection.works.models import PaintBatch


def _batch(request: Request, pk: UUID) -> PaintBatch:
    by = person_of(request)
    require(by, Role.QUALITY_MANAGER, to=batch_actions.TO)
    found: PaintBatch = get_object_or_404(PaintBatch.objects.visible_to(by).select_related("project"), pk=pk)
    return found


class BatchTouched(GenericAPIView):
    """What rests on a batch of paint, and so what its recall would touch. Nothing is changed."""

    serializer_class = TouchedOut
    queryset = PaintBatch.objects.none()

    def get(self, request: Request, pk: UUID) -> Response:
        return Response(touched_told(touched_by_batch(_batch(request, pk))))


class BatchDeed(Writes):
    serializer_class = Because
    queryset = Recall.objects.none()
    act: Callable[..., Recall]

    @extend_schema(responses={201: RecallOut})
    def post(self, request: Request, pk: UUID) -> Response:
        found = _batch(request, pk)
        done = type(self).act(person_of(request), batch=found, **self.sent(request))
        return Response(RecallOut(done).data, status=201)


class BatchRecall(BatchDeed):
    """Withdraw it with all that follows, in one step: releases over it fall into doubt, everybody concerned is told.

    409 where it is withdrawn already.
    """

    act = staticmethod(batch_actions.recall_batch)


class BatchReinstate(BatchDeed):
    """Take its withdrawal back, as a step of its own. 409 where it is not withdrawn."""

    act = staticmethod(batch_actions.reinstate_batch)


class RecallReads(GenericAPIView):
    serializer_class: Any = RecallOut
    queryset = Recall.objects.none()

    def get_queryset(self) -> QuerySet[Recall]:
        by = person_of(self.request)
        require(by, Role.QUALITY_MANAGER, to="read recalls")
        return Recall.objects.visible_to(by).select_related("by")


class RecallList(RecallReads, ListAPIView):
    """Recalls of certificates and of batches of paint, newest first."""


class RecallDetail(RecallReads, RetrieveAPIView):
    """One recall, with what it touched as found then."""
