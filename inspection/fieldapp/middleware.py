"""What the field app on a phone must know of signing in and out there, said by cookies that its script reads.

Signing out on purpose locks it, there or from elsewhere; a session that merely ends does not.
"""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from accounts import sessions
from accounts.models import Person

# A cookie of this name is taken from this host alone, by TLS alone (RFC 6265bis).
PREFIX = "" if settings.PLAIN_HTTP else "__Host-"
# Read by the app's script, which locks what that person keeps on the phone, and takes the mark away once it has.
SIGNED_OUT = f"{PREFIX}field_signed_out"
# Whose the phone is since the last sign-in: where the office cannot be heard nobody else's work is shown there.
SIGNED_IN = f"{PREFIX}field_person"
LASTS_S = 365 * 24 * 3600


class LockFieldApp:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        person = getattr(request, "signing_out", None)
        # Of a phone that was lost: said with the answer that takes its key away, whatever it asked for.
        if person is None and response.status_code < 500 and request.session.accessed:
            person = sessions.ended_for(request)
        if person:
            told = f"{request.COOKIES.get(SIGNED_OUT, '')}.{person}".strip(".").split(".")[-12:]
            response.set_cookie(
                SIGNED_OUT, ".".join(dict.fromkeys(told)), max_age=LASTS_S, secure=not settings.PLAIN_HTTP,
                samesite="Lax",
            )  # fmt: skip
        if someone := getattr(request, "known_as", None):
            response.set_cookie(
                SIGNED_IN, str(someone.pk), max_age=LASTS_S, secure=not settings.PLAIN_HTTP, samesite="Lax"
            )
        return response

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> None:
        match = request.resolver_match
        if match and match.url_name == "account_logout" and request.method == "POST":
            user = request.user
            request.signing_out = str(user.pk) if isinstance(user, Person) else ""  # type: ignore[attr-defined]  # read above
