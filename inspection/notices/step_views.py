"""What is done with a notice on its pages: moved, withdrawn, acknowledged, its outcome told, and the ways back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from accounts.asking import stored_or_asked
from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.rights import require
from inspection.foundation.refusals import NotAllowed
from inspection.notices import actions, forms, queries
from inspection.notices.actions.common import may_change
from inspection.notices.actions.steps import COMPANY
from inspection.notices.models import Notice
from inspection.notices.views import areas_of, page
from inspection.projects.models import Party


def _notice(request: SignedIn, pk: UUID) -> Notice:
    return get_object_or_404(queries.notices_seen(request.user), pk=pk)


def _to_change(request: SignedIn, pk: UUID) -> Notice:
    found = _notice(request, pk)
    if not may_change(request.user, found):
        raise NotAllowed("A notice is moved and withdrawn by the party that gave it, or by the inspection company.")
    return found


def _form(
    request: SignedIn,
    found: Notice,
    form: Any,
    *,
    heading: str,
    lead: str,
    submit: str,
    asking: list[str] | None = None,
) -> HttpResponse:
    shown = {
        "notice": found, "project": found.project, "form": form, "heading": heading, "lead": lead, "submit": submit,
        "touched": asking, "confirmed": form.as_asked if asking else "", "touched_head": "Is this meant?",
    }  # fmt: skip
    return render(request, "notices/one_form.html", shown, status=422 if asking else status_of(form))


@page
def notice_move(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _to_change(request, pk)
    initial = {name: getattr(found, name) for name in ("begins_at", "ends_at", "meeting_place", "sequence")}
    form = forms.MoveNotice(request.POST or None, zone=found.project.zone, initial=initial)
    done, asking = stored_or_asked(
        form,
        lambda values: actions.move_notice(request.user, notice=found, confirmed=form.is_confirmed, **values),
    )
    if done:
        messages.success(request, f"{found} is moved; those concerned are told.")
        return redirect("notice", pk)
    lead = "Whoever was told of it is told of the new time; its lead time counts again from now on."
    return _form(request, found, form, heading="Move the notice", lead=lead, submit="Move it", asking=asking)


@page
def notice_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _to_change(request, pk)
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: actions.withdraw_notice(request.user, notice=found, **values)):
        messages.success(request, f"{found} is withdrawn; those concerned are told.")
        return redirect("notice", pk)
    lead = "Nobody comes any more. It can be taken back while its time is to come."
    return _form(request, found, form, heading="Withdraw the notice", lead=lead, submit="Withdraw it")


@page
def notice_restore(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _to_change(request, pk)
    form = forms.RestoreNotice(request.POST or None)
    done, asking = stored_or_asked(
        form,
        lambda values: actions.restore_notice(request.user, notice=found, confirmed=form.is_confirmed, **values),
    )
    if done:
        messages.success(request, f"{found} stands again; those concerned are told.")
        return redirect("notice", pk)
    lead = "The inspection is held after all, at its time and place. Its lead time counts from now on."
    heading = "Take the withdrawal back"
    return _form(request, found, form, heading=heading, lead=lead, submit="Take it back", asking=asking)


@require_POST
def notice_acknowledge(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _notice(request, pk)
    mine = {str(party.pk): party for party in queries.acknowledging(request.user, found)}
    party: Party | None = mine.get(request.POST.get("party", ""))
    actions.acknowledge(request.user, notice=found, party=party)
    messages.success(request, f"It is told that you have read {found}.")
    return redirect("notice", pk)


@page
def notice_unacknowledge(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _notice(request, pk)
    mine = queries.acknowledging(request.user, found)
    if not mine:
        raise NotAllowed("A notice is acknowledged by the people of the parties it is given to.")
    form = forms.TakeBack(request.POST or None, parties=mine)
    if carried_out(form, lambda values: actions.take_acknowledgement_back(request.user, notice=found, **values)):
        messages.success(request, "The acknowledgement is taken back.")
        return redirect("notice", pk)
    lead = "Both stay readable."
    heading = "Take the acknowledgement back"
    return _form(request, found, form, heading=heading, lead=lead, submit="Take it back")


@page
def notice_outcome(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _notice(request, pk)
    require(request.user, *COMPANY, to="record the outcome of a notice")
    form = forms.Outcome(request.POST or None, areas=areas_of(found))

    def act(values: dict[str, Any]) -> None:
        areas = values.pop("areas")
        places = found.places.filter(area__in=areas).values_list("pk", flat=True)
        actions.record_outcome(request.user, notice=found, places=list(places), **values)

    if carried_out(form, act):
        messages.success(request, f"The outcome of {found} is told.")
        return redirect("notice", pk)
    lead = "Who came, or did not, is noted at each point."
    return _form(request, found, form, heading="Tell the outcome", lead=lead, submit="Keep the outcome")


@page
def notice_reopen(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _notice(request, pk)
    require(request.user, *COMPANY, to="take the outcome of a notice back")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: actions.take_outcome_back(request.user, notice=found, **values)):
        messages.success(request, f"The outcome of {found} is taken back; it stands again.")
        return redirect("notice", pk)
    lead = "It stands again until its outcome is told anew. Both stay readable."
    return _form(request, found, form, heading="Take the outcome back", lead=lead, submit="Take it back")
