"""Reading the records that a report tells, with all that it says of them, and the readings of thickness."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Q

from inspection.fieldwork.models import ClimateRecord, Reading, ThicknessRecord
from inspection.projects.models import Project
from inspection.projects.steps import lay_films


class Shown(NamedTuple):
    """A reading as the gauge showed it; hundreds of them make no model instances."""

    spot: int
    order: int
    value_nm: int
    void_reason: str


Readings = dict[UUID, list[Shown]]


def records_of(model: Any, project: Project, which: Q) -> list[Any]:
    related = [
        "project", "area__structure", "coat__system", "taken_by__organisation", "gauge", "replaces", "replaced_by",
        "standing",
    ]  # fmt: skip
    of_kind = f"replaces__{model._meta.model_name}"
    rows = model.objects.filter(which, project=project).select_related(*related, of_kind, f"{of_kind}__project")
    rows = rows.defer("inputs", f"{of_kind}__inputs", f"{of_kind}__result")
    if model is ClimateRecord:
        rows = rows.select_related("station")
    if model is ThicknessRecord:
        rows = rows.prefetch_related("coat__system__coats")
        found = list(rows.order_by("area__code", "coat__order", "taken_at", "pk"))
        lay_films((record.area_id, record.coat) for record in found)
        return found
    return list(rows.order_by("taken_at", "pk"))


def readings_of(records: Iterable[ThicknessRecord]) -> Readings:
    """By record, its readings in the order of the spots."""
    found: Readings = defaultdict(list)
    rows = Reading.objects.filter(record__in=[record.pk for record in records]).order_by("spot", "order")
    for record, *reading in rows.values_list("record", *Shown._fields):
        found[record].append(Shown._make(reading))
    return found
