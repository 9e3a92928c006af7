"""Signed-in sessions: when they end by themselves, and where else somebody is signed in."""

from __future__ import annotations

import time
from datetime import timedelta

from allauth.usersessions.models import UserSession
from django.contrib.auth import logout
from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from accounts.stepping import SIGNED_IN_AT
from inspection.foundation.refusals import Conflict

SEEN_AT = "seen_at"
LONGEST = timedelta(days=14)
IDLE = timedelta(hours=12)
# Where somebody asked to stay signed in on the device.
IDLE_STAYING = timedelta(days=3)
# How exactly it is noted when a session was last used; each note is a write.
NOTED_EVERY = timedelta(minutes=5)


def end_if_over(request: HttpRequest) -> None:
    """Sign out a session that is too old, or was left alone for too long."""
    session, now = request.session, time.time()
    began = session.get(SIGNED_IN_AT)
    if began is None:
        return
    unused = now - session.get(SEEN_AT, began)
    idle = IDLE if session.get_expire_at_browser_close() else IDLE_STAYING
    if now - began > LONGEST.total_seconds() or unused > idle.total_seconds():
        logout(request)
    elif unused > NOTED_EVERY.total_seconds():
        session[SEEN_AT] = now
        UserSession.objects.filter(session_key=session.session_key).update(last_seen_at=timezone.now())


def sessions_of(person: Person) -> list[UserSession]:
    """Where the person is signed in, the last used first."""
    found: list[UserSession] = UserSession.objects.purge_and_list(person)
    return sorted(found, key=lambda session: session.last_seen_at, reverse=True)


@transaction.atomic
def end_session(by: Person, *, pk: int) -> None:
    """Sign oneself out on another device."""
    found = UserSession.objects.select_for_update().filter(user=by, pk=pk).first()
    if found is None:
        raise Conflict("You are no longer signed in there.")
    found.end()
    journal.record("session.ended", by, by=by)
