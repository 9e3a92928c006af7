"""Progress of a project in the API, with the questions of its mass balance. Surfaces in m², films in µm."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView, get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import person_of
from inspection.foundation.refusals import Refused
from inspection.projects.models import Project
from inspection.works.lots.forms import DeclaredLoss
from inspection.works.lots.mass_balance import balances
from inspection.works.lots.progress import forecast, progress_of
from inspection.works.models import Lot

LOSS = OpenApiParameter("loss", str, description="Loss declared, in % of the paint used, for the questions")


class ProgressLineOut(serializers.Serializer):
    section = serializers.CharField()
    coat = serializers.UUIDField(source="coat.pk", allow_null=True, default=None, help_text="Null: prepared steel")
    step = serializers.CharField()
    of_m2 = serializers.FloatField()
    claimed_m2 = serializers.FloatField(help_text="By ended lots, at most the whole of an area")
    inspected_m2 = serializers.FloatField(help_text="Where the thickness that stands passes")
    released_m2 = serializers.FloatField(help_text="Where a point is released or waived and no hold point is open")


class BalanceOut(serializers.Serializer):
    section = serializers.CharField(source="line.section")
    coat = serializers.UUIDField(source="line.coat.pk")
    litres = serializers.FloatField(source="line.litres")
    claimed_m2 = serializers.FloatField(source="line.claimed_m2")
    greatest_um = serializers.FloatField(help_text="The film that these litres hold if nothing is lost")
    mean_um = serializers.FloatField(source="line.mean_um", allow_null=True, help_text="Measured, of this coat alone")
    loss_pct = serializers.FloatField(allow_null=True, help_text="Of the paint used")
    question = serializers.CharField(help_text="What does not agree, with its arithmetic; empty where nothing does not")


class ProgressOut(serializers.Serializer):
    total_m2 = serializers.FloatField(help_text="Of all coats")
    claimed_m2 = serializers.FloatField()
    inspected_m2 = serializers.FloatField()
    a_day_m2 = serializers.FloatField(help_text="Mean of the last 14 days, those without work among them")
    would_end = serializers.DateField(allow_null=True, help_text="Were it to go on so; null where that is not known")
    lines = ProgressLineOut(many=True)
    balances = BalanceOut(many=True)


class ProgressOf(GenericAPIView):
    """Progress of a project by section and coat, from lots, measurements and points alone."""

    serializer_class = ProgressOut
    queryset = Lot.objects.none()

    @extend_schema(parameters=[LOSS], responses=ProgressOut)
    def get(self, request: Request, pk: UUID) -> Response:
        by = person_of(request)
        project = get_object_or_404(Project.objects.visible_to(by), pk=pk)
        found = progress_of(by, project)
        ahead = forecast(found, project.day_of(timezone.now()))
        told: dict[str, Any] = {
            "total_m2": found.total_m2, "claimed_m2": found.claimed_m2, "inspected_m2": found.inspected_m2,
            "a_day_m2": ahead.a_day_m2, "would_end": ahead.end, "lines": found.lines,
            "balances": balances(found.lines, declared(request)),
        }  # fmt: skip
        return Response(ProgressOut(told).data)


def declared(request: Request) -> Decimal | None:
    """The loss that the address declares. Raises Refused for what is none."""
    form = DeclaredLoss(request.query_params)
    if not form.is_valid():
        raise Refused(" ".join(map(str, form.errors["loss"])), field="loss")
    loss: Decimal | None = form.cleaned_data["loss"]
    return loss
