"""The recall of a batch of paint: what it would touch; sent by POST, the batch is withdrawn in one step."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from accounts import journal
from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.kinds import BY_NAME
from inspection.projects.forms import Because
from inspection.recall.batches import Touched, touched_by_batch
from inspection.works.models import PaintBatch
from inspection.works.paint.batches import withdraw_batch

SHOWN = 50


@transaction.atomic
def recall_batch_now(by: Person, *, batch: PaintBatch, reason: str) -> Touched:
    """Withdraw the batch, and keep in the journal how much of each it touched."""
    require(by, Role.QUALITY_MANAGER, to="recall a batch of paint")
    touched = touched_by_batch(batch)
    held = withdraw_batch(by, batch=batch, reason=reason)
    journal.record(
        "batch.recalled", held, by=by, project_id=held.project_id, after=touched.counts, reason=reason.strip()
    )
    return touched


@require_http_methods(["GET", "HEAD", "POST"])
def recall_batch(request: SignedIn, pk: UUID) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="recall a batch of paint")
    found = get_object_or_404(PaintBatch.objects.visible_to(request.user).select_related("project"), pk=pk)
    form = Because(request.POST or None)

    def act(values: dict[str, Any]) -> None:
        recall_batch_now(request.user, batch=found, **values)

    if carried_out(form, act):
        messages.success(request, f"{found} is withdrawn; this is what it touches.")
        return redirect("recall_batch", found.pk)
    touched = touched_by_batch(found)
    shown = {
        "batch": found, "project": found.project, "form": form, "touched": touched, "most": SHOWN,
        "records": [(row, BY_NAME[row.kind]) for row in touched.records[:SHOWN]],
    }  # fmt: skip
    return render(request, "recall/batch.html", shown, status=status_of(form))
