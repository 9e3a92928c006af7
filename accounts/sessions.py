"""Signed-in sessions: when they end by themselves, where else somebody is signed in, and ending that."""

from __future__ import annotations

import time
from datetime import timedelta
from importlib import import_module
from typing import Any

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout
from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac

from accounts import journal
from accounts.models import Person
from accounts.stepping import SIGNED_IN_AT
from inspection.foundation.refusals import Conflict

SEEN_AT = "seen_at"
# In what is left of a session that its person ended from elsewhere: who that was.
ENDED_FOR = "ended_for"
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
    """Sign oneself out on another device, which is told so when it is heard of next."""
    found = UserSession.objects.select_for_update().filter(user=by, pk=pk).first()
    if found is None:
        raise Conflict("You are no longer signed in there.")
    found.end()
    # Whose was ended here, for as long as the device may send its key. Not under the key itself: a request under way
    # there would write what it had read, signed in, over it as it ends.
    left = _left_of(found.session_key)
    # Kept before anything is put into it: one that is not there loses its key when it is read.
    left.save(must_create=True)
    left[ENDED_FOR] = str(by.pk)
    left.save()
    journal.record("session.ended", by, by=by)


def ended_for(request: HttpRequest) -> str:
    """Whose sign-in on this device they ended from elsewhere; empty where nobody did, or somebody is signed in now."""
    key = request.COOKIES.get(settings.SESSION_COOKIE_NAME)
    if not key or SESSION_KEY in request.session:
        return ""
    return str(_left_of(key).get(ENDED_FOR, ""))


def _left_of(key: str) -> Any:
    """What is left of the session of that key; found by whoever has the key, and nobody is signed in by it."""
    derived = salted_hmac("accounts.sessions.left", key).hexdigest()[:40]
    return import_module(settings.SESSION_ENGINE).SessionStore(session_key=derived)
