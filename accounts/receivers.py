"""What is noted when somebody has signed in, and when their second factors or their roles change."""

from __future__ import annotations

import time
from typing import Any

from allauth.account.signals import user_logged_in as signed_in_by_password
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authenticator_added, authenticator_removed, authenticator_reset
from django.contrib.auth.signals import user_logged_in
from django.db import transaction
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from django.http import HttpRequest

from accounts import factors, journal
from accounts.models import Person, RoleGrant
from accounts.stepping import SIGNED_IN_AT

FACTOR_VERBS = (
    (authenticator_added, "factor.added", "A second factor was added"),
    (authenticator_removed, "factor.ended", "A second factor was ended"),
    (authenticator_reset, "factor.renewed", "New recovery codes were made"),
)


@receiver(user_logged_in, dispatch_uid="accounts.note_sign_in")
def note_sign_in(sender: Any, request: HttpRequest, user: Person, **told: Any) -> None:
    """When it was; and the middleware makes the device known, as only an answer can carry a cookie."""
    request.session[SIGNED_IN_AT] = time.time()
    request.known_as = user  # type: ignore[attr-defined]  # a field of ours on the request, see SignedIn


@receiver(signed_in_by_password, dispatch_uid="accounts.journal_sign_in")
@transaction.atomic
def journal_sign_in(sender: Any, user: Person, **told: Any) -> None:
    journal.record("sign_in.done", user, by=user)


@receiver([post_save, post_delete], sender=Authenticator, dispatch_uid="accounts.factor_due")
def follow_factor(sender: Any, instance: Authenticator, **told: Any) -> None:
    factors.settle(Person.objects.filter(pk=instance.user_id))


@receiver(post_save, sender=RoleGrant, dispatch_uid="accounts.factor_due_of_role")
def follow_role(sender: Any, instance: RoleGrant, **told: Any) -> None:
    factors.settle(Person.objects.filter(pk=instance.person_id))


def _journal_factor(verb: str, sentence: str) -> Any:
    @transaction.atomic
    def noted(sender: Any, user: Person, authenticator: Authenticator, **told: Any) -> None:
        kind = factors.KINDS[Authenticator.Type(authenticator.type)]
        entry = journal.record(verb, user, by=user, after={"kind": kind})
        if authenticator.type != Authenticator.Type.RECOVERY_CODES or verb == "factor.renewed":
            factors.tell(user, f"{sentence}: {kind}", str(entry.pk))

    return noted


for signal, verb, sentence in FACTOR_VERBS:
    signal.connect(_journal_factor(verb, sentence), weak=False, dispatch_uid=f"accounts.{verb}")
