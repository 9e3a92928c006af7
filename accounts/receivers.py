"""What is noted when somebody has signed in, by whichever door."""

from __future__ import annotations

from typing import Any

from allauth.account.signals import user_logged_in as signed_in_by_password
from django.contrib.auth.signals import user_logged_in
from django.db import transaction
from django.dispatch import receiver
from django.http import HttpRequest

from accounts import journal
from accounts.models import Person


@receiver(user_logged_in, dispatch_uid="accounts.remember_device")
def remember_device(sender: Any, request: HttpRequest, user: Person, **told: Any) -> None:
    """The middleware writes the cookie, as only an answer can carry one."""
    request.known_as = user  # type: ignore[attr-defined]


@receiver(signed_in_by_password, dispatch_uid="accounts.journal_sign_in")
@transaction.atomic
def journal_sign_in(sender: Any, user: Person, **told: Any) -> None:
    journal.record("sign_in.done", user, by=user)
