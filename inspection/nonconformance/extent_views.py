"""The page that leads through the search for the extent: the next spot, what was found, the drawing."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import answered, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.charts import as_svg
from inspection.foundation.ids import new_id
from inspection.foundation.units import Unit
from inspection.nonconformance import actions, forms, queries
from inspection.nonconformance.extent import Found, found, lines, next_told
from inspection.nonconformance.extent_drawing import extent_drawing
from inspection.nonconformance.models import Nonconformance
from inspection.nonconformance.repaired import repaired_parts

page = require_http_methods(["GET", "HEAD", "POST"])
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
WIDE, NARROW = 520, 330


def _searched(request: SignedIn, pk: UUID) -> tuple[Nonconformance, Found]:
    row = get_object_or_404(queries.nonconformances(request.user), pk=pk)
    told = found(row)
    if told is None:
        raise Http404
    return row, told


@page
def extent(request: SignedIn, pk: UUID) -> HttpResponse:
    row, told = _searched(request, pk)
    if request.method != "POST":
        return _show(request, row, told, _form(row, told))
    require(request.user, *WORKERS, to="find how far a nonconformance reaches")
    form = forms.MeasureSpot(request.POST, told=told, unit=row.project.unit)
    return answered(
        request, form,
        lambda v: actions.add_spot(request.user, nonconformance=row, **{**v, "id": v.get("id") or new_id()}),
        told="The spot is kept.", then=redirect("nonconformance_extent", pk),
        again=lambda: _show(request, row, told, form),
    )  # fmt: skip


def _form(row: Nonconformance, told: Found) -> forms.MeasureSpot:
    after = told.outcome.next
    new = {"id": new_id(), "direction": after.direction if after else None}
    return forms.MeasureSpot(initial=new, told=told, unit=row.project.unit)


def _show(request: SignedIn, row: Nonconformance, told: Found, form: forms.MeasureSpot) -> HttpResponse:
    may_measure = request.user.has_role(*WORKERS)
    is_open = row.state != Nonconformance.State.CLOSED
    parts = list(repaired_parts(request.user).filter(nonconformance=row))
    shown: dict[str, Any] = {
        "repaired": parts,
        "may_make_part": may_measure
        and is_open
        and told.outcome.finished
        and bool(row.record_id)
        and all(part.undone_at for part in parts),
        "nonconformance": row,
        "project": row.project,
        "outcome": told.outcome,
        "next": next_told(told.outcome.next, by_units=told.by_units),
        "lines": lines(told, row.project.unit),
        "taken_back": queries.extent_spots(request.user).filter(nonconformance=row).exclude(withdrawn_at=None),
        "may_measure": may_measure and is_open and not told.outcome.finished,
        "may_take_back": may_measure,
        "by_units": told.by_units,
        "form": form,
    }
    return render(request, "nonconformance/extent.html", shown, status=status_of(form))


@require_safe
def drawing(request: SignedIn, pk: UUID) -> HttpResponse:
    row, told = _searched(request, pk)
    size = NARROW if "narrow" in request.GET else WIDE
    return HttpResponse(
        as_svg(extent_drawing(row.number, Unit(row.project.unit), told, size=size)), content_type="image/svg+xml"
    )


@page
def take_back(request: SignedIn, pk: UUID) -> HttpResponse:
    spot = get_object_or_404(queries.extent_spots(request.user), pk=pk)
    require(request.user, *WORKERS, to="take a spot back")
    form = forms.TakeBack(sent(request))
    row = spot.nonconformance
    shown = {"spot": spot, "nonconformance": row, "project": row.project, "form": form, "submit": "Take it back"}
    return answered(
        request, form, lambda v: actions.take_spot_back(request.user, spot=spot, **v),
        told="The spot is taken back; it stays readable.", then=redirect("nonconformance_extent", row.pk),
        again=lambda: render(request, "nonconformance/extent_take_back.html", shown, status=status_of(form)),
    )  # fmt: skip
