"""Pages of notes on drawings: writing one, one of them with its versions, correcting, withdrawing, showing it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.forms import answered, sent, status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.drawings import actions, forms, noting, queries
from inspection.drawings.marks import picture_of
from inspection.drawings.models import DrawingNote
from inspection.drawings.views import page, place_form, width_of
from inspection.foundation.ids import new_id
from inspection.projects.forms import Because


@page
def note_new(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = get_object_or_404(queries.revisions_seen(request.user), pk=pk)
    require(request.user, *noting.WRITERS, to="write a note on a drawing")
    width, back = width_of(request), reverse("drawing_revision", args=[pk])
    pointed = forms.pressed(request.POST, revision, width) if request.method == "POST" else None
    initial = pointed or {"id": new_id(), "at": timezone.now()}
    form = forms.WriteNote(
        None if pointed else sent(request), by=request.user, revision=revision, initial=initial
    )  # fmt: skip
    return answered(
        request, form,
        lambda v: noting.write_note(request.user, id=v["id"], revision=revision, sent=form.note()),
        told="The note is kept.", then=redirect(back),
        again=lambda: place_form(request, revision, form, f"Note on {revision}", "Keep it", back, width),
    )  # fmt: skip


def _note(request: SignedIn, pk: UUID) -> DrawingNote:
    return get_object_or_404(queries.notes_seen(request.user), pk=pk)


@require_safe
def note(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _note(request, pk)
    later, versions = getattr(found, "replaced_by", None), queries.versions_of(request.user, found)
    shown = {
        "note": found, "drawing": found.drawing, "project": found.drawing.project, "later": later,
        "later_is_seen": later in versions, "versions": versions, "picture": picture_of(found.revision, [found], ()),
        "may_change": noting.may_change(request.user, found) and later is None,
        "may_show": request.user.has_role(*actions.KEEPERS) and later is None,
    }  # fmt: skip
    return render(request, "drawings/note.html", shown)


@page
def note_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _note(request, pk)
    noting.refuse_strangers(request.user, found)
    width, back = width_of(request), reverse("drawing_note", args=[pk])
    pointed = forms.pressed(request.POST, found.revision, width) if request.method == "POST" else None
    initial = pointed or {"id": new_id(), **forms.note_as_written(found)}
    form = forms.CorrectNote(
        None if pointed else sent(request), by=request.user, revision=found.revision, initial=initial
    )  # fmt: skip
    return answered(
        request, form,
        lambda v: noting.correct_note(request.user, note=found, id=v["id"], sent=form.note(), reason=v["reason"]),
        told="It is corrected; the version before stays readable.",
        then=redirect("drawing_revision", found.revision_id),
        again=lambda: place_form(request, found.revision, form, f"Correct {found}", "Store it", back, width),
    )  # fmt: skip


@require_POST
def note_show(request: SignedIn, pk: UUID) -> HttpResponse:
    noting.show_note(request.user, note=_note(request, pk), shown=request.POST.get("shown") == "yes")
    return redirect("drawing_note", pk)


@page
def note_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    words = ("Withdraw", "Withdraw it", "It is withdrawn; it stays readable and can be brought back.")
    return _with_reason(request, pk, noting.withdraw_note, *words)


@page
def note_restore(request: SignedIn, pk: UUID) -> HttpResponse:
    return _with_reason(request, pk, noting.restore_note, "Bring back", "Bring it back", "The note is back.")


def _with_reason(
    request: SignedIn, pk: UUID, act: Callable[..., Any], heading: str, submit: str, told: str
) -> HttpResponse:
    found = _note(request, pk)
    noting.refuse_strangers(request.user, found)
    form = Because(sent(request))
    shown = {
        "project": found.drawing.project, "form": form, "heading": f"{heading} {found}", "submit": submit,
        "cancel": reverse("drawing_note", args=[pk]),
    }  # fmt: skip
    return answered(
        request, form, lambda v: act(request.user, note=found, **v), told=told, then=redirect("drawing_note", pk),
        again=lambda: render(request, "drawings/form.html", shown, status=status_of(form)),
    )  # fmt: skip
