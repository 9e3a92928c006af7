"""Pages about people: signing in by invitation, one's own page, and who is who."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any
from uuid import UUID

from allauth.account import views as allauth
from allauth.account.adapter import get_adapter
from allauth.mfa.models import Authenticator
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import actions, admission, forms, founding, guessing, qualifying, queries
from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Invitation, Organisation, Person, Qualification, Role, Scheme
from accounts.rights import require
from accounts.signals import left_unfinished
from accounts.stepping import step_up
from inspection.foundation.lookalikes import tell_alike

page = require_http_methods(["GET", "HEAD", "POST"])


def _ip(request: HttpRequest) -> str:
    """Where the request came from, as far as the one proxy in front is believed."""
    return str(get_adapter(request).get_client_ip(request))


@page
def sign_in(request: HttpRequest) -> HttpResponse:
    """The sign-in page; while nobody exists, it leads to the page that founds the company."""
    if founding.may_be_founded():
        return redirect("found")
    answer: HttpResponse = allauth.login(request)
    return answer


@page
@never_cache
@sensitive_post_parameters()
def found(request: HttpRequest) -> HttpResponse:
    """The company and its first administrator, by whoever has the code from the machine; gone once they exist."""
    if not founding.may_be_founded():
        raise Http404
    if request.method == "POST" and guessing.take(guessing.founding_from(_ip(request))) is not None:
        return render(request, "429.html", status=429)
    form = forms.FoundCompany(sent(request))
    founders: list[Person] = []
    if carried_out(form, lambda values: founders.append(actions.found_with_code(**values))):
        login(request, founders[0])
        messages.success(request, f"{founders[0].organisation} stands. Invite the others.")
        return redirect("people")
    return render(request, "accounts/found.html", {"form": form}, status=status_of(form))


@page
@never_cache
@sensitive_post_parameters()
def accept_invitation(request: HttpRequest, token: str) -> HttpResponse:
    """The invited person chooses a password and is signed in."""
    digest = hashlib.sha256(token.encode()).hexdigest()
    invitation = Invitation.objects.select_related("organisation").filter(token_digest=digest).first()
    if invitation is None or not invitation.is_open():
        return render(request, "accounts/invitation_gone.html", status=404)
    form = forms.NewPassword(sent(request))
    joined: list[Person] = []
    if carried_out(form, lambda values: joined.append(actions.accept_invitation(token=token, **values))):
        login(request, joined[0])
        return redirect("home")
    shown = {"form": form, "invitation": invitation, "role": Role(invitation.role).label}
    return render(request, "accounts/accept_invitation.html", shown, status=status_of(form))


# --- one's own page ---------------------------------------------------------------------------------------------------


@require_safe
def me(request: SignedIn) -> HttpResponse:
    tokens = queries.live_tokens(request.user)
    shown = {
        "person": request.user, "tokens": tokens, "qualifications": queries.papers_of(request.user),
        "who_confirms": admission.who_confirms(request.user) if request.user.waits else "",
    }  # fmt: skip
    return render(request, "accounts/me.html", shown)


@page
@sensitive_post_parameters()
def change_password(request: SignedIn) -> HttpResponse:
    form = forms.ChangePassword(sent(request))
    if carried_out(form, lambda values: actions.change_password(request.user, **values)):
        update_session_auth_hash(request, request.user)
        request.known_as = request.user
        messages.success(request, "Your password is changed.")
        return redirect("me")
    return render(request, "accounts/change_password.html", {"form": form}, status=status_of(form))


@page
@never_cache
@step_up
def token_new(request: SignedIn) -> HttpResponse:
    """Makes a token and shows its text, this once."""
    form = forms.NewToken(sent(request))
    made: list[Any] = []
    if carried_out(form, lambda values: made.append(actions.make_token(request.user, **values))):
        token, text = made[0]
        return render(request, "accounts/token_made.html", {"token": token, "text": text})
    return render(request, "accounts/token_new.html", {"form": form}, status=status_of(form))


@require_POST
def token_revoke(request: SignedIn, token_key: str) -> HttpResponse:
    token = get_object_or_404(queries.live_tokens(request.user), token_key=token_key)
    actions.revoke_token(request.user, token_key=token_key)
    messages.success(request, f"The token {token.name} is revoked.")
    return redirect("me")


# --- people -----------------------------------------------------------------------------------------------------------


@require_safe
def people(request: SignedIn) -> HttpResponse:
    shown = {
        "organisations": queries.everybody(request.user),
        "waiting": [(each, admission.may_confirm(request.user, each)) for each in admission.answerable(request.user)],
        "invitations": queries.open_invitations(request.user),
    }
    return render(request, "accounts/people.html", shown)


@require_safe
def person(request: SignedIn, pk: UUID) -> HttpResponse:
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    return _person_page(request, someone)


def _person_page(request: SignedIn, someone: Person, **bound: Any) -> HttpResponse:
    renewed = _renewed(request, someone)
    shown = {
        "someone": someone,
        "grants": someone.grants.order_by("-begun_at"),
        "qualifications": queries.papers_of(someone),
        "may_qualify": True,
        "give": forms.GiveRole(by=request.user),
        "factors": Authenticator.objects.filter(user=someone).exists(),
        "renewed": renewed,
        "qualification": forms.NewQualification(
            paper=renewed, initial={"scheme": renewed.scheme_id, "level": renewed.level} if renewed else {}
        ),
        **bound,
    }
    return render(request, "accounts/person.html", shown, status=422 if bound else 200)


@require_POST
@step_up
def role_give(request: SignedIn, pk: UUID) -> HttpResponse:
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    form = forms.GiveRole(request.POST, by=request.user)
    if not carried_out(form, lambda values: actions.give_role(request.user, person=someone, **values)):
        return _person_page(request, someone, give=form)
    messages.success(request, f"{someone.name} has one more role.")
    return redirect("person", pk=pk)


@page
@step_up
def role_end(request: SignedIn, pk: UUID, role: str) -> HttpResponse:
    """Asks once, with what the person still holds; a POST ends the role."""
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    if request.method != "POST":
        grant = get_object_or_404(someone.grants, role=role, ended_at=None)
        label = grant.get_role_display().lower()
        return _ask(
            request, someone, heading="End a role", submit=f"End the role of {label}",
            question=f"{someone.name} is then no longer {label}. What they recorded stays under their name.",
        )  # fmt: skip
    actions.end_role(request.user, person=someone, role=role)
    messages.success(request, f"{someone.name} no longer has that role.")
    return redirect("person", pk=pk)


def _ask(request: SignedIn, someone: Person, *, heading: str, submit: str, question: str) -> HttpResponse:
    shown = {
        "someone": someone, "heading": heading, "submit": submit, "question": question,
        "lead": f"{someone.email}, {someone.organisation}", "held": left_unfinished(request.user, person=someone),
        "held_head": f"{someone.name} still holds:",
    }  # fmt: skip
    return render(request, "accounts/ask.html", shown)


@page
@step_up
def person_deactivate(request: SignedIn, pk: UUID) -> HttpResponse:
    """Asks once, with what the person still holds; a POST closes their access."""
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    if request.method != "POST":
        require(request.user, Role.ADMINISTRATOR, to="close somebody's access")
        return _ask(
            request, someone, heading="Close access", submit=f"Close the access of {someone.name}",
            question=f"{someone.name} can then no longer sign in; roles, parts in projects, tokens and calendar "
            "links end. What they recorded stays under their name. An invitation to the same address lets them in "
            "again, and gives back nothing of these.",
        )  # fmt: skip
    actions.deactivate(request.user, person=someone)
    messages.success(request, f"The access of {someone.name} is closed.")
    return redirect("people")


@require_POST
def qualification_new(request: SignedIn, pk: UUID) -> HttpResponse:
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    form = forms.NewQualification(request.POST)
    if not carried_out(form, lambda values: qualifying.add_qualification(request.user, person=someone, **values)):
        return _person_page(request, someone, qualification=form)
    messages.success(request, "The qualification is recorded.")
    return redirect("person", pk=pk)


def _renewed(request: SignedIn, someone: Person) -> Qualification | None:
    """The paper that `?renew=` names, whose scheme and level the new one takes over; unknown ones are none."""
    try:
        wanted = UUID(request.GET.get("renew", ""))
    except ValueError:
        return None
    return queries.papers_of(someone).filter(pk=wanted).first()


def _paper(request: SignedIn, pk: UUID) -> Qualification:
    queries.require_manager(request.user)
    return get_object_or_404(Qualification.objects.select_related("person", "scheme"), pk=pk)


@page
def qualification_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    paper = _paper(request, pk)
    form = forms.CorrectQualification(sent(request), paper=paper)

    def act(values: dict[str, Any]) -> None:
        qualifying.correct_qualification(request.user, qualification=paper, **values)

    return _of_paper(request, paper, form, act, f"Correct {paper} of {paper.person}", "Correct it", "corrected")


@page
def qualification_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    paper = _paper(request, pk)
    form = forms.WithdrawQualification(sent(request))

    def act(values: dict[str, Any]) -> None:
        qualifying.withdraw_qualification(request.user, qualification=paper, **values)

    return _of_paper(request, paper, form, act, f"Withdraw {paper} of {paper.person}", "Withdraw it", "withdrawn")


def _of_paper(
    request: SignedIn, paper: Qualification, form: Form, act: Callable[..., Any], heading: str, submit: str, done: str
) -> HttpResponse:
    if carried_out(form, act):
        messages.success(request, f"The qualification is {done}.")
        return redirect("person", pk=paper.person_id)
    shown = {"form": form, "heading": heading, "submit": submit, "paper": paper, "someone": paper.person}
    return render(request, "accounts/qualification.html", shown, status=status_of(form))


@page
def schemes(request: SignedIn) -> HttpResponse:
    """The company's list of schemes, and one more."""
    queries.require_manager(request.user)
    form = forms.NewScheme(sent(request))
    if carried_out(form, lambda values: qualifying.add_scheme(request.user, **values)):
        messages.success(request, f"{form.cleaned_data['name']} stands on the list.")
        return redirect("schemes")
    shown = {"form": form, "schemes": queries.schemes_with_papers()}
    return render(request, "accounts/schemes.html", shown, status=status_of(form))


