"""What the OpenAPI document says besides the views: how a token is sent, and what every fault looks like."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension

from inspection.foundation.problems import CATALOGUE, MEDIA_TYPE

PROBLEM = {
    "type": "object",
    "description": "A problem document (RFC 9457). `type` leads to a page that explains it.",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["field", "row", "message"],
                "properties": {
                    "field": {"type": "string"},
                    "row": {"type": ["integer", "null"], "description": "From 1, where what was sent has rows"},
                    "message": {"type": "string"},
                },
            },
        },
    },
}
METHODS = ("get", "post", "put", "patch", "delete")


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # the library has no types
    target_class = "accounts.api.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "A token made on one's own page or by POST tokens/"}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # the library has no types
    target_class = "accounts.api.BySession"
    name = "cookieAuth"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": settings.SESSION_COOKIE_NAME}


# What any address may answer, and what one may that is sent a document. A fault of ours (500) is promised nowhere.
ALWAYS = (400, 401, 403, 404, 406, 422, 429, 503)
CONFLICT = 409
WITH_BODY = (CONFLICT, 413, 415)
TO_CONFIRM = 428


def with_problems(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """Each operation says every status that it may answer with a problem, so that another one is a breach."""
    schemas = result.setdefault("components", {}).setdefault("schemas", {})
    schemas["Problem"] = PROBLEM
    for operations in result["paths"].values():
        for method in METHODS:
            if method in operations:
                operation = operations[method]
                answers = {str(status): _problem(status) for status in sorted(_statuses(method, operation, schemas))}
                operation["responses"] |= answers
    return result


def _statuses(method: str, operation: dict[str, Any], schemas: dict[str, Any]) -> set[int]:
    if "requestBody" not in operation:
        return {*ALWAYS, *([CONFLICT] if method != "get" else [])}
    may_doubt = "confirmed" in _sent(operation, schemas)
    return {*ALWAYS, *WITH_BODY, *([TO_CONFIRM] if may_doubt else [])}


def _sent(operation: dict[str, Any], schemas: dict[str, Any]) -> list[str]:
    """The names of the fields of the document that an operation is sent."""
    content = operation["requestBody"]["content"].get("application/json", {}).get("schema", {})
    named = schemas.get(content.get("$ref", "").rpartition("/")[2], content)
    return list(named.get("properties", {}))


def _problem(status: int) -> dict[str, Any]:
    return {
        "description": CATALOGUE[status].title,
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
