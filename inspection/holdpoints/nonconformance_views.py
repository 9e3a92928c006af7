"""Nonconformances: the list, one of them, raising, repairing, closing."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.refusals import NotAllowed, Refused
from accounts.rights import require
from inspection.holdpoints import actions, forms, queries
from inspection.holdpoints.models import Nonconformance
from inspection.holdpoints.views import keeping, narrowed
from inspection.projects.models import Project

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 50
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)


@require_safe
def nonconformance_list(request: SignedIn) -> HttpResponse:
    narrow = narrowed(request, "state")
    state = narrow["state"] if narrow.get("state") in Nonconformance.State.values else ""
    project = UUID(narrow["project"]) if "project" in narrow else None
    rows = Paginator(queries.nonconformances(request.user, project=project, state=state), A_PAGE)
    projects = Project.objects.visible_to(request.user)
    return render(
        request,
        "holdpoints/nonconformance_list.html",
        {
            "page": rows.get_page(request.GET.get("page")),
            "projects": projects,
            "project": narrow.get("project", ""),
            "state": state,
            "states": Nonconformance.State.choices,
            "query": keeping(**narrow),
            "may_raise": request.user.has_role(*WORKERS),
        },
    )


def _nonconformance(request: SignedIn, pk: UUID) -> Nonconformance:
    rows = queries.nonconformances(request.user).select_related(
        "project", "area", "coat", "raised_by", "closed_by", "record", "closing_record"
    )
    return get_object_or_404(rows, pk=pk)


@require_safe
def nonconformance(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, _nonconformance(request, pk), None)


def _show(request: SignedIn, found: Nonconformance, form: Any, refusal: Refused | None = None) -> HttpResponse:
    is_open = found.state == Nonconformance.State.OPEN
    shown = {
        "nonconformance": found,
        "project": found.project,
        "may_work": is_open and request.user.has_role(*WORKERS),
        "may_close": is_open and request.user.has_role(*(WORKERS if found.record_id else (Role.QUALITY_MANAGER,))),
        "form": form or forms.RecordRepair(),
        "refusal": refusal,
    }
    wrong = 422 if refusal else status_of(form) if form else 200
    return render(request, "holdpoints/nonconformance.html", shown, status=wrong)


@require_POST
def nonconformance_repair(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    form = forms.RecordRepair(request.POST)
    if carried_out(form, lambda v: actions.record_repair(request.user, nonconformance=found, **v)):
        messages.success(request, "The repair is recorded.")
        return redirect("nonconformance", pk)
    return _show(request, _nonconformance(request, pk), form)


@require_POST
def nonconformance_close(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _nonconformance(request, pk)
    try:
        actions.close_nonconformance(request.user, nonconformance=found)
    except NotAllowed:
        raise
    except Refused as refusal:
        return _show(request, _nonconformance(request, pk), None, refusal)
    messages.success(request, f"NC-{found.number:03d} is closed.")
    return redirect("nonconformance", pk)


@page
def nonconformance_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *WORKERS, to="raise a nonconformance")
    form = forms.RaiseNonconformance(request.POST or None, by=request.user, project=project)
    raised: list[Nonconformance] = []
    if carried_out(form, lambda values: raised.append(actions.raise_nonconformance(request.user, **values))):
        messages.success(request, f"NC-{raised[0].number:03d} is raised.")
        return redirect("nonconformance", raised[0].pk)
    shown = {"project": project, "form": form, "submit": "Raise it"}
    return render(request, "holdpoints/nonconformance_new.html", shown, status=status_of(form))
