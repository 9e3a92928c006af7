"""API errors as problem+json (RFC 9457), from one catalogue of types."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from accounts.refusals import Refused

CATALOGUE = {
    400: ("malformed", "The request could not be read"),
    401: ("not-signed-in", "Sign in or send a valid token"),
    403: ("not-allowed", "You may not do this"),
    404: ("not-found", "There is no such thing, or it is not yours to see"),
    405: ("method", "This address does not take that method"),
    406: ("not-acceptable", "This address cannot answer in that form"),
    409: ("conflict", "This has changed since you looked"),
    413: ("too-large", "The request is too large"),
    415: ("media-type", "Send application/json"),
    422: ("refused", "This cannot be done as sent"),
    429: ("too-many", "Too many requests; wait and send again"),
}


def as_problem(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: every error in one shape, `errors` listing field, row and message."""
    if isinstance(exc, Refused):
        set_rollback()
        errors = [{"field": f.field, "row": f.row, "message": f.message} for f in exc.faults]
        return problem(exc.status, detail=str(exc), errors=errors)
    if isinstance(exc, Http404 | PermissionDenied):
        exc = exceptions.NotFound() if isinstance(exc, Http404) else exceptions.PermissionDenied()
    response = exception_handler(exc, context)
    if response is None:
        return None
    if isinstance(exc, exceptions.ValidationError):
        answer = problem(422, detail="Some fields are not right.", errors=list(_faults(exc.detail)))
    else:
        answer = problem(response.status_code, detail=str(getattr(exc, "detail", exc)))
    for header, value in response.items():
        if header.lower() != "content-type":
            answer[header] = value
    return answer


def problem(status: int, *, detail: str, errors: list[dict[str, Any]] | None = None) -> Response:
    kind, title = CATALOGUE.get(status, ("error", "The request failed"))
    body = {"type": f"/api/problems/{kind}", "title": title, "status": status, "detail": detail}
    if errors:
        body["errors"] = errors
    return Response(body, status=status, content_type="application/problem+json")


def _faults(detail: Any, field: str = "") -> Any:
    if isinstance(detail, dict):
        for name, inner in detail.items():
            yield from _faults(inner, f"{field}.{name}" if field else str(name))
    elif isinstance(detail, list):
        for index, inner in enumerate(detail):
            yield from _faults(inner, f"{field}[{index}]" if isinstance(inner, dict | list) and inner else field)
    else:
        yield {"field": field, "row": None, "message": str(detail)}
