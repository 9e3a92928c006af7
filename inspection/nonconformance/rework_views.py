"""Rework items: the list, one of them, opening, doing, looking at it, dropping, taking an entry back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import answered, sent, status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.fieldwork.kinds import kind_of
from inspection.foundation.ids import new_id
from inspection.foundation.narrowing import keeping, narrowed
from inspection.nonconformance import actions, forms, rework
from inspection.nonconformance.models import ReworkItem
from inspection.projects.models import InspectionArea, Project

A_PAGE = 50
page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def rework_list(request: SignedIn) -> HttpResponse:
    narrow = narrowed(request, "state", "area")
    state = narrow["state"] if narrow.get("state") in ReworkItem.State.values else ""
    project, area = (UUID(narrow[name]) if name in narrow else None for name in ("project", "area"))
    rows = rework.rework_items(request.user, project=project, area=area, state=state)
    shown = {
        "page": Paginator(rows, A_PAGE).get_page(request.GET.get("page")), "query": keeping(**narrow), "state": state,
        "projects": Project.objects.visible_to(request.user), "project": narrow.get("project", ""),
        "states": ReworkItem.State.choices, "may_open": request.user.has_role(*rework.WORKERS),
        "area": InspectionArea.objects.visible_to(request.user).filter(pk=area).first() if area else None,
    }  # fmt: skip
    return render(request, "nonconformance/rework_list.html", shown)


def _item(request: SignedIn, pk: UUID) -> ReworkItem:
    return get_object_or_404(rework.rework_items(request.user), pk=pk)


@require_safe
def rework_item(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, _item(request, pk))


def _show(request: SignedIn, found: ReworkItem, **bound: Any) -> HttpResponse:
    """The item as it is now; a form that was sent and refused is shown as it was typed."""
    works, state = request.user.has_role(*rework.WORKERS), ReworkItem.State(found.state)
    entries = found.entries.select_related("person", "withdraws", "withdrawn_by")
    standing = {entry.pk for entry in rework.in_force(found)}
    done = rework.last_done(rework.in_force(found))
    shown = {
        "item": found, "project": found.project, "record_kind": kind_of(found.record) if found.record else None,
        "entries": [
            (entry, entry.pk in standing and rework.may_take_back(request.user, entry)) for entry in entries
        ],
        "may_do": works and state == ReworkItem.State.OPEN,
        "may_look": works and state == ReworkItem.State.DONE,
        "own": bool(done and done.person_id == request.user.pk),
        "may_drop": works and state in (ReworkItem.State.OPEN, ReworkItem.State.DONE),
        "done": bound.get("done") or forms.RecordRework(auto_id="done_%s", zone=found.project.zone),
        "look": bound.get("look") or forms.LookedAt(auto_id="look_%s"),
        "drop": bound.get("drop") or forms.DropRework(auto_id="drop_%s"),
    }  # fmt: skip
    wrong = next((form for form in bound.values() if form.errors), None)
    return render(request, "nonconformance/rework_item.html", shown, status=status_of(wrong) if wrong else 200)


@require_POST
def rework_done(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _item(request, pk)
    require(request.user, *rework.WORKERS, to="say what was done about an item of rework")
    form = forms.RecordRework(request.POST, auto_id="done_%s", zone=found.project.zone)
    return answered(
        request, form, lambda v: actions.mark_done(request.user, item=found, **v),
        told="It is entered as done; another person looks at it.", then=redirect("rework_item", pk),
        again=lambda: _show(request, _item(request, pk), done=form),
    )  # fmt: skip


@require_POST
def rework_look(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _item(request, pk)
    require(request.user, *rework.WORKERS, to="look at rework that was done")
    form = forms.LookedAt(request.POST, auto_id="look_%s")
    return answered(
        request, form, lambda v: actions.look_at(request.user, item=found, **v),
        told="What was seen is recorded.", then=redirect("rework_item", pk),
        again=lambda: _show(request, _item(request, pk), look=form),
    )  # fmt: skip


@require_POST
def rework_drop(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _item(request, pk)
    require(request.user, *rework.WORKERS, to="drop an item of rework")
    form = forms.DropRework(request.POST, auto_id="drop_%s")
    return answered(
        request, form, lambda v: actions.drop_item(request.user, item=found, **v),
        told="It is not to be done; it stays readable.", then=redirect("rework_item", pk),
        again=lambda: _show(request, _item(request, pk), drop=form),
    )  # fmt: skip


@page
def rework_take_back(request: SignedIn, pk: UUID) -> HttpResponse:
    entry = get_object_or_404(rework.rework_entries(request.user), pk=pk)
    require(request.user, *rework.WORKERS, to="take an entry back")
    form = forms.TakeBack(sent(request))
    shown = {"entry": entry, "item": entry.item, "project": entry.item.project, "form": form, "submit": "Take it back"}
    return answered(
        request, form, lambda v: actions.take_entry_back(request.user, entry=entry, **v),
        told="The entry is taken back; it stays readable.", then=redirect("rework_item", entry.item_id),
        again=lambda: render(request, "nonconformance/rework_take_back.html", shown, status=status_of(form)),
    )  # fmt: skip


@page
def rework_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, *rework.WORKERS, to="open an item of rework")
    given = {"area": request.GET.get("area", ""), "id": new_id()}
    form = forms.OpenRework(sent(request), by=request.user, project=project, initial=given)
    shown = {"project": project, "form": form, "submit": "Open it"}
    return answered(
        request, form, lambda v: actions.open_item(request.user, **{**v, "id": v["id"] or new_id()}),
        told="The item of rework is open.", then=redirect("rework_list"),
        again=lambda: render(request, "nonconformance/rework_new.html", shown, status=status_of(form)),
    )  # fmt: skip
