"""Every page needs a signed-in person unless it is listed as open; every refusal becomes a page in plain words."""

from __future__ import annotations

from collections.abc import Callable

import structlog
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render, resolve_url
from django.urls import resolve

from accounts import devices, errors, sessions
from accounts.masking import is_secret
from accounts.models import Person
from accounts.narrow import refuse_if_closed
from accounts.ways import OPEN, WITHOUT_FACTOR, after_sign_in
from inspection.foundation.problems import RETRY_AFTER_S
from inspection.foundation.refusals import NotAllowed, OutOfService, Refused

log = structlog.get_logger(__name__)
REFUSED = {401: "not signed in", 403: "not allowed", 404: "not there, or not theirs to see", 429: "too often"}
# In the address of the sign-in page: what somebody had typed was not sent.
UNSENT = "unsent"


class SignedIn(HttpRequest):
    """The request that every view gets whose URL name is not in OPEN: somebody is signed in."""

    user: Person
    # Somebody has just shown on this device who they are.
    known_as: Person


class SignInRequired:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        _log_if_refused(request, response)
        # Neither a proxy nor the device keeps what one person was shown.
        response.headers.setdefault("Cache-Control", "private, no-store")
        if is_secret(request.path_info):
            # The address is the key, and no other is told it. Not by "no-referrer": forms lose their origin by that.
            response["Referrer-Policy"] = "strict-origin"
        if someone := getattr(request, "known_as", None):
            devices.remember(request, response, someone)
            if request.user.is_authenticated:
                UserSession.objects.create_from_request(request)
        return response

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponse | None:
        # Asked first: whoever is signed in is known to the database, and a probe must answer without it.
        name = resolve(request.path_info).url_name
        if name in OPEN:
            return None
        sessions.end_if_over(request)
        if errors.is_api(request):
            return None
        if isinstance(request.user, Person):
            structlog.contextvars.bind_contextvars(user_id=str(request.user.pk))
            if request.user.factor_due and name not in WITHOUT_FACTOR:
                return redirect("mfa_index")
            try:
                refuse_if_closed(request.user, name)
            except NotAllowed as refusal:
                return _refused(request, refusal)
            return None
        sign_in = resolve_url(settings.LOGIN_URL)
        if request.method not in ("GET", "HEAD"):
            # What was sent is lost with the session; the sign-in page and the page after it say so.
            sign_in += f"?{UNSENT}=1"
        return redirect_to_login(after_sign_in(request), sign_in)


def _log_if_refused(request: HttpRequest, response: HttpResponse) -> None:
    """A line for each deed that somebody had no right to, by the route's name and the thing's id: without a secret."""
    match = getattr(request, "resolver_match", None)
    if match is None or response.status_code not in REFUSED:
        return
    thing, person = match.kwargs.get("pk", ""), getattr(request.user, "pk", None) or ""
    log.warning(
        "refused", why=REFUSED[response.status_code], status=response.status_code, method=request.method,
        route=match.url_name, thing=str(thing), person=str(person),
    )  # fmt: skip


class RefusalsAsPages:
    """A Refused that no view caught, and a method that a view does not take, as a page with sentence and status."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        return errors.wrong_method(request, response) if isinstance(response, HttpResponseNotAllowed) else response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        return _refused(request, exception)


def _refused(request: HttpRequest, refusal: Refused) -> HttpResponse:
    answer = render(request, "accounts/refused.html", {"refusal": refusal}, status=refusal.status)
    if isinstance(refusal, OutOfService):
        answer["Retry-After"] = str(RETRY_AFTER_S)
    return answer
