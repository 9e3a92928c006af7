"""What the page tests of this room share."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from django.test import Client

from accounts.models import Person
from inspection.instruments import actions
from inspection.instruments.actions import PointSent
from inspection.instruments.models import Verification
from tests.cast import MORNING, Cast


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    """The page's words with single spaces, as a reader meets them."""
    return " ".join(answer.content.decode().split())


def checked(cast: Cast, *, days: int = 0, offset_nm: int = 0, **changed: Any) -> Verification:
    """A check on two shims, so many days after the cast's morning, off by so much."""
    given: dict[str, Any] = {
        "id": uuid4(), "gauge": cast.gauge, "project": cast.site.project, "purpose": "opening", "adjustment": "zero",
        "surface": "smooth", "as_left": True, "taken_at": MORNING + timedelta(days=days),
        "points": [
            PointSent([cast.shims[50]], [50_200 + offset_nm, 50_400 + offset_nm, 50_000 + offset_nm]),
            PointSent([cast.shims[250]], [249_800 + offset_nm, 250_000 + offset_nm, 249_600 + offset_nm]),
        ],
    }  # fmt: skip
    verification, _ = actions.record_verification(cast.ines, **(given | changed))
    return verification


def begin(cast: Cast, **changed: Any) -> dict[str, Any]:
    """What the first two steps of a check put into the address."""
    return {
        "id": UUID("01900000-0000-7000-8000-000000000001"), "gauge": cast.gauge.pk, "project": cast.site.project.pk,
        "purpose": "opening", "as_left": "left", "surface": "smooth", "profile_known": "on", "target": "120",
    } | changed  # fmt: skip
