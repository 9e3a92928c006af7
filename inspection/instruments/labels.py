"""Labels for gauges and standards: a QR code that leads to the thing's page, and its company number to read."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from django.conf import settings
from django.urls import reverse

from accounts.queries import company_name
from inspection.foundation.labels import Label, Sheet, sheets_pdf
from inspection.instruments.models import Gauge, ReferenceStandard


def address_of(thing: Gauge | ReferenceStandard) -> str:
    """What the code holds: the address that leads to the thing wherever its page lies."""
    path = reverse("equipment_by_identity", args=["x"]).removesuffix("x")
    return f"{settings.SITE_URL}{path}{quote(thing.identity, safe='')}"


def labels_pdf(things: Sequence[Gauge | ReferenceStandard], *, sheet: Sheet, start: int = 1) -> bytes:
    """Sheets of labels, beginning at place `start` (from 1) of the first sheet."""
    company = company_name()
    labels = [
        Label(address_of(thing), thing.identity, tuple(filter(None, (*_about(thing), company)))) for thing in things
    ]
    return sheets_pdf(labels, sheet=sheet, start=start)


def _about(thing: Gauge | ReferenceStandard) -> tuple[str, ...]:
    if isinstance(thing, Gauge):
        return (thing.get_kind_display(), f"serial {thing.serial}" if thing.serial else "")
    return (thing.get_kind_display().split(",")[0], f"{thing.sold_as} nominal" if thing.sold_as else "")
