"""What the address of a list narrows it to, and which of its pages it asks for."""

from __future__ import annotations

from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest


def narrowed(request: HttpRequest, *names: str) -> dict[str, str]:
    """What the address narrows a list to; a project must be an id, or it is none."""
    found = {name: request.GET.get(name, "").strip()[:60] for name in ("project", *names)}
    try:
        found["project"] = found["project"] and str(UUID(found["project"]))
    except ValueError:
        found["project"] = ""
    return {name: value for name, value in found.items() if value}


def keeping(**narrow: str) -> str:
    """The narrowing as the start of a query string, for links that keep it."""
    return urlencode(narrow) + "&" if narrow else ""


def page_number(request: HttpRequest) -> int:
    """The page the address asks for; the first for anything that is no page."""
    asked = request.GET.get("page", "")
    return max(int(asked), 1) if asked.isdecimal() and len(asked) < 6 else 1