@page
def scheme(request: SignedIn, pk: UUID) -> HttpResponse:
    queries.require_manager(request.user)
    found = get_object_or_404(Scheme, pk=pk)
    initial = {"name": found.name, "retired": found.retired_at is not None}
    form = forms.ChangeScheme(sent(request), initial=initial)
    if carried_out(form, lambda values: qualifying.change_scheme(request.user, scheme=found, **values)):
        messages.success(request, "The scheme is changed.")
        return redirect("schemes")
    return render(request, "accounts/scheme.html", {"form": form, "scheme": found}, status=status_of(form))


@page
@step_up
def invite(request: SignedIn) -> HttpResponse:
    queries.require_manager(request.user)
    form = forms.Invite(sent(request), by=request.user)
    if carried_out(form, lambda values: actions.invite(request.user, **values)):
        messages.success(request, f"{form.cleaned_data['name']} is invited by mail; the link is good for seven days.")
        tell_alike(request, [form.cleaned_data["email"]], Person.objects.values_list("email", flat=True))
        tell_alike(request, [form.cleaned_data["name"]], Person.objects.values_list("name", flat=True))
        return redirect("people")
    return render(request, "accounts/invite.html", {"form": form}, status=status_of(form))


@require_POST
def invitation_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    invitation = get_object_or_404(queries.open_invitations(request.user), pk=pk)
    actions.withdraw_invitation(request.user, invitation=invitation)
    messages.success(request, f"The invitation to {invitation.email} is withdrawn.")
    return redirect("people")


