"""Sign-in, one's own page, people, and the API about oneself."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Any

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.utils import timezone

from accounts.models import ApiToken, Invitation, Letter, Person, Qualification, Role
from tests.cast import DAY, scheme
from tests.sight.rows import ADMIN, CLIENT, CONTRACTOR, EVERYBODY, MANAGER, Row
from tests.sight.world import Place

OPEN = {"to_strangers": 200}
PEOPLE = (MANAGER, ADMIN)
FOUND_OR_HOME = frozenset({200, 302})


def somebody(place: Place) -> dict[str, Any]:
    return {"pk": place.cast.igor.pk}


def an_invitation(place: Place) -> Invitation:
    return Invitation.objects.create(
        email="new@example.com", name="New Person", organisation=place.cast.company, role=Role.INSPECTOR,
        token_digest=hashlib.sha256(b"good").hexdigest(), invited_by=place.cast.admin,
        expires_at=timezone.now() + timedelta(days=7),
    )  # fmt: skip


def invitation(place: Place) -> dict[str, Any]:
    return {"pk": an_invitation(place).pk}


def letter(place: Place) -> dict[str, Any]:
    return {"pk": Letter.objects.create(kind="test", about="1", recipient="new@example.com", attempts=1).pk}


def invitation_link(place: Place) -> dict[str, Any]:
    an_invitation(place)
    return {"token": "good"}


def newcomer(place: Place) -> dict[str, Any]:
    """Somebody who waits to be confirmed for the place's client."""
    someone = Person.objects.create(
        name=f"Newcomer {place.mark}", email="newcomer@example.com", organisation=place.client.organisation
    )
    return {"pk": someone.pk}


NEWCOMER = {"args": newcomer, "allowed": (*PEOPLE, CLIENT), "refusal": 404, "scoped": True, "but": {CONTRACTOR: 404}}


def anothers_token(place: Place) -> dict[str, Any]:
    token, _ = ApiToken.objects.create(place.cast.igor, expiry=timedelta(days=1), name="Igor's")
    return {"token_key": token.token_key}


def anothers_key(place: Place) -> dict[str, Any]:
    return {"key": anothers_token(place)["token_key"]}


def a_paper(place: Place) -> dict[str, Any]:
    paper = Qualification.objects.create(
        person=place.cast.igor, scheme=scheme(), number="CI-1", issued=DAY, expires=DAY + timedelta(days=300)
    )
    return {"pk": paper.pk}


def a_scheme(place: Place) -> dict[str, Any]:
    return {"pk": scheme().pk}


def reset_link(place: Place) -> dict[str, Any]:
    return {"uidb36": "0", "key": "worn-out"}


def a_passkey(place: Place) -> dict[str, Any]:
    """Of somebody else, who is never named by an address of one's own page."""
    row = Authenticator.objects.create(user=place.cast.igor, type=Authenticator.Type.WEBAUTHN, data={"name": "Igor's"})
    return {"pk": row.pk}


def a_session(place: Place) -> dict[str, Any]:
    row = UserSession.objects.create(user=place.cast.igor, ip="192.0.2.7", session_key="another", user_agent="Browser")
    return {"pk": row.pk}


