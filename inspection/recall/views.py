"""The recall of a certificate: what it would touch, doing it, taking it back; and what any recall touched."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import carried_out
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from accounts.stepping import step_up
from inspection.instruments.actions import StandardValue
from inspection.instruments.models import Certificate
from inspection.recall import asking, forms
from inspection.recall.asking import Way
from inspection.recall.done import Done
from inspection.recall.foreseen import Touched, touched_by
from inspection.recall.forms import Confirm
from inspection.recall.models import AskedRecall, Recall
from inspection.trace import queries
from inspection.trace.kinds import kinds
from inspection.trace.views import reader

page = require_http_methods(["GET", "HEAD", "POST"])


def _certificate(request: SignedIn, pk: UUID) -> Certificate:
    require(request.user, Role.QUALITY_MANAGER, to="recall a certificate")
    return get_object_or_404(Certificate.objects.visible_to(request.user).select_related("replaced_by"), pk=pk)


@page
@step_up
def recall(request: SignedIn, pk: UUID) -> HttpResponse:
    """What withdrawing the certificate would touch; sent by POST, it is withdrawn."""
    found = _certificate(request, pk)
    if hasattr(found, "replaced_by"):
        return redirect("recall", found.replaced_by.pk)
    form = forms.Confirm(request.POST or None)
    if begun := _begun(request, form, found, Way.WITHDRAWN, f"Certificate {found} is withdrawn"):
        return begun
    touched = None if found.withdrawn_at else touched_by(found, request.user)
    return _preview(request, found, form, touched, "withdraw")


@page
@step_up
def recall_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    """What corrected values would touch, asked by GET; sent by POST, the corrected version is recorded."""
    found = _certificate(request, pk)
    if hasattr(found, "replaced_by"):
        return redirect("recall_correct", found.replaced_by.pk)
    asked = request.POST or (request.GET if request.GET else None)
    values = forms.CorrectValues(asked, certificate=found)
    changes = values.changes() if values.is_bound and values.is_valid() else []
    corrected = [value for _, value in changes]
    form = forms.Confirm(request.POST or None)
    says = f"The corrected version of certificate {found} is recorded"
    if corrected and (begun := _begun(request, form, found, Way.CORRECTED, says, corrected)):
        return begun
    touched = touched_by(found, request.user, corrected) if corrected else None
    return _preview(request, found, form, touched, "correct", values=values, changes=changes)


def _begun(
    request: SignedIn, form: Confirm, found: Certificate, way: str, says: str, corrected: Sequence[StandardValue] = ()
) -> HttpResponse | None:
    """To what the recall touched or, where a worker does it, to where that is told; None where nothing was begun."""
    begun: list[Recall | AskedRecall] = []
    if not carried_out(
        form,
        lambda v: begun.append(asking.begin(request.user, certificate=found, way=way, corrected=corrected, **v)),
    ):
        return None
    if isinstance(begun[0], AskedRecall):
        return redirect("recall_asked", begun[0].pk)
    messages.success(request, f"{says}; this is what it touched.")
    return redirect("recalled", begun[0].pk)


def _preview(
    request: SignedIn, found: Certificate, form: Any, touched: Touched | None, way: str, **more: Any
) -> HttpResponse:
    shown = {
        "certificate": found,
        "way": way,
        "form": form,
        "touched": touched,
        "reinstate": forms.Confirm(),
        "recalls": Recall.objects.filter(certificate=found).select_related("by"),
        "asked": AskedRecall.objects.filter(certificate=found, finished_at=None).first(),
        **more,
    }
    wrong = form.errors or (more.get("values") is not None and more["values"].errors)
    return render(request, "recall/recall.html", shown, status=422 if wrong else 200)


@require_POST
@step_up
def recall_reinstate(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _certificate(request, pk)
    form = forms.Confirm(request.POST)
    if begun := _begun(request, form, found, Way.REINSTATED, f"Certificate {found} can be relied on again"):
        return begun
    shown = {"certificate": found, "way": "withdraw", "form": forms.Confirm(), "reinstate": form, "recalls": []}
    return render(request, "recall/recall.html", shown, status=422)


@require_safe
def recalled(request: SignedIn, pk: UUID) -> HttpResponse:
    """All that a recall touched, as found when it was done."""
    require(request.user, Role.QUALITY_MANAGER, to="read recalls")
    rows = Recall.objects.visible_to(request.user).select_related("certificate", "batch", "by")
    done = get_object_or_404(rows, pk=pk)
    return render(request, "recall/recalled.html", {"recall": done, "done": Done(done, request.user)})


@require_safe
def recall_asked(request: SignedIn, pk: UUID) -> HttpResponse:
    """How far a recall is that a worker carries out; once it is done, on to what it touched."""
    require(request.user, Role.QUALITY_MANAGER, to="read recalls")
    asked = get_object_or_404(AskedRecall.objects.select_related("certificate", "by"), pk=pk)
    if asked.done_id:
        return redirect("recalled", asked.done_id)
    return render(request, "recall/asked.html", {"asked": asked})


@require_safe
def trace(request: SignedIn) -> HttpResponse:
    """Where a trace begins; for a quality manager with the newest recalls."""
    reader(request)
    words = request.GET.get("words", "").strip()[:80]
    shown: dict[str, Any] = {
        "words": words,
        "layers": queries.search(words, request.user) if words else [],
        "kinds": kinds(),
    }
    if request.user.has_role(Role.QUALITY_MANAGER):
        recalls = Recall.objects.visible_to(request.user).select_related("certificate", "batch", "by")
        shown["recalls"] = recalls[:10]
        shown["asked"] = AskedRecall.objects.filter(done=None).select_related("certificate", "by")[:10]
    return render(request, "trace/trace.html", shown)
