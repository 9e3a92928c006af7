"""Ways back: from an address that only takes what a form sends to a page that can be looked at."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from urllib.parse import urlsplit

from django.http import HttpRequest
from django.urls import Resolver404, resolve
from django.utils.http import url_has_allowed_host_and_scheme

# Views that answer without sign-in, by URL name.
OPEN = frozenset(
    {
        "account_login",
        "account_logout",
        "account_signup",
        "account_reset_password",
        "account_reset_password_done",
        "account_reset_password_from_key",
        "account_reset_password_from_key_done",
        "account_inactive",
        "accept_invitation",
        "mfa_authenticate",
        "calendar_feed",
        "field-manifest",
        "field-worker",
        "found",
        "healthz",
        "readyz",
    }
)


# What somebody may open who must set up a second factor before anything else.
WITHOUT_FACTOR = frozenset(
    {
        "account_reauthenticate",
        "mfa_activate_totp",
        "mfa_add_webauthn",
        "mfa_index",
        "mfa_reauthenticate",
        "mfa_reauthenticate_webauthn",
    }
)


def after_sign_in(request: HttpRequest) -> str:
    """Where to go on once signed in: the page asked for, or the one on which the form stood that was sent."""
    if request.method in ("GET", "HEAD") and may_be_looked_at(request.path_info):
        return request.get_full_path()
    return _page_of_the_form(request) or page_above(request.path_info)


def _page_of_the_form(request: HttpRequest) -> str:
    told = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(told, {request.get_host()}, require_https=request.is_secure()):
        return ""
    place = urlsplit(told)
    if not may_be_looked_at(place.path):
        return ""
    return f"{place.path}?{place.query}" if place.query else place.path


def page_above(path: str) -> str:
    """The nearest page at or above the path that can be looked at."""
    return next(address for address in _upwards(path) if address == "/" or may_be_looked_at(address))


def _upwards(path: str) -> Iterator[str]:
    parts = path.strip("/").split("/")
    yield path
    for length in range(len(parts) - 1, 0, -1):
        yield f"/{'/'.join(parts[:length])}/"
    yield "/"


def may_be_looked_at(path: str) -> bool:
    """Whether a signed-in person's browser can open the address."""
    try:
        found = resolve(path)
    except Resolver404:
        return False
    return found.url_name not in OPEN and "GET" in methods_of(found.func)


def methods_of(view: object) -> frozenset[str]:
    """The methods a view takes, without running it: those that Django's decorator was given, else all that look."""
    while callable(view):
        if inspect.isfunction(view):
            told = inspect.getclosurevars(view).nonlocals.get("request_method_list")
            if told:
                return frozenset(told)
        view = getattr(view, "__wrapped__", None)
    return frozenset({"GET", "HEAD"})
