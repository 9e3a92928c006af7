"""How the sign-in library is fitted to the house: closed sign-up, our words, our outbox, our journal."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from accounts import journal, post
from accounts.ids import new_id
from accounts.middleware import UNSENT
from accounts.models import ApiToken, Person


class ClosedSignUp(DefaultAccountAdapter):
    """People come in by invitation only."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": "The e-mail address or the password is not right.",
        "too_many_login_attempts": "Too many wrong passwords. Wait five minutes and sign in again.",
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

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """By the outbox, so that a mail server that is down fails no page."""
        letter = self.render_mail(template_prefix, email, context)
        post.write("password_reset", str(new_id()), to=email, subject=letter.subject, body=letter.body)

    def get_reset_password_from_key_url(self, key: str) -> str:
        # Not from the request's Host header, which a stranger can choose.
        path = reverse("account_reset_password_from_key", kwargs={"uidb36": "UID", "key": "KEY"})
        return f"{settings.SITE_URL}{path.replace('UID-KEY', key)}"

    def set_password(self, user: Person, password: str) -> None:
        """After a reset: whoever had the old password may have made tokens, so those end too."""
        with transaction.atomic():
            user.set_password(password)
            user.save(update_fields=["password"])
            ApiToken.objects.filter(user=user).delete()
            journal.record("person.password_reset", user, by=user)
