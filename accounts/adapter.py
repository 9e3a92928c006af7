"""How the sign-in library is fitted to the house: closed sign-up, our words, our outbox, our journal."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from accounts import actions, devices, guessing, journal, post
from accounts.middleware import UNSENT
from accounts.models import Guesses, Person
from accounts.stepping import signed_in_lately
from inspection.foundation.ids import new_id

# The ways to show again that it is still the same person.
AGAIN_BY = {
    "reauthenticate": "Use your password",
    "mfa_reauthenticate": "Use a code",
    "mfa_reauthenticate:webauthn": "Use a passkey",
}


class ClosedSignUp(DefaultAccountAdapter):
    """People come in by invitation only."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": "The e-mail address or the password is not right.",
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def add_message(self, *args: Any, **kwargs: Any) -> None:
        """Where somebody lands says enough; the library's own notices are not shown."""

    def post_login(self, request: HttpRequest, user: Person, **told: Any) -> HttpResponse:
        if UNSENT in request.GET:
            messages.warning(
                request,
                "You had been signed out, so what you typed before was not sent and nothing was stored. "
                "Type it again here and send it.",
            )
        response: HttpResponse = super().post_login(request, user, **told)
        return response

    def is_reauthentication_required(self, *, app: str, **told: Any) -> bool:
        """Who has just signed in has shown who they are."""
        return not signed_in_lately(self.request)

    def get_reauthentication_methods(self, user: Any) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = super().get_reauthentication_methods(user)
        return [{**way, "description": AGAIN_BY.get(way["id"], way["description"])} for way in found]

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """By the outbox, so that a mail server that is down fails no page."""
        letter = self.render_mail(template_prefix, email, context)
        with transaction.atomic():
            post.write("password_reset", str(new_id()), to=email, subject=letter.subject, body=letter.body)
            journal.record("person.reset_asked", context["user"], by=None)

    def get_reset_password_from_key_url(self, key: str) -> str:
        # Not from the request's Host header, which a stranger can choose.
        path = reverse("account_reset_password_from_key", kwargs={"uidb36": "UID", "key": "KEY"})
        return f"{settings.SITE_URL}{path.replace('UID-KEY', key)}"

    def set_password(self, user: Person, password: str) -> None:
        """By a mailed link; whoever holds the mailbox is no stranger, so this device is slowed down by nobody else."""
        actions.reset_password(user, password=password)
        guessing.forget(guessing.at_sign_in(user.email), guessing.password_of(user))
        self.request.known_as = user

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """The try is counted before the password is looked at."""
        self._doors = self._doors_tried(request, credentials.get("email", ""))
        pause = guessing.take(*self._doors)
        if pause is not None:
            raise ValidationError(
                f"Too many wrong passwords. Wait {guessing.in_words(pause)} and sign in again, or set a new password.",
                code="too_many_login_attempts",
            )

    def _doors_tried(self, request: HttpRequest, login: str) -> list[guessing.Door]:
        device = devices.device_of(request, login)
        if device:
            return [guessing.on_device(device, login)]
        return [guessing.at_sign_in(login), guessing.from_address(self.get_client_ip(request))]

    def authenticate(self, request: HttpRequest, **credentials: Any) -> Person | None:
        person: Person | None = super().authenticate(request, **credentials)
        if person is not None:
            guessing.forget(self._doors[0])
            for door in self._doors[1:]:
                # A good sign-in of one's own must not buy more guesses at others'.
                guessing.give_back(door)
        return person

    @transaction.atomic
    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """What was typed may be a password in the wrong field or a stranger's address, so it is not kept."""
        person = Person.objects.filter(email__iexact=credentials.get("email", "")).first()
        if person is not None:
            journal.record("sign_in.failed", person, by=None)
        else:
            journal.record("sign_in.failed", Guesses(key=self._doors[0].key), by=None)

    def logout(self, request: HttpRequest) -> None:
        person = request.user
        super().logout(request)
        if isinstance(person, Person):
            with transaction.atomic():
                journal.record("sign_out.done", person, by=person)
