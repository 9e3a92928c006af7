"""Pages on which a quality manager puts right what was planned: rename, remove, close, open again."""

from __future__ import annotations

from collections.abc import Callable
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
from inspection.holdpoints.models import HoldPoint
from inspection.projects.forms import Because

page = require_http_methods(["GET", "HEAD", "POST"])


def _planned(
    request: SignedIn, pk: UUID, form: forms.Form, act: Callable[[HoldPoint, dict[str, Any]], Any],
    *, heading: str, submit: str, lead: str, done: str, to: str,
) -> HttpResponse:  # fmt: skip
    points = queries.points_seen_by(request.user).select_related("project", "area", "coat")
    point = get_object_or_404(points, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="change what was planned")
    if isinstance(form, RenamePoint):
        form.initial = {"title": point.title}
    if carried_out(form, lambda values: act(point, values)):
        messages.success(request, done)
        return redirect(to, pk) if to == "point" else redirect(to)
    shown = {"point": point, "form": form, "heading": heading, "submit": submit, "lead": lead}
    return render(request, "holdpoints/planned.html", shown, status=status_of(form))


@page
def point_rename(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(
        request, pk, RenamePoint(request.POST or None), lambda p, v: actions.rename_point(request.user, point=p, **v),
        heading="Rename the point", submit="Rename it", lead="Issued reports and the journal keep the former title.",
        done="The point is renamed.", to="point",
    )  # fmt: skip


@page
def point_remove(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(
        request, pk, Because(request.POST or None), lambda p, v: actions.remove_point(request.user, point=p, **v),
        heading="Remove the point", submit="Remove it",
        lead="Nobody has decided on it. It can be planned again; the journal keeps that it was there.",
        done="The point is removed.", to="board",
    )  # fmt: skip


@page
def point_close(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(
        request, pk, Because(request.POST or None), lambda p, v: actions.close_point(request.user, point=p, **v),
        heading="Close the point", submit="Close it",
        lead="Nobody is asked to decide on it any more; what was decided stays readable. It can be opened again.",
        done="The point is closed.", to="point",
    )  # fmt: skip


@page
def point_reopen(request: SignedIn, pk: UUID) -> HttpResponse:
    return _planned(
        request, pk, Because(request.POST or None), lambda p, v: actions.reopen_point(request.user, point=p, **v),
        heading="Open the point again", submit="Open it again", lead="It then waits for a decision.",
        done="The point waits for a decision again.", to="point",
    )  # fmt: skip
