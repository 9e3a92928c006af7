"""Stepping up: before a deed that reaches far, a signed-in person shows that it is still they.

Signing in, or the password or a factor given again, is good for a while. What was sent meanwhile waits in the session
and is carried out once they have shown it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import wraps
from typing import Any

from allauth.account.internal.flows.reauthentication import is_reauthentication_required
from allauth.core.exceptions import ReauthenticationRequired
from django.conf import settings
from django.http import HttpRequest, HttpResponse

# In the session, in seconds since the epoch.
SIGNED_IN_AT = "signed_in_at"
LOOKS = ("GET", "HEAD")


def signed_in_lately(request: HttpRequest) -> bool:
    at = request.session.get(SIGNED_IN_AT)
    return at is not None and time.time() - at < settings.ACCOUNT_REAUTHENTICATION_TIMEOUT


def shown_lately(request: HttpRequest) -> bool:
    """Whether the person signed in, or showed again that it is they, within the last quarter of an hour."""
    return not is_reauthentication_required(request, app="accounts")


def step_up(view: Callable[..., HttpResponse], *, to_look: bool = False) -> Callable[..., HttpResponse]:
    """A view whose deed asks for it; one that only looks is left alone unless `to_look`."""

    @wraps(view)
    def asked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if (to_look or request.method not in LOOKS) and not shown_lately(request):
            raise ReauthenticationRequired
        return view(request, *args, **kwargs)

    return asked
