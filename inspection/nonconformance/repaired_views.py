"""The pages of a repaired part: made from the extent, shown with the rest of its area, undone."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from accounts.asking import stored_or_asked
from accounts.forms import status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.nonconformance import actions, forms, queries
from inspection.nonconformance.actions.repairing import WORKERS
from inspection.nonconformance.extent import Found, found, next_told
from inspection.nonconformance.models import Nonconformance, RepairedPart
from inspection.nonconformance.repaired import repaired_parts, spots_outside, told_of

page = require_http_methods(["GET", "HEAD", "POST"])


@page
def make(request: SignedIn, pk: UUID) -> HttpResponse:
    row = get_object_or_404(queries.nonconformances(request.user), pk=pk)
    told = found(row)
    if told is None or row.record_id is None or request.user.is_contractors:
        raise Http404
    require(request.user, *WORKERS, to="make a repaired part of an area")
    form = forms.MakeRepairedPart(request.POST or None, initial=_begun(row))
    done, asking = stored_or_asked(
        form,
        lambda v: actions.make_repaired_part(
            request.user, nonconformance=row, confirmed=form.is_confirmed, **{**v, "id": v.get("id") or new_id()}
        ),
    )
    if done:
        messages.success(request, "The repaired part is made; it is measured by its own plan.")
        return redirect("repaired_part", repaired_parts(request.user).filter(nonconformance=row).latest("made_at").pk)
    return _form(request, row, told, form, asking)


def _begun(row: Nonconformance) -> dict[str, Any]:
    """The form as it begins: with the spots that alone do not conform."""
    record = ThicknessRecord.objects.filter(pk=row.record_id).first() if row.record_id else None
    return {"id": new_id(), "left_out": " ".join(map(str, spots_outside(record))) if record else ""}


def _form(
    request: SignedIn, row: Nonconformance, told: Found, form: forms.MakeRepairedPart, asking: list[str]
) -> HttpResponse:
    shown = {
        "nonconformance": row, "project": row.project, "outcome": told.outcome, "form": form, "touched": asking,
        "next": next_told(told.outcome.next, by_units=told.by_units), "touched_head": "Is this meant?",
        "confirmed": form.as_asked if asking else "",
        "made": repaired_parts(request.user).filter(nonconformance=row, undone_at=None).first(),
    }  # fmt: skip
    status = 422 if asking else status_of(form)
    return render(request, "nonconformance/repaired_part_make.html", shown, status=status)


def _part(request: SignedIn, pk: UUID) -> RepairedPart:
    return get_object_or_404(repaired_parts(request.user), pk=pk)


@require_safe
def repaired_part(request: SignedIn, pk: UUID) -> HttpResponse:
    row = _part(request, pk)
    shown = {
        "told": told_of(row), "row": row, "nonconformance": row.nonconformance, "project": row.nonconformance.project,
        "may_undo": request.user.has_role(*WORKERS) and row.undone_at is None,
    }  # fmt: skip
    return render(request, "nonconformance/repaired_part.html", shown)


@page
def undo(request: SignedIn, pk: UUID) -> HttpResponse:
    row = _part(request, pk)
    require(request.user, *WORKERS, to="undo a repaired part")
    form = forms.UndoRepairedPart(request.POST or None)
    done, asking = stored_or_asked(
        form, lambda v: actions.undo_part(request.user, repaired=row, confirmed=form.is_confirmed, **v)
    )
    if done:
        messages.success(request, "The repaired part is undone; what was recorded on it stays readable.")
        return redirect("nonconformance", row.nonconformance_id)
    shown = {
        "row": row, "nonconformance": row.nonconformance, "project": row.nonconformance.project, "form": form,
        "touched": asking, "touched_head": "Something rests on it", "confirmed": form.as_asked if asking else "",
    }  # fmt: skip
    status = 422 if asking else status_of(form)
    return render(request, "nonconformance/repaired_part_undo.html", shown, status=status)
