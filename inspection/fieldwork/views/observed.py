"""Records that are taken in one go, whatever was observed: record one, the list of a kind, one with every check."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts import journal
from accounts.forms import status_of
from accounts.middleware import SignedIn
from accounts.models import Qualification
from inspection.fieldwork import forms, kinds, queries
from inspection.fieldwork.cautions import confirm_cautions, confirmed_at
from inspection.fieldwork.foreseen import foresee
from inspection.fieldwork.kind import RecordKind, Reliance, TakenByForm
from inspection.fieldwork.models import Record
from inspection.fieldwork.storing import of_changed_area
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
    standing_of,
    tell_stored,
)
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Fault, Refused
from inspection.instruments import overdue
from inspection.instruments.models import InstrumentRules
from inspection.projects.models import Project
from inspection.projects.steps import system_at


@page
def record_new(request: SignedIn, project: UUID, kind: RecordKind, taken: TakenByForm) -> HttpResponse:
    """Record one, or correct one. `?area=`, `?coat=` and `?replaces=` fill in what is known."""
    recorder(request, f"record {kind.name}")
    site = project_or_404(request, project)
    if taken.cautions and not request.GET.get("replaces"):
        if request.POST.get("cautions") == "confirmed":
            confirm_cautions(request.user, project=site, kind=kind)
            return redirect(request.get_full_path())
        today = site.day_of(timezone.now())
        if confirmed_at(request.user, project=site, kind=kind.name, day=today) is None:
            return render(request, "fieldwork/cautions.html", {"kind": kind, "project": site})
    corrected = replaced_or_404(request, site, kind.model)
    area = corrected.area if corrected else asked_area(request, site)
    made: Any = taken.correction if corrected else taken.form
    initial = {"area": area, "coat": request.GET.get("coat", ""), "id": new_id()}
    if corrected:
        initial |= {"coat": corrected.coat_id, "gauge": corrected.gauge_id, **taken.as_recorded(corrected)}
    with timezone.override(site.zone):
        form = made(request.POST or None, by=request.user, project=site, area=area, initial=initial)
        asking: tuple[Fault, ...] = ()
        if form.is_bound and request.POST.get("go") != "back" and form.is_valid():
            try:
                return _stored_or_shown(request, site, kind, taken, form, corrected)
            except Asked as question:
                asking = question.faults
            except Refused as refusal:
                put_into(form, refusal, taken.fields)
        context = {
            "kind": kind, "form": form, "project": site, "corrected": corrected,
            "run_out": _run_out(request, site, form), "asking": asking,
        }  # fmt: skip
        return render(request, "fieldwork/record_new.html", context, status=422 if asking else status_of(form))


def _stored_or_shown(
    request: SignedIn, site: Project, kind: RecordKind, taken: TakenByForm, form: Any, corrected: Record | None
) -> HttpResponse:
    """To the record stored; of a correction first the page of what it changes. Raises what the action raises."""
    asked = {**form.cleaned_data, "id": form.cleaned_data["id"] or new_id()}

    def store() -> tuple[Any, bool]:
        return taken.record(request.user, project=site, replaces=corrected, ask=not form.is_confirmed, **asked)

    shown = journal.digest_of(form.cleaned_data)
    if corrected and request.POST.get("shown") != shown:
        foreseen = foresee(kind, taken, form, corrected, store)
        if foreseen.is_nothing:
            raise Refused("Nothing is changed: everything is as it is stored.")
        context = {
            "kind": kind, "project": site, "corrected": corrected, "form": form, "foreseen": foreseen, "shown": shown,
        }  # fmt: skip
        return render(request, "fieldwork/record_changes.html", context)
    record, _ = store()
    words = "The correction is stored; the record before it stays readable."
    tell_stored(request, words if corrected else f"The {kind.one} is stored.", record)
    return redirect(kind.name, pk=record.pk)


def _run_out(request: SignedIn, site: Project, form: forms.Observed) -> queries.RunOut:
    """Which instruments in the person's hands cannot be relied on today; a qualification is not asked."""
    offered: Any = form.fields.get("gauge")
    held = [] if offered is None else list(offered.queryset.filter(holder=request.user))
    against = overdue.of_meters(site.day_of(timezone.now()), held)
    return queries.RunOut(overdue.sentences(held, against), [], InstrumentRules.now().warns)


def _qualified(kind: RecordKind, record: Any) -> list[str] | None:
    """Of what rests on who looked: what they were qualified in on its day, eyesight too; None of another kind."""
    if kind.reliance is not Reliance.SEEN:
        return None
    day = record.project.day_of(record.taken_at)
    held = Qualification.objects.filter(person=record.taken_by_id).valid_on(day)
    return [f"{paper}, {f'to {paper.expires:%Y-%m-%d}' if paper.expires else 'without end'}" for paper in held]


@require_safe
def all_records(request: SignedIn) -> HttpResponse:
    """The records of every kind in one list."""
    asked = forms.RecordFilter(request.GET, by=request.user, verdicts=list(Record.Verdict.choices))
    shown = paged(request, asked.narrow(queries.records_seen(request.user)))
    context = {
        "kinds": kinds.KINDS,
        "filter": asked,
        "page": shown,
        "rows": [(row, kinds.kind_of(row)) for row in shown],
        "asked": query_without_page(request),
    }
    return render(request, "fieldwork/records.html", context, status=422 if asked.errors else 200)


@require_safe
def record_list(request: SignedIn, kind: RecordKind) -> HttpResponse:
    asked = forms.RecordFilter(request.GET, by=request.user, verdicts=list(kind.verdicts))
    context = {
        "kind": kind,
        "others": [other for other in kinds.KINDS if other is not kind],
        "filter": asked,
        "page": paged(request, asked.narrow(queries.seen_of_kind(request.user, kind.model))),
        "asked": query_without_page(request),
        "records": records(request),
    }
    named = [f"fieldwork/{kind.name}_list.html", "fieldwork/record_list.html"]
    return render(request, named, context, status=422 if asked.errors else 200)


@require_safe
def record(request: SignedIn, pk: UUID, kind: RecordKind) -> HttpResponse:
    found: Any = get_object_or_404(queries.seen_of_kind(request.user, kind.model, light=False), pk=pk)
    warnings = [*kind.warnings(found), *of_changed_area(found)]
    context = {
        "kind": kind,
        "record": found,
        "project": found.project,
        "facts": kind.facts(found),
        "parts": kind.parts(found),
        "judged_under": found.coat.system if found.coat else system_at(found.area, found.taken_at),
        "has_standing": kind.reliance is not Reliance.NONE,
        "qualified": _qualified(kind, found),
        "standing": standing_of(found),
        "checks": checks_shown(found.result, found.project.unit),
        "notes": [words for words in found.result.get("notes", ()) if words not in warnings],
        "warnings": warnings,
        "versions": queries.versions_of(found),
        "may_correct": records(request) and not hasattr(found, "replaced_by"),
    }
    return render(request, [f"fieldwork/{kind.name}.html", "fieldwork/record.html"], context)
