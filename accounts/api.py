"""What the API of every room shares: sign-in by token, reading JSON, refusing unknown fields, paging."""

from __future__ import annotations

import json
from typing import Any, cast

from django.conf import settings
from knox.auth import TokenAuthentication
from rest_framework import exceptions, serializers, status
from rest_framework.authentication import SessionAuthentication
from rest_framework.metadata import BaseMetadata
from rest_framework.pagination import CursorPagination
from rest_framework.parsers import BaseParser
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

from accounts.models import Person


def person_of(request: Request) -> Person:
    """Who the request is signed in as; every API view of ours needs somebody."""
    return cast("Person", request.user)


class ByToken(TokenAuthentication):
    """`Authorization: Bearer sc_…`; expired and revoked tokens are refused with 401."""

    def authenticate_credentials(self, token: bytes) -> Any:
        try:
            return super().authenticate_credentials(token)
        except UnicodeDecodeError:
            raise exceptions.AuthenticationFailed("Invalid token.") from None


class BySession(SessionAuthentication):
    """The session of the pages, and no way round what they ask first."""

    def authenticate(self, request: Request) -> Any:
        found = super().authenticate(request)
        if found and found[0].factor_due:
            raise exceptions.PermissionDenied("Set up your second factor first, on the site.")
        return found


class TooLarge(exceptions.APIException):
    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE

    def __init__(self, most: int) -> None:
        size = f"{most // 1024**2} MB" if most >= 1024**2 else f"{most // 1024} kB"
        super().__init__(f"A request to this address holds at most {size}. Send less at once.")


class Json(BaseParser):
    """JSON in UTF-8 (RFC 8259), read up to `most_bytes` of the view; NaN, lone surrogates and the like refused."""

    media_type = "application/json"
    renderer_class = JSONRenderer

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        most = getattr((parser_context or {}).get("view"), "most_bytes", settings.API_MAX_BYTES)
        raw = stream.read(most + 1)
        if len(raw) > most:
            raise TooLarge(most)
        try:
            data = json.loads(raw.decode("utf-8"), parse_constant=_no_constant)
            if rb"\ud" in raw.lower():
                # Half of a surrogate pair can be written in JSON but not kept in any database.
                json.dumps(data, ensure_ascii=False).encode("utf-8")
        except RecursionError:
            raise exceptions.ParseError("The JSON is nested too deeply.") from None
        except ValueError as fault:
            raise exceptions.ParseError(f"This is not JSON in UTF-8: {fault}"[:300]) from None
        return data


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a JSON number")


class Strict(serializers.Serializer):
    """A serializer that refuses fields it does not know, by name, so that a slip of the pen is not quietly dropped."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            known = {name for name, field in self.fields.items() if not field.read_only}
            unknown = [str(name) for name in data if name not in known]
            if unknown:
                takes = ", ".join(sorted(known))
                raise serializers.ValidationError(
                    dict.fromkeys(unknown, f"There is no such field; this takes {takes}.")
                )
        return super().to_internal_value(data)


class Methods(BaseMetadata):
    """What OPTIONS answers: the methods an address takes. The schema says the rest."""

    def determine_metadata(self, request: Request, view: Any) -> dict[str, list[str]]:
        return {"methods": view.allowed_methods}


class NewestFirst(CursorPagination):
    """Pages by cursor, newest first; ids are time-ordered (RFC 9562 version 7)."""

    page_size = 50
    max_page_size = 500
    page_size_query_param = "page_size"
    ordering: str | tuple[str, ...] = "-pk"
