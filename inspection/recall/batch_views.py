"""The recall of a batch of paint: what it would touch, doing it in one step, taking it back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from accounts.stepping import step_up
from inspection.fieldwork.kinds import BY_NAME
from inspection.recall import batch_actions
from inspection.recall.batches import people_concerned, touched_by_batch
from inspection.recall.done import layer_of
from inspection.recall.forms import Confirm
from inspection.recall.models import Recall
from inspection.works.models import PaintBatch

SHOWN = 50


def _batch(request: SignedIn, pk: UUID) -> PaintBatch:
    require(request.user, Role.QUALITY_MANAGER, to=batch_actions.TO)
    rows = PaintBatch.objects.visible_to(request.user).select_related("project", "party")
    found: PaintBatch = get_object_or_404(rows, pk=pk)
    return found


@require_http_methods(["GET", "HEAD", "POST"])
@step_up
def recall_batch(request: SignedIn, pk: UUID) -> HttpResponse:
    """What withdrawing the batch would touch; sent by POST, it is withdrawn."""
    found = _batch(request, pk)
    form = Confirm(request.POST or None)
    done: list[Recall] = []
    if carried_out(form, lambda v: done.append(batch_actions.recall_batch(request.user, batch=found, **v))):
        messages.success(request, f"{found} is withdrawn; this is what it touched.")
        return redirect("recalled", done[0].pk)
    return _preview(request, found, form=form)


@require_POST
@step_up
def reinstate(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _batch(request, pk)
    form = Confirm(request.POST)
    done: list[Recall] = []
    if carried_out(form, lambda v: done.append(batch_actions.reinstate_batch(request.user, batch=found, **v))):
        messages.success(request, f"{found} may be used again; this is what that touched.")
        return redirect("recalled", done[0].pk)
    return _preview(request, found, reinstating=form)


def _preview(request: SignedIn, found: PaintBatch, **forms: Any) -> HttpResponse:
    touched = touched_by_batch(found)
    sent = forms.get("reinstating") or forms["form"]
    shown = {
        "batch": found, "project": found.project, "touched": touched, "most": SHOWN,
        "form": forms.get("form") or Confirm(), "reinstating": forms.get("reinstating") or Confirm(),
        "records": [(row, BY_NAME[row.kind]) for row in touched.records[:SHOWN]],
        "reports": layer_of("report", touched.reports, request.user),
        "people": people_concerned(found, touched),
        "recalls": Recall.objects.filter(batch=found).select_related("by"),
    }  # fmt: skip
    return render(request, "recall/batch.html", shown, status=status_of(sent))
