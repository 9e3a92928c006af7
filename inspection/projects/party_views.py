"""Pages of the parties of a project: one of them with its people and its scope, adding, ending, taking up again."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.projects import forms, parties, queries
from inspection.projects.models import Party, Project, Scope

page = require_http_methods(["GET", "HEAD", "POST"])


def _party(request: SignedIn, pk: UUID, to: str = "") -> Party:
    found: Party = get_object_or_404(queries.parties_shown(request.user), pk=pk)
    if to:
        require(request.user, Role.QUALITY_MANAGER, to=to)
    return found


@require_safe
def party(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _party(request, pk)
    shown = {
        "party": found, "project": found.project, "people": queries.people_of([found], request.user)[found.pk],
        "scope": parties.scope_of(found), "is_contractor": found.kind == Party.Kind.CONTRACTOR,
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER) and not found.project.closed_at,
    }  # fmt: skip
    return render(request, "projects/party.html", shown)


@page
def party_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.visible_to(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="add a party to a project")
    form = forms.AddParty(request.POST or None)
    added: list[Party] = []
    if carried_out(form, lambda v: added.append(parties.add_party(request.user, project=project, **v))):
        messages.success(request, f"{added[0]} is a party of {project.code}. Next, its people.")
        return redirect("party", added[0].pk)
    shown = {"project": project, "form": form, "heading": "Add a party", "submit": "Add the party"}
    return render(request, "projects/add.html", shown, status=status_of(form))


@page
def party_end(request: SignedIn, pk: UUID) -> HttpResponse:
    """Asks once, with what hangs on the party."""
    found = _party(request, pk, "end the part of a party")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda v: parties.end_party(request.user, party=found, **v)):
        messages.success(request, f"{found} is no longer a party of {found.project.code}. It can be taken up again.")
        return redirect("party", pk)
    return _asked(
        request, found, form, f"End the part of {found.organisation}", "End it",
        "What its people recorded and decided stays. An end made by mistake is taken back on the party’s page.",
        held=parties.hanging_on(request.user, found), held_head="Hangs on it:",
    )  # fmt: skip


@page
def party_take_up(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _party(request, pk, "take up a party again")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda v: parties.take_up_again(request.user, party=found, **v)):
        messages.success(request, f"{found} is a party of {found.project.code} again.")
        return redirect("party", pk)
    question = "Its people whose part has not ended see the project again, with the scope it had."
    return _asked(request, found, form, f"Take up {found.organisation} again", "Take it up again", question)


@page
def scope_give(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _party(request, pk, "say what is a contractor's")
    form = forms.GiveScope(request.POST or None, project=found.project)
    given: list[Scope] = []
    if carried_out(form, lambda v: given.append(parties.give_scope(request.user, party=found, **v))):
        messages.success(request, f"{given[0]} is given to {found.organisation}.")
        return redirect("party", pk)
    shown = {"project": found.project, "form": form, "heading": f"Give a part of the work to {found.organisation}",
             "submit": "Give it"}  # fmt: skip
    return render(request, "projects/add.html", shown, status=status_of(form))


@page
def scope_end(request: SignedIn, pk: UUID) -> HttpResponse:
    scope: Scope = get_object_or_404(parties.scopes_seen_by(request.user), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="say what is a contractor's")
    form, found = forms.Because(request.POST or None), scope.party
    if carried_out(form, lambda v: parties.end_scope(request.user, scope=scope, **v)):
        messages.success(request, f"{scope} is no longer given to {found.organisation}.")
        return redirect("party", found.pk)
    last = parties.scope_of(found).count() == 1
    question = (
        f"Nothing else is given to {found.organisation}: its people then see all areas of {found.project.code}."
        if last
        else f"The people of {found.organisation} then no longer see it. It can be given again."
    )
    return _asked(request, found, form, f"Take {scope} from {found.organisation}", "Take it away", question)


def _asked(
    request: SignedIn, of: Party, form: Any, heading: str, submit: str, question: str, **more: Any
) -> HttpResponse:
    shown = {"project": of.project, "form": form, "heading": heading, "submit": submit, "question": question, **more}
    return render(request, "projects/ask.html", shown, status=status_of(form))
