"""The answers when no view could give one: a page in our words, or problem+json below /api/."""

from __future__ import annotations

from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template import loader

from accounts.middleware import OWN_AUTHENTICATION
from accounts.problems import CATALOGUE, MEDIA_TYPE, body_of


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 413 if isinstance(exception, RequestDataTooBig) else 400)


def denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, 404)


def failed(request: HttpRequest) -> HttpResponse:
    if _is_api(request):
        return _answer(request, 500)
    # Drawn without the request: whatever failed may be needed to know who is signed in.
    return HttpResponse(loader.get_template("500.html").render(), status=500)


def _answer(request: HttpRequest, status: int) -> HttpResponse:
    if _is_api(request):
        body = body_of(status, detail=CATALOGUE[status].advice)
        return JsonResponse(body, status=status, content_type=MEDIA_TYPE)
    return render(request, f"{status}.html", status=status)


def _is_api(request: HttpRequest) -> bool:
    return request.path.startswith(OWN_AUTHENTICATION)
