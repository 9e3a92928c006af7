"""The answers when no view could give one: a page in our words, or problem+json below /api/."""

from __future__ import annotations

from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse
from django.shortcuts import render
from django.template import loader

from accounts.problems import CATALOGUE, MEDIA_TYPE, body_of
from accounts.ways import page_above

# Path prefixes that do their own authentication and answer problem+json.
OWN_AUTHENTICATION = ("/api/",)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 413 if isinstance(exception, RequestDataTooBig) else 400)


def denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 404)


def failed(request: HttpRequest) -> HttpResponse:
    if is_api(request):
        return _answer(request, 500)
    # Drawn without the request: whatever failed may be needed to know who is signed in.
    return HttpResponse(loader.get_template("500.html").render(), status=500)


def wrong_method(request: HttpRequest, refused: HttpResponseNotAllowed) -> HttpResponse:
    """In place of the empty answer of a view that does not take the method, with the way to what can be looked at."""
    answer = _answer(request, 405, way=page_above(request.path_info))
    answer["Allow"] = refused["Allow"]
    return answer


def _answer(request: HttpRequest, status: int, **shown: str) -> HttpResponse:
    if is_api(request):
        body = body_of(status, detail=CATALOGUE[status].advice)
        return JsonResponse(body, status=status, content_type=MEDIA_TYPE)
    return render(request, f"{status}.html", shown, status=status)


def is_api(request: HttpRequest) -> bool:
    return request.path.startswith(OWN_AUTHENTICATION)