@page
def organisation_new(request: SignedIn) -> HttpResponse:
    queries.require_manager(request.user)
    form = forms.NewOrganisation(sent(request))
    if carried_out(form, lambda values: actions.add_organisation(request.user, **values)):
        messages.success(request, f"{form.cleaned_data['name']} is added.")
        tell_alike(request, [form.cleaned_data["name"]], Organisation.objects.values_list("name", flat=True))
        return redirect("people")
    return render(request, "accounts/organisation_new.html", {"form": form}, status=status_of(form))


@page
def organisation_rename(request: SignedIn, pk: UUID) -> HttpResponse:
    queries.require_manager(request.user)
    return _rename(request, get_object_or_404(Organisation, pk=pk), reverse("people"))


@page
def person_rename(request: SignedIn, pk: UUID) -> HttpResponse:
    someone = get_object_or_404(queries.manageable(request.user), pk=pk)
    return _rename(request, someone, reverse("person", args=[pk]))


def _rename(request: SignedIn, whom: Person | Organisation, to: str) -> HttpResponse:
    form = forms.Rename(sent(request), initial={"name": whom.name})
    if carried_out(form, lambda values: actions.rename(request.user, whom=whom, **values)):
        messages.success(request, "The name is changed; what was recorded before keeps the former one.")
        others = type(whom)._default_manager.exclude(pk=whom.pk)
        tell_alike(request, [form.cleaned_data["name"]], others.values_list("name", flat=True))
        return redirect(to)
    shown = {"form": form, "whom": whom, "back": to}
    return render(request, "accounts/rename.html", shown, status=status_of(form))
