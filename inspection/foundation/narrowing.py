"""What the address of a list narrows it to, and which of its pages it asks for."""

from __future__ import annotations

from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest

IDS = {"project", "area"}


def narrowed(request: HttpRequest, *names: str) -> dict[str, str]:
    """What the address narrows a list to; a project and an area must be ids, or they are none."""
    found = {name: request.GET.get(name, "").strip()[:60] for name in ("project", *names)}
    found |= {name: _id_or_none(found[name]) for name in IDS & found.keys()}
    return {name: value for name, value in found.items() if value}


def _id_or_none(value: str) -> str:
    try:
        return str(UUID(value))
    except ValueError:
        return ""


def keeping(**narrow: str) -> str:
    """The narrowing as the start of a query string, for links that keep it."""
    return urlencode(narrow) + "&" if narrow else ""


def page_number(request: HttpRequest) -> int:
    """The page the address asks for; the first for anything that is no page."""
    asked = request.GET.get("page", "")
    return max(int(asked), 1) if asked.isdecimal() and len(asked) < 6 else 1
