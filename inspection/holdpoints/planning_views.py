"""Pages on which a quality manager puts right what was planned: rename, remove, close, open again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.holdpoints import actions, queries
from inspection.holdpoints.forms import RenamePoint
from inspection.projects.forms import Because

page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True)
class Change:
    """One page of these: the form, the action, and the words around them."""

    form: type[forms.Form]
    act: Callable[..., Any]
    heading: str
    submit: str
    lead: str
    done: str
    to: str = "point"


RENAME = Change(
    RenamePoint, actions.rename_point, "Rename the point", "Rename it",
    "Issued reports and the journal keep the former title.", "The point is renamed.",
)  # fmt: skip
REMOVE = Change(
    Because, actions.remove_point, "Remove the point", "Remove it",
    "Nobody has decided on it. It can be planned again; the journal keeps that it was there.", "The point is removed.",
    to="board",
)  # fmt: skip
CLOSE = Change(
    Because, actions.close_point, "The point is not applicable", "Not applicable",
    "Nobody is asked to decide on it any more; what was decided stays readable. It can be taken back.",
    "The point is not applicable.",
)  # fmt: skip
REOPEN = Change(
    Because, actions.reopen_point, "Take back that the point is not applicable", "Take it back",
    "It then waits for a decision.",
    "The point waits for a decision again.",
)  # fmt: skip


def _planned(request: SignedIn, pk: UUID, change: Change) -> HttpResponse:
    points = queries.points_seen_by(request.user).select_related("project", "area", "coat")
    point = get_object_or_404(points, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="change what was planned")
    form = change.form(request.POST or None, initial={"title": point.title})
    if carried_out(form, lambda values: change.act(request.user, point=point, **values)):
        messages.success(request, change.done)
        return redirect(change.to, pk) if change.to == "point" else redirect(change.to)
    shown = {
        "point": point, "form": form, "heading": change.heading, "submit": change.submit, "lead": change.lead,
    }  # fmt: skip
    return render(request, "holdpoints/planned.html", shown, status=status_of(form))


@page
def point_rename(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(request, pk, RENAME)


@page
def point_remove(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(request, pk, REMOVE)


@page
def point_close(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(request, pk, CLOSE)


@page
def point_reopen(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(request, pk, REOPEN)
