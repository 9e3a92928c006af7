"""Climate records: record one, the list, one record with every check."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.forms import status_of
from accounts.middleware import SignedIn
from inspection.fieldwork import actions, forms, queries
from inspection.fieldwork.actions import climate as climate_actions
from inspection.fieldwork.models import ClimateRecord
from inspection.fieldwork.verdicts_shown import checks_shown
from inspection.fieldwork.views.common import (
    asked_area,
    page,
    paged,
    project_or_404,
    put_into,
    query_without_page,
    recorder,
    records,
    replaced_or_404,
)
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.instruments import overdue
from inspection.instruments.models import InstrumentRules
from inspection.projects.models import Project

# What the rule calls a limit is no field of the form; its fault belongs to the coat.
RULE_FIELDS = dict.fromkeys(("minimum_margin_c", "maximum_air_c", "maximum_surface_c"), "coat")


@page
def climate_new(request: SignedIn, project: UUID) -> HttpResponse:
    """Record air and steel. `?area=`, `?coat=` and `?replaces=` fill in what is known."""
    recorder(request, "record climate")
    site = project_or_404(request, project)
    corrected = replaced_or_404(request, site, ClimateRecord)
    area = corrected.area if corrected else asked_area(request, site)
    kind: type[forms.Climate] = forms.ClimateCorrection if corrected else forms.Climate
    initial = {"area": area, "coat": request.GET.get("coat", ""), "id": new_id()} | _as_recorded(corrected)
    with timezone.override(site.zone):
        form = kind(request.POST or None, by=request.user, project=site, area=area, initial=initial)
        asking: tuple[Fault, ...] = ()
        if form.is_bound and form.is_valid():
            asked = dict(form.cleaned_data)
            try:
                record, _ = actions.record_climate(
                    request.user, project=site, replaces=corrected, ask=not form.is_confirmed,
                    **{**asked, "id": asked["id"] or new_id()},
                )  # fmt: skip
            except Asked as question:
                asking = question.faults
            except Refused as refusal:
                put_into(form, refusal, RULE_FIELDS)
            else:
                messages.success(request, "The climate record is stored.")
                return redirect("climate", pk=record.pk)
        context = {
            "form": form, "project": site, "corrected": corrected, "run_out": _run_out(request, site, form),
            "asking": asking,
        }  # fmt: skip
        return render(request, "fieldwork/climate_new.html", context, status=422 if asking else status_of(form))


def _run_out(request: SignedIn, site: Project, form: forms.Climate) -> queries.RunOut:
    """Which meters in the person's hands cannot be relied on today; a qualification, climate does not ask."""
    meters: Any = form.fields["gauge"]
    held = list(meters.queryset.filter(holder=request.user))
    against = overdue.of_meters(site.day_of(timezone.now()), held)
    return queries.RunOut(overdue.sentences(held, against), [], InstrumentRules.now().warns)


def _as_recorded(record: ClimateRecord | None) -> dict[str, Any]:
    if record is None:
        return {}
    columns = (
        "taken_at", "dry_bulb_c", "wet_bulb_c", "relative_humidity_pct", "surface_c", "pressure_hpa", "note",
    )  # fmt: skip
    return {name: getattr(record, name) for name in columns} | {
        "coat": record.coat_id,
        "gauge": record.gauge_id,
        "wet_bulb_over": record.inputs.get("wet_bulb_over", ""),
    }


@require_safe
def climate_list(request: SignedIn) -> HttpResponse:
    asked = forms.RecordFilter(request.GET, by=request.user, verdicts=ClimateRecord.VERDICTS)
    shown = paged(request, asked.narrow(queries.climate_records(request.user)))
    context = {"filter": asked, "page": shown, "asked": query_without_page(request), "records": records(request)}
    return render(request, "fieldwork/climate_list.html", context, status=422 if asked.errors else 200)


@require_safe
def climate(request: SignedIn, pk: UUID) -> HttpResponse:
    record = get_object_or_404(queries.climate_records(request.user), pk=pk)
    context = {
        "record": record,
        "project": record.project,
        "checks": checks_shown(record.result, record.project.unit),
        "warnings": climate_actions.warnings_of(record),
        "over": record.inputs.get("wet_bulb_over", ""),
        "versions": queries.versions_of(record),
        "may_correct": records(request) and not hasattr(record, "replaced_by"),
    }
    return render(request, "fieldwork/climate.html", context)
