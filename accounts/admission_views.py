"""Pages on which people of an organisation see who of theirs is here, confirm newcomers and turn others away."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import admission, admitting, forms
from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Person, Role
from accounts.rights import require


@require_safe
def our_people(request: SignedIn) -> HttpResponse:
    require(request.user, *Role, to="see who of their organisation is here")
    waiting = admission.answerable(request.user).filter(organisation=request.user.organisation_id)
    shown = {
        "waiting": [(each, admission.may_confirm(request.user, each)) for each in waiting],
        "here": admission.known(request.user.organisation),
    }
    return render(request, "accounts/our_people.html", shown)


@require_POST
def person_confirm(request: SignedIn, pk: UUID) -> HttpResponse:
    someone = get_object_or_404(admission.answerable(request.user), pk=pk)
    admitting.confirm(request.user, person=someone)
    messages.success(request, f"{someone.name} is confirmed for {someone.organisation}.")
    return redirect(_back(request.user))


@require_http_methods(["GET", "HEAD", "POST"])
def person_turn_away(request: SignedIn, pk: UUID) -> HttpResponse:
    someone = get_object_or_404(admission.answerable(request.user), pk=pk)
    form = forms.TurnAway(sent(request))
    if carried_out(form, lambda values: admitting.turn_away(request.user, person=someone, **values)):
        messages.success(request, f"{someone.name} is turned away.")
        return redirect(_back(request.user))
    shown = {"form": form, "someone": someone, "back": reverse(_back(request.user))}
    return render(request, "accounts/turn_away.html", shown, status=status_of(form))


def _back(by: Person) -> str:
    return "people" if by.sees_every_project else "our_people"
