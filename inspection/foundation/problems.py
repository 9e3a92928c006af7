"""API errors as problem+json (RFC 9457), from one catalogue of types. Each type has a page that explains it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from inspection.foundation.refusals import OutOfService, Refused

MEDIA_TYPE = "application/problem+json"
# A database that was started again, or a disk on which room was made, is back within this.
RETRY_AFTER_S = 30


@dataclass(frozen=True)
class Kind:
    """A type of problem: its name in the address, its title, and what the sender should do."""

    name: str
    title: str
    advice: str


CATALOGUE = {
    400: Kind(
        "malformed", "The request could not be read", "Send one JSON document in UTF-8, as the schema describes."
    ),
    401: Kind(
        "not-signed-in",
        "Sign in or send a valid token",
        "Send the header “Authorization: Bearer” with a token that has not expired. Make one on your own page.",
    ),
    403: Kind("not-allowed", "You may not do this", "Your roles do not allow it. Ask an administrator for the role."),
    404: Kind(
        "not-found",
        "There is no such thing, or it is not yours to see",
        "Check the id. Things of other projects answer as if they were not there.",
    ),
    405: Kind("method", "This address does not take that method", "The header “Allow” lists the methods it takes."),
    406: Kind("not-acceptable", "This address cannot answer in that form", "Accept application/json."),
    409: Kind(
        "conflict",
        "This has changed since you looked",
        "Read it again, then decide. A used id with other content also answers so: make a new id.",
    ),
    413: Kind("too-large", "The request is too large", "Send fewer records in one request."),
    415: Kind("media-type", "Send application/json", "Set the header “Content-Type: application/json”."),
    422: Kind(
        "refused",
        "This cannot be done as sent",
        "Each entry of “errors” names the field, the row where there are rows, and what would be right. "
        "Nothing was stored.",
    ),
    428: Kind(
        "to-confirm",
        "Is this right? It is not stored yet",
        "Each entry of “errors” asks about something doubtful. If all of it is right, send the same again with "
        "“confirmed” true: it is then stored as it is.",
    ),
    429: Kind("too-many", "Too many requests; wait and send again", "Wait as long as “Retry-After” says."),
    503: Kind(
        "out-of-service",
        "A part of the platform is out of service",
        "Wait as long as “Retry-After” says, then send the same again; sending again is safe.",
    ),
    500: Kind("fault", "The fault is ours", "Send the same again later; sending again is safe."),
}


def as_problem(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: every error in one shape, `errors` listing field, row and message."""
    if isinstance(exc, Refused):
        set_rollback()
        errors = [{"field": f.field, "row": f.row, "message": f.message} for f in exc.faults]
        answer = problem(exc.status, detail=str(exc), errors=errors)
        if isinstance(exc, OutOfService):
            answer["Retry-After"] = str(RETRY_AFTER_S)
        return answer
    if isinstance(exc, RequestDataTooBig):
        return problem(413, detail=str(exc))
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
    return Response(body_of(status, detail=detail, errors=errors), status=status, content_type=MEDIA_TYPE)


def body_of(status: int, *, detail: str, errors: list[dict[str, Any]] | None = None) -> dict[str, Any]:
    """The members of a problem document (RFC 9457, section 3)."""
    kind = CATALOGUE.get(status, CATALOGUE[500])
    body: dict[str, Any] = {
        "type": f"/api/problems/{kind.name}/",
        "title": kind.title,
        "status": status,
        "detail": detail,
    }
    if errors:
        body["errors"] = errors
    return body


def _faults(detail: Any, field: str = "") -> Iterator[dict[str, Any]]:
    if isinstance(detail, dict):
        for name, inner in detail.items():
            place = f"{field}[{name}]" if isinstance(name, int) else f"{field}.{name}" if field else str(name)
            yield from _faults(inner, place)
    elif isinstance(detail, list):
        for index, inner in enumerate(detail):
            yield from _faults(inner, f"{field}[{index}]" if isinstance(inner, dict | list) and inner else field)
    else:
        yield {"field": field, "row": None, "message": str(detail)}
