"""Every page needs a signed-in person unless it is listed as open; every refusal becomes a page in plain words."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import resolve

from accounts.models import Person
from accounts.refusals import Refused

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
        "calendar_feed",
        "healthz",
        "readyz",
    }
)
# Path prefixes that do their own authentication and answer problem+json.
OWN_AUTHENTICATION = ("/api/",)


class SignedIn(HttpRequest):
    """The request that every view gets whose URL name is not in OPEN: somebody is signed in."""

    user: Person  # type: ignore[assignment]


class SignInRequired:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # No proxy keeps what one person was shown, and the next person at a shared device is asked to sign in.
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponse | None:
        if request.user.is_authenticated or request.path.startswith(OWN_AUTHENTICATION):
            return None
        if resolve(request.path_info).url_name in OPEN:
            return None
        return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)


class RefusalsAsPages:
    """A Refused that no view caught, shown as a page with its sentence and its status."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        return render(request, "accounts/refused.html", {"refusal": exception}, status=exception.status)
