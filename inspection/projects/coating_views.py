"""Pages of what belongs to coats: data sheets of their products, and stripe coats."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.projects import coating_forms, forms, queries, sheets, stripes
from inspection.projects.models import Coat, CoatingSystem, DataSheet, Project, StripeCoat

page = require_http_methods(["GET", "HEAD", "POST"])


def _back(project: Project) -> HttpResponse:
    return redirect(f"{reverse('project', args=[project.pk])}#systems")


def _one_form(request: SignedIn, project: Project, form: Any, heading: str, submit: str, **more: Any) -> HttpResponse:
    shown = {"project": project, "form": form, "heading": heading, "submit": submit, **more}
    return render(request, "projects/add.html", shown, status=status_of(form))


@require_safe
def data_sheet(request: SignedIn, pk: UUID) -> HttpResponse:
    found = get_object_or_404(queries.sheets_seen_by(request.user), pk=pk)
    coats = found.coats.visible_to(request.user).select_related("system").order_by("system__name", "order")
    shown = {
        "sheet": found, "project": found.project, "coats": coats,
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER) and not found.project.closed_at,
    }  # fmt: skip
    return render(request, "projects/data_sheet.html", shown)


@page
def data_sheet_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="record a data sheet")
    form, lines = coating_forms.AboutSheet(request.POST or None), coating_forms.sheet_lines(request.POST or None)

    def store(rows: list[sheets.SheetRow], said: dict[str, Any]) -> DataSheet:
        return sheets.record_sheet(request.user, project=project, rows=rows, **said)

    return _stored(request, project, form, lines, store, "Record a data sheet", "Record it")


@page
def data_sheet_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = get_object_or_404(queries.sheets_seen_by(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="correct a data sheet")
    form = coating_forms.CorrectSheet(request.POST or None, initial=coating_forms.sheet_initial(found))
    lines = coating_forms.sheet_lines(request.POST or None, found)

    def store(rows: list[sheets.SheetRow], said: dict[str, Any]) -> DataSheet:
        return sheets.correct_sheet(request.user, sheet=found, rows=rows, **said)

    heading = f"Correct the data sheet {found}"
    return _stored(request, found.project, form, lines, store, heading, "Store it", sheet=found)


def _stored(
    request: SignedIn, project: Project, form: Any, lines: list[coating_forms.SheetLine], store: Any, heading: str,
    submit: str, **more: Any,
) -> HttpResponse:  # fmt: skip
    """The form of a data sheet with the lines of its table, which are all stored or none."""
    if form.is_bound and all([form.is_valid(), *(row.is_valid() for row in lines)]):
        given = [(row, line) for row in lines if (line := row.line())]
        try:
            sheet = store([sheets.SheetRow(**line) for _, line in given], form.cleaned_data)
        except NotAllowed:
            raise
        except Refused as refusal:
            forms.show_refusal(refusal, form, [row for row, _ in given])
        else:
            messages.success(request, f"The data sheet {sheet} is stored.")
            return redirect("data_sheet", sheet.pk)
    wrong = any(each.errors for each in [form, *lines])
    shown = {
        "project": project, "form": form, "rows": lines, "heading": heading, "submit": submit, "wrong": wrong,
        "forms": [form, *lines], "count": len(lines), **more,
    }  # fmt: skip
    return render(request, "projects/data_sheet_form.html", shown, status=422 if wrong else 200)


@page
def data_sheet_remove(request: SignedIn, pk: UUID) -> HttpResponse:
    found = get_object_or_404(queries.sheets_seen_by(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="remove a data sheet")
    project, named = found.project, str(found)
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: sheets.remove_sheet(request.user, sheet=found, **values)):
        messages.success(request, f"The data sheet {named} is removed; the journal keeps what it said.")
        return _back(project)
    return _one_form(request, project, form, f"Remove the data sheet {named}", "Remove it")


@page
def coat_data_sheet(request: SignedIn, pk: UUID) -> HttpResponse:
    coats = Coat.objects.visible_to(request.user).select_related("system__project")
    coat = get_object_or_404(coats, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="choose the data sheet of a coat")
    form = coating_forms.ChooseSheet(request.POST or None, coat=coat)
    if carried_out(form, lambda values: sheets.choose_sheet(request.user, coat=coat, **values)):
        messages.success(request, f"The data sheet of {coat} of {coat.system} is chosen; the journal keeps why.")
        return _back(coat.system.project)
    return _one_form(request, coat.system.project, form, f"Data sheet of {coat}, {coat.system}", "Choose it")


@page
def stripe_new(request: SignedIn, pk: UUID) -> HttpResponse:
    systems = CoatingSystem.objects.visible_to(request.user).select_related("project")
    system = get_object_or_404(systems, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="specify a stripe coat")
    form = coating_forms.AddStripe(request.POST or None, coats=system.coats.order_by("order"))
    if carried_out(form, lambda values: stripes.add_stripe(request.user, **values)):
        messages.success(request, f"The stripe coat {form.cleaned_data['name']} is specified.")
        return _back(system.project)
    return _one_form(request, system.project, form, f"Specify a stripe coat of {system}", "Specify it")


def _stripe(request: SignedIn, pk: UUID, to: str) -> StripeCoat:
    rows = StripeCoat.objects.visible_to(request.user).select_related("coat__system__project")
    found: StripeCoat = get_object_or_404(rows, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to=to)
    return found


@page
def stripe_change(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _stripe(request, pk, "change a stripe coat")
    system = found.coat.system
    initial = {name: getattr(found, name) for name in coating_forms.AddStripe.base_fields}
    coats = system.coats.order_by("order")
    form = coating_forms.ChangeStripe(request.POST or None, coats=coats, initial=initial)
    if carried_out(form, lambda values: stripes.change_stripe(request.user, stripe=found, **values)):
        messages.success(request, "The stripe coat is changed; the journal keeps why.")
        return _back(system.project)
    return _one_form(request, system.project, form, f"Change the stripe coat {found}", "Change it")


@page
def stripe_remove(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _stripe(request, pk, "remove a stripe coat")
    project, named = found.coat.system.project, str(found)
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: stripes.remove_stripe(request.user, stripe=found, **values)):
        messages.success(request, f"The stripe coat {named} is removed; the journal keeps it.")
        return _back(project)
    return _one_form(request, project, form, f"Remove the stripe coat {named}", "Remove it")
