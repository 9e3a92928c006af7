"""The password typed again under a decision: it must be the person's, and may not be guessed at leisure."""

from __future__ import annotations

from django.core.cache import cache

from accounts.models import Person
from accounts.refusals import Refused

WRONG_AT_MOST = 5
WAIT_S = 300


def confirm_password(by: Person, password: str) -> None:
    """Raise Refused unless it is the person's password; after five wrong ones, until five minutes have passed."""
    key = f"signing:{by.pk}"
    if cache.get(key, 0) >= WRONG_AT_MOST:
        raise Refused("The password was wrong five times. Wait five minutes, then try again.", field="password")
    if by.check_password(password):
        cache.delete(key)
        return
    cache.add(key, 0, WAIT_S)
    cache.incr(key)
    raise Refused("That is not your password; nothing was decided.", field="password")
