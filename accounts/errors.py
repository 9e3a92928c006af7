"""The answers when no view could give one: a page in our words, or problem+json below /api/."""

from __future__ import annotations

import sys

from django.core.exceptions import RequestDataTooBig
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse
from django.shortcuts import render
from django.template import loader

from accounts.ways import page_above
from inspection.foundation.problems import CATALOGUE, MEDIA_TYPE, RETRY_AFTER_S, body_of
from inspection.foundation.readable import Unreadable

# The database is away, full or read-only: nothing of what was sent is stored, and the same may be sent again.
OUT_OF_REACH = (OperationalError, InterfaceError)
# Path prefixes that do their own authentication and answer problem+json.
OWN_AUTHENTICATION = ("/api/",)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    if isinstance(exception, Unreadable):
        return _answer(request, 400, reason=str(exception))
    return _answer(request, 413 if isinstance(exception, RequestDataTooBig) else 400)


def denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 404)


def failed(request: HttpRequest) -> HttpResponse:
    """What no view caught: 503 where a part is away and the same may be sent again, else 500."""
    away = isinstance(sys.exc_info()[1], OUT_OF_REACH)
    status = 503 if away else 500
    if is_api(request):
        answer = _answer(request, status)
    else:
        # Drawn without the request: whatever failed may be needed to know who is signed in.
        answer = HttpResponse(loader.get_template(f"{status}.html").render(), status=status)
    if away:
        answer["Retry-After"] = str(RETRY_AFTER_S)
    return answer


def wrong_method(request: HttpRequest, refused: HttpResponseNotAllowed) -> HttpResponse:
    """In place of the empty answer of a view that does not take the method, with the way to what can be looked at."""
    answer = _answer(request, 405, way=page_above(request.path_info))
    answer["Allow"] = refused["Allow"]
    return answer


def _answer(request: HttpRequest, status: int, **shown: str) -> HttpResponse:
    if is_api(request):
        body = body_of(status, detail=shown.get("reason") or CATALOGUE[status].advice)
        return JsonResponse(body, status=status, content_type=MEDIA_TYPE)
    return render(request, f"{status}.html", shown, status=status)


def is_api(request: HttpRequest) -> bool:
    return request.path.startswith(OWN_AUTHENTICATION)
