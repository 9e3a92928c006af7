"""What tests of the kinds after paint share: an instrument in date, a record by action, form and API."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from django.test import Client
from django.urls import reverse

from inspection.fieldwork.tested import AsTested
from inspection.foundation.ids import new_id
from inspection.instruments.models import Certificate, CertifiedValue, Gauge
from tests.cast import MORNING, Cast


def instrument(cast: Cast, kind: Gauge.Kind, identity: str) -> Gauge:
    """One of the company's with a certificate of this year."""
    gauge = Gauge.objects.create(identity=identity, kind=kind)
    paper = Certificate.objects.create(
        number=f"P-{identity}", laboratory="Laboratory", issued=date(2026, 1, 1), expires=date(2026, 12, 31),
        traceable_to="the national institute", recorded_by=cast.quinn,
    )  # fmt: skip
    CertifiedValue.objects.create(certificate=paper, gauge=gauge)
    return gauge


def stored(cast: Cast, kind: AsTested, observed: dict[str, Any], **more: Any) -> Any:
    """The record of a test after the first coat of the first area."""
    after = {"project": cast.site.project, "area": cast.site.area, "coat": cast.site.coats[0]}
    return kind.record(cast.ines, **{"id": new_id(), "taken_at": MORNING, **after, **observed, **more})[0]


def typed(cast: Cast, **changes: Any) -> dict[str, Any]:
    """The head of the form of such a test."""
    return {
        "id": str(new_id()), "area": str(cast.site.area.pk), "coat": str(cast.site.coats[0].pk),
        "taken_at": f"{MORNING:%Y-%m-%dT%H:%M}", **changes,
    }  # fmt: skip


def sent(cast: Cast, **changes: Any) -> dict[str, Any]:
    """The same for the API."""
    return typed(cast, taken_at=MORNING.isoformat(), project=str(cast.site.project.pk), **changes)


def post(client: Client, kind: str, body: dict[str, Any]) -> Any:
    return client.post(reverse(f"api_{kind}_list"), json.dumps(body), content_type="application/json")
