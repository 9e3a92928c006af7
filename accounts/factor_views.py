"""Pages about second factors and sessions that the sign-in library does not bring."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from accounts import factors, forms, queries, sessions
from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from accounts.stepping import step_up
from accounts.views import page


@require_safe
def sessions_list(request: SignedIn) -> HttpResponse:
    return render(request, "accounts/sessions.html", {"sessions": sessions.sessions_of(request.user)})


@require_POST
def session_end(request: SignedIn, pk: int) -> HttpResponse:
    sessions.end_session(request.user, pk=pk)
    messages.success(request, "You are signed out there.")
    return redirect("sessions")


@page
@step_up
def factor_rule(request: SignedIn) -> HttpResponse:
    """Of which roles the company demands a second factor."""
    require(request.user, Role.ADMINISTRATOR, to="say of whom a second factor is demanded")
    form = forms.FactorDemand(sent(request), initial={"roles": sorted(factors.demanded_roles())})
    if carried_out(form, lambda values: factors.demand(request.user, **values)):
        messages.success(request, "Kept. It holds from the next page that each of them opens.")
        return redirect("people")
    return render(request, "accounts/factor_rule.html", {"form": form}, status=status_of(form))


@page
@step_up
def factor_reset(request: SignedIn, pk: UUID) -> HttpResponse:
    """Asks once; a POST takes the person's second factors away, and they get a letter."""
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    require(request.user, Role.ADMINISTRATOR, to="reset somebody's second factor")
    if request.method == "POST":
        factors.reset(request.user, person=someone)
        messages.success(request, f"{someone.name} signs in with the password alone, and is told by letter.")
        return redirect("person", pk=pk)
    shown = {
        "someone": someone, "heading": "Take away the second factor",
        "lead": f"{someone.email}, {someone.organisation}",
        "submit": f"Take away the second factor of {someone.name}", "held": [],
        "question": f"Whoever knows the password of {someone.name} can then sign in as they. They are told by letter, "
        "and where the company asks a second factor of them they set up a new one at once.",
    }  # fmt: skip
    return render(request, "accounts/ask.html", shown)
