"""What the API of every room shares: sign-in by token, reading JSON, refusing unknown fields, paging."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import urlsplit

from django.conf import settings
from django.core import signing
from django.http import QueryDict
from knox.auth import TokenAuthentication
from rest_framework import exceptions, serializers, status
from rest_framework.authentication import SessionAuthentication
from rest_framework.metadata import BaseMetadata
from rest_framework.pagination import CursorPagination
from rest_framework.parsers import BaseParser
from rest_framework.permissions import IsAuthenticated
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

from accounts.models import Person
from accounts.narrow import refuse_if_closed
from inspection.foundation.readable import NUL


def person_of(request: Request) -> Person:
    """Who the request is signed in as; every API view of ours needs somebody."""
    return cast("Person", request.user)


class ByToken(TokenAuthentication):
    """`Authorization: Bearer sc_…`; expired and revoked tokens are refused with 401."""

    def authenticate_credentials(self, token: bytes) -> Any:
        if b"\x00" in token:
            raise exceptions.AuthenticationFailed("Invalid token.")
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


class OpenToThem(IsAuthenticated):
    """Somebody is signed in, and the address is one that is open to them."""

    def has_permission(self, request: Request, view: Any) -> bool:
        if not super().has_permission(request, view):
            return False
        match = request.resolver_match
        refuse_if_closed(person_of(request), match.url_name if match else None)
        return True


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
            data = json.loads(
                raw.decode("utf-8"), parse_constant=_no_constant, parse_float=_finite, object_pairs_hook=_each_name_once
            )
            if rb"\ud" in raw.lower():
                # Half of a surrogate pair can be written in JSON but not kept in any database.
                json.dumps(data, ensure_ascii=False).encode("utf-8")
        except RecursionError:
            raise exceptions.ParseError("The JSON is nested too deeply.") from None
        except ValueError as fault:
            raise exceptions.ParseError(f"This is not JSON in UTF-8: {fault}"[:300]) from None
        if rb"\u0000" in raw and (places := list(_with_nul(data, ""))):
            raise serializers.ValidationError(dict.fromkeys(places, "Null characters are not allowed."))
        return data


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a JSON number")


def _finite(text: str) -> float:
    number = float(text)
    if math.isinf(number):
        raise ValueError(f"the number {text[:40]} is too large")
    return number


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"“{twice[:80]}” stands twice in one object, and only one of the two could be kept")
    return read


def _with_nul(data: Any, place: str) -> Iterator[str]:
    """The places in a JSON document at which a text or a name holds NUL."""
    if isinstance(data, str) and NUL in data:
        yield place or "body"
    elif isinstance(data, dict):
        for name, inner in data.items():
            inside = f"{place}.{name}" if place else name
            if NUL in name:
                yield inside.replace(NUL, "")
            yield from _with_nul(inner, inside)
    elif isinstance(data, list):
        for index, inner in enumerate(data):
            yield from _with_nul(inner, f"{place}[{index}]")


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

    def encode_cursor(self, cursor: Any) -> str:
        address, _, query = str(super().encode_cursor(cursor)).rpartition("?")
        asked = QueryDict(query, mutable=True)
        asked[self.cursor_query_param] = self._signer.sign(str(asked[self.cursor_query_param]))
        return f"{address}?{asked.urlencode()}"

    def decode_cursor(self, request: Request) -> Any:
        # The place in it goes into the query as it is: only what this list itself has given out is asked for.
        signed = request.query_params.get(self.cursor_query_param)
        if signed is None:
            return None
        try:
            asked = cast("Request", _Asked({self.cursor_query_param: self._signer.unsign(signed)}))
            return super().decode_cursor(asked)
        except (signing.BadSignature, exceptions.NotFound):
            raise serializers.ValidationError(
                {self.cursor_query_param: "This list gave out no such cursor; begin without one."}
            ) from None

    @property
    def _signer(self) -> signing.Signer:
        return signing.Signer(salt=f"cursor of {urlsplit(str(self.base_url)).path}")


@dataclass(frozen=True)
class _Asked:
    """As much of a request as the library reads a cursor from."""

    query_params: dict[str, str]