ROWS = [
    # Signing in; somebody who is signed in is led home.
    Row("account_login", allowed=EVERYBODY, answers=FOUND_OR_HOME, **OPEN),
    # The company stands, so there is nothing to found, for nobody.
    Row("found", allowed=(), refusal=404, to_strangers=404),
    Row("found", "POST", allowed=(), refusal=404, to_strangers=404),
    Row("account_login", "POST", allowed=EVERYBODY, **OPEN),
    Row("account_logout", allowed=EVERYBODY, answers=FOUND_OR_HOME, to_strangers=302),
    Row("account_logout", "POST", allowed=EVERYBODY, to_strangers=302),
    Row("account_signup", allowed=EVERYBODY, answers=FOUND_OR_HOME, **OPEN),
    Row("account_signup", "POST", allowed=EVERYBODY, **OPEN),
    Row("account_inactive", allowed=EVERYBODY, **OPEN),
    Row("account_reset_password", allowed=EVERYBODY, **OPEN),
    Row("account_reset_password", "POST", allowed=EVERYBODY, **OPEN),
    Row("account_reset_password_done", allowed=EVERYBODY, **OPEN),
    Row("account_reset_password_from_key", allowed=EVERYBODY, args=reset_link, **OPEN),
    Row("account_reset_password_from_key", "POST", allowed=EVERYBODY, args=reset_link, **OPEN),
    Row("account_reset_password_from_key_done", allowed=EVERYBODY, **OPEN),
    Row("accept_invitation", allowed=EVERYBODY, args=invitation_link, **OPEN),
    Row("accept_invitation", "POST", allowed=EVERYBODY, args=invitation_link, to_strangers=422),
    # One's own page
    Row("me", allowed=EVERYBODY),
    Row("letter_choices", allowed=EVERYBODY),
    Row("letter_choices", "POST", allowed=EVERYBODY),
    Row("account_change_password", allowed=EVERYBODY),
    Row("account_change_password", "POST", allowed=EVERYBODY),
    Row("token_new", allowed=EVERYBODY),
    Row("token_new", "POST", allowed=EVERYBODY),
    Row("token_revoke", "POST", args=anothers_token, allowed=(), refusal=404),
    Row("account_reauthenticate", allowed=EVERYBODY),
    Row("account_reauthenticate", "POST", allowed=EVERYBODY),
    # Without a factor there is none to show again, and the password is asked for.
    Row("mfa_reauthenticate", allowed=EVERYBODY, answers=frozenset({302})),
    Row("mfa_reauthenticate", "POST", allowed=EVERYBODY),
    Row("mfa_reauthenticate_webauthn", allowed=EVERYBODY, answers=frozenset({302})),
    Row("mfa_reauthenticate_webauthn", "POST", allowed=EVERYBODY),
    Row("mfa_authenticate", allowed=EVERYBODY, answers=frozenset({302}), to_strangers=302),
    Row("mfa_authenticate", "POST", allowed=EVERYBODY, to_strangers=302),
    Row("mfa_index", allowed=EVERYBODY),
    Row("mfa_activate_totp", allowed=EVERYBODY),
    Row("mfa_activate_totp", "POST", allowed=EVERYBODY),
    Row("mfa_deactivate_totp", allowed=(), refusal=404),
    Row("mfa_deactivate_totp", "POST", allowed=(), refusal=404),
    Row("mfa_list_webauthn", allowed=EVERYBODY),
    Row("mfa_add_webauthn", allowed=EVERYBODY),
    Row("mfa_add_webauthn", "POST", allowed=EVERYBODY),
    Row("mfa_edit_webauthn", args=a_passkey, allowed=(), refusal=404),
    Row("mfa_edit_webauthn", "POST", args=a_passkey, allowed=(), refusal=404),
    Row("mfa_remove_webauthn", args=a_passkey, allowed=(), refusal=404),
    Row("mfa_remove_webauthn", "POST", args=a_passkey, allowed=(), refusal=404),
    Row("mfa_view_recovery_codes", allowed=(), refusal=404),
    Row("mfa_generate_recovery_codes", allowed=EVERYBODY),
    Row("mfa_generate_recovery_codes", "POST", allowed=EVERYBODY),
    Row("mfa_download_recovery_codes", allowed=(), refusal=404),
    Row("sessions", allowed=EVERYBODY),
    Row("session_end", "POST", args=a_session, allowed=(), refusal=409),
    # People
    Row("factor_rule", allowed=(ADMIN,)),
    Row("factor_rule", "POST", allowed=(ADMIN,)),
    Row("factor_reset", args=somebody, allowed=(ADMIN,)),
    Row("factor_reset", "POST", args=somebody, allowed=(ADMIN,)),
    Row("people", allowed=PEOPLE),
    Row("person", args=somebody, allowed=PEOPLE),
    Row("invite", allowed=PEOPLE),
    Row("invite", "POST", allowed=PEOPLE),
    Row("invitation_withdraw", "POST", args=invitation, allowed=PEOPLE),
    Row("letters", allowed=PEOPLE),
    Row("letter_again", "POST", args=letter, allowed=PEOPLE),
    Row("letter_aside", "POST", args=letter, allowed=PEOPLE),
    Row("person_rename", args=somebody, allowed=PEOPLE),
    Row("person_rename", "POST", args=somebody, allowed=PEOPLE),
    Row("organisation_rename", args=lambda place: {"pk": place.cast.owner.pk}, allowed=PEOPLE),
    Row("organisation_rename", "POST", args=lambda place: {"pk": place.cast.owner.pk}, allowed=PEOPLE),
    Row("organisation_new", allowed=PEOPLE),
    Row("organisation_new", "POST", allowed=PEOPLE),
    Row("role_give", "POST", args=somebody, allowed=PEOPLE),
    Row("role_end", "POST", args=lambda place: {**somebody(place), "role": "inspector"}, allowed=PEOPLE),
    Row("role_end", args=lambda place: {**somebody(place), "role": "inspector"}, allowed=PEOPLE),
    Row("our_people", allowed=EVERYBODY),
    Row("person_confirm", "POST", **NEWCOMER),
    Row("person_turn_away", **NEWCOMER),
    Row("person_turn_away", "POST", **NEWCOMER),
    Row("person_deactivate", args=somebody, allowed=(ADMIN,)),
    Row("person_deactivate", "POST", args=somebody, allowed=(ADMIN,)),
    Row("qualification_new", "POST", args=somebody, allowed=PEOPLE),
    Row("qualification_correct", args=a_paper, allowed=PEOPLE),
    Row("qualification_correct", "POST", args=a_paper, allowed=PEOPLE),
    Row("qualification_withdraw", args=a_paper, allowed=PEOPLE),
    Row("qualification_withdraw", "POST", args=a_paper, allowed=PEOPLE),
    Row("schemes", allowed=PEOPLE),
    Row("schemes", "POST", allowed=PEOPLE),
    Row("scheme", args=a_scheme, allowed=PEOPLE),
    Row("scheme", "POST", args=a_scheme, allowed=PEOPLE),
    # The API about oneself
    Row("api_schema", allowed=EVERYBODY, **OPEN),
    Row("api_problem", allowed=EVERYBODY, args=lambda place: {"kind": "conflict"}, **OPEN),
    Row("api_me", allowed=EVERYBODY),
    Row("api_letter_choices", allowed=EVERYBODY),
    Row("api_letter_choices", "PUT", data=lambda _: {"point_ready": "page"}, allowed=EVERYBODY),
    Row("api_token_list", allowed=EVERYBODY),
    Row("api_token_list", "POST", allowed=EVERYBODY),
    Row("api_token", "DELETE", args=anothers_key, allowed=(), refusal=404),
]
