"""Pages of mixes: those of a project, one mix, recording and correcting it, when it was used."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts.asking import stored_or_asked
from accounts.forms import status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.foundation.narrowing import page_number
from inspection.foundation.refusals import Asked, Fault, NotAllowed, Refused
from inspection.projects.forms import show_refusal
from inspection.projects.models import Project
from inspection.works.entering import WORKERS, may_change, parties_for
from inspection.works.models import Mix
from inspection.works.paint import forms as paint_forms
from inspection.works.paint import mixes
from inspection.works.paint import queries as paint_queries
from inspection.works.paint.mixes import MixSent
from inspection.works.paint.views import Deed, project_of, stamp

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 60
SENT = ("coat", "mixed_at", "stirred", "paint_c", "used_from", "used_until", "note", "reason")


@require_safe
def mix_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project, at = project_of(request, pk), timezone.now()
    found = Paginator(paint_queries.mixes_seen(request.user, project.pk), A_PAGE).get_page(page_number(request))
    shown = {
        "project": project, "page": found, "rows": paint_queries.mixes_now(found, at),
        "running": paint_queries.running(request.user, [project.pk], at).get(project.pk, []),
        "may_enter": request.user.has_role(*WORKERS) and bool(parties_for(request.user, project)),
    }  # fmt: skip
    return render(request, "works/paint/mix_list.html", shown)


def _mix(request: SignedIn, pk: UUID) -> Mix:
    return get_object_or_404(paint_queries.mixes_seen(request.user), pk=pk)


@require_safe
def mix(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _mix(request, pk)
    [now] = paint_queries.mixes_now([found])
    taken_out = found.parts.exclude(taken_out_at=None).select_related("batch")
    shown = {
        "project": found.project, "mix": found, "now": now, "taken_out": taken_out,
        "history": paint_queries.history(found),
        "may_change": may_change(request.user, found.party) and not found.project.closed_at,
    }  # fmt: skip
    return render(request, "works/paint/mix.html", shown)


@page
def mix_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = project_of(request, pk)
    require(request.user, *WORKERS, to="record mixes of paint")
    form = paint_forms.RecordMix(request.POST or None, by=request.user, project=project)

    def act(sent: MixSent, confirmed: bool) -> Mix:
        values = form.cleaned_data
        party = values.get("party")
        return mixes.record_mix(
            request.user, id=values["id"], project=project, sent=sent, party=party, confirmed=confirmed
        )[0]

    shown = {
        "project": project, "heading": "Record a mix", "submit": "Record it", "cancel": reverse("mix_list", args=[pk]),
    }  # fmt: skip
    return _told(request, project, form, None, act, shown)


@page
def mix_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _mix(request, pk)
    _require(request, found, "correct a mix")
    form = paint_forms.CorrectMix(request.POST or None, by=request.user, mix=found)

    def act(sent: MixSent, confirmed: bool) -> Mix:
        return mixes.correct_mix(
            request.user, mix=found, sent=sent, why=form.cleaned_data["why"], confirmed=confirmed
        )  # fmt: skip

    shown = {
        "project": found.project, "mix": found, "heading": f"Correct {found}", "submit": "Store it",
        "cancel": reverse("mix", args=[pk]),
    }  # fmt: skip
    return _told(request, found.project, form, found, act, shown)


def _told(
    request: SignedIn, project: Project, form: django_forms.Form, found: Mix | None,
    act: Callable[[MixSent, bool], Mix], shown: dict[str, Any],
) -> HttpResponse:  # fmt: skip
    """Show the form with its batches, ask about what is doubtful, store it."""
    rows = paint_forms.part_lines(request.user, project, request.POST or None, found)
    asking: list[str] = []
    if form.is_bound and all([form.is_valid(), *(row.is_valid() for row in rows)]):
        filled = [row for row in rows if row.sent()]
        sent = MixSent(
            parts=[part for row in filled if (part := row.sent())],
            **{name: form.cleaned_data[name] for name in SENT},
        )  # fmt: skip
        try:
            stored = act(sent, request.POST.get("confirmed") == stamp(request))
        except NotAllowed:
            raise
        except Asked as question:
            asking = [fault.message for fault in question.faults]
        except Refused as refusal:
            show_refusal(_of_the_form(refusal), form, filled)
        else:
            messages.success(request, f"{stored} is stored.")
            return redirect("mix", stored.pk)
    wrong = form.is_bound and any(each.errors for each in [form, *rows])
    shown |= {
        "form": form, "rows": rows, "count": len(rows), "wrong": wrong, "forms": [form, *rows], "touched": asking,
        "confirmed": stamp(request) if asking else request.POST.get("confirmed", "") if wrong else "",
        "touched_head": "Is this right?", "needs_reason": mixes.DO_NOT in asking,
    }  # fmt: skip
    return render(request, "works/paint/mix_form.html", shown, status=422 if wrong else 200)


def _of_the_form(refusal: Refused) -> Refused:
    """What is wrong with the batches as a whole stands above the form."""
    return Refused([Fault(fault.message, "" if fault.field == "parts" else fault.field, fault.row)
                    for fault in refusal.faults])  # fmt: skip


def _require(request: SignedIn, found: Mix, to: str) -> None:
    require(request.user, *WORKERS, to=to)
    if not may_change(request.user, found.party):
        raise NotAllowed(f"Only {found.party.organisation} and the inspection company may {to}.")


DEEDS = {
    "use": Deed(
        "say when a mix was used", paint_forms.TellUse, mixes.tell_use, "When it was used", "Store it",
        "What is told of it here is put right later by a correction.",
    ),
    "withdraw": Deed(
        "withdraw a mix", paint_forms.Why, mixes.withdraw_mix, "Withdraw the mix", "Withdraw it",
        "For one entered by mistake. Its paint counts as not taken. It can be taken back.",
    ),
    "restore": Deed(
        "take the withdrawal of a mix back", paint_forms.Why, mixes.restore_mix, "Take the withdrawal back",
        "Take it back",
    ),
}  # fmt: skip


@page
def mix_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    found, of = _mix(request, pk), DEEDS[deed]
    _require(request, found, of.to)
    form = of.form(request.POST or None, thing=found)

    def act(values: dict[str, Any]) -> None:
        more = {"confirmed": request.POST.get("confirmed") == stamp(request)} if deed == "use" else {}
        of.act(request.user, mix=found, **values, **more)

    done, asking = stored_or_asked(form, act)
    if done:
        messages.success(request, f"{of.heading}: done. The journal keeps it.")
        return redirect("mix", found.pk)
    return _one_form(request, found, form, of, asking)


def _one_form(request: SignedIn, found: Mix, form: Any, of: Deed, asking: Sequence[str]) -> HttpResponse:
    shown = {
        "project": found.project, "mix": found, "form": form, "heading": of.heading, "submit": of.submit,
        "question": of.question, "cancel": reverse("mix", args=[found.pk]), "touched": asking,
        "confirmed": stamp(request) if asking else "", "touched_head": "Is this right?",
    }  # fmt: skip
    return render(request, "works/paint/form.html", shown, status=status_of(form))
