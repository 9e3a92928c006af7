"""What the OpenAPI document says besides the views: how a token is sent, and what every fault looks like."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension

from accounts.problems import MEDIA_TYPE

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


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "accounts.api.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "A token made on one's own page or by POST tokens/"}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "accounts.api.BySession"
    name = "cookieAuth"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "apiKey", "in": "cookie", "name": settings.SESSION_COOKIE_NAME}


def with_problems(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """Every operation may answer with a problem."""
    result.setdefault("components", {}).setdefault("schemas", {})["Problem"] = PROBLEM
    answer = {
        "description": "A problem; its status and type tell which",
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    for operations in result["paths"].values():
        for method in METHODS:
            if method in operations:
                operations[method]["responses"].setdefault("default", answer)
    return result
