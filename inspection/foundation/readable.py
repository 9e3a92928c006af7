"""What no page and no address could read: refused at the door with a sentence, before a view asks for it.

PostgreSQL refuses the NUL character in any text, and SQLite keeps it, where it hides what follows from whoever reads it
back. A form names the character set its fields are in, and some that Python knows are none for text at all.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, QueryDict
from django.utils.http import parse_header_parameters

NUL = "\x00"
WITHOUT_NUL = "holds the character NUL (U+0000), which cannot be kept. Leave it out."
FORMS = frozenset({"application/x-www-form-urlencoded", "multipart/form-data"})


class Unreadable(BadRequest):
    """A request that cannot be read, with a sentence that says why."""


class Readable:
    """Refuses NUL in address, query and form, and every set but UTF-8; a cookie that holds NUL is not ours."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        for name in [name for name, value in request.COOKIES.items() if NUL in value]:
            del request.COOKIES[name]
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> None:
        if request.encoding and not _is_utf_8(request.encoding):
            raise Unreadable("Send this in UTF-8; no other character set is read here.")
        if NUL in request.path_info:
            raise Unreadable(f"The address {WITHOUT_NUL}")
        _hold(request.GET)
        if request.content_type in FORMS:
            _hold(request.POST)


def survives_charsets(serve: Callable[..., Any]) -> Callable[..., Any]:
    """The WSGI application, told of every character set but UTF-8 as Latin-1, which reads any bytes.

    Django reads the query in the set that a request names while it still makes the request, and sets such as `hex` end
    it before any middleware. This one gets as far as `Readable`, which refuses it.
    """

    def serve_readable(environ: dict[str, Any], start_response: Any) -> Any:
        kind, said = parse_header_parameters(environ.get("CONTENT_TYPE", ""))
        if "charset" in said and not _is_utf_8(said["charset"]):
            environ["CONTENT_TYPE"] = "; ".join(
                [kind, "charset=latin-1", *(f'{name}="{value}"' for name, value in said.items() if name != "charset")]
            )
        return serve(environ, start_response)

    return serve_readable


def _is_utf_8(charset: str) -> bool:
    try:
        return codecs.lookup(charset).name in {"utf-8", "ascii"}
    except (LookupError, ValueError):
        return False


def _hold(sent: QueryDict) -> None:
    for name, values in sent.lists():
        if NUL in name or any(NUL in value for value in values):
            shown = name.replace(NUL, "")[:40]
            raise Unreadable(f"“{shown}” {WITHOUT_NUL}")
