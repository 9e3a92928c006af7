"""Devices on which somebody signed in before: a signed cookie, which is no key to anything.

It only says whose sign-in this browser has been good for, so that strangers who guess at a password elsewhere slow down
strangers and not the person (OWASP, "Slow down online guessing attacks with device cookies").
"""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from accounts.models import Person

COOKIE = "device" if settings.PLAIN_HTTP else "__Host-device"
SALT = "accounts.devices"
LASTS_S = 180 * 24 * 3600
# A tablet of the site may pass through many hands; the newest stay known.
PEOPLE = 12


def _told(request: HttpRequest) -> tuple[str, list[str]]:
    try:
        told: Any = signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=LASTS_S)
        return str(told["device"]), [str(person) for person in told["people"]]
    except (signing.BadSignature, TypeError, KeyError):
        return "", []


def device_of(request: HttpRequest, login: str) -> str:
    """The name of the device, where the person of this address has signed in on it; else nothing."""
    device, people = _told(request)
    if not device:
        return ""
    known = Person.objects.filter(email__iexact=login, pk__in=people).exists()
    return device if known else ""


def remember(request: HttpRequest, response: HttpResponse, person: Person) -> None:
    device, people = _told(request)
    mine = str(person.pk)
    kept = [mine, *(other for other in people if other != mine)][:PEOPLE]
    response.set_cookie(
        COOKIE, signing.dumps({"device": device or uuid4().hex, "people": kept}, salt=SALT), max_age=LASTS_S,
        secure=not settings.PLAIN_HTTP, httponly=True, samesite="Lax",
    )  # fmt: skip
