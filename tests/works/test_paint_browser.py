"""The pages of paint in Chromium, without scripts: nothing that axe finds wrong, and nothing wider than a phone."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from inspection.foundation.ids import new_id
from inspection.projects.models import Coat, DataSheet, DataSheetRow
from inspection.works.paint.batches import extend_batch, quarantine_batch, receive_batch
from inspection.works.paint.mixes import MixSent, record_mix
from inspection.works.paint.reckoning import PartSent
from tests.cast import Cast

pytestmark = pytest.mark.browser


def scene(cast: Cast) -> tuple[Any, Any]:
    """A base in date, an expired hardener that was extended, a base in quarantine, and two mixes, one with doubts."""
    now, by, project = timezone.now(), cast.quinn, cast.site.project
    sheet = DataSheet.objects.create(
        project=project, product="Paint", revision="2026-01", mixing_by_volume="4:1", induction_minutes=15
    )
    DataSheetRow.objects.create(sheet=sheet, temperature_c=20, pot_life_hours=4)
    Coat.objects.filter(pk=cast.site.coats[0].pk).update(data_sheet=sheet)
    common = {"product": "Paint", "unit": "l", "received_at": now - timedelta(days=9), "place": "Store 2"}
    made = []
    for number, component, received in (("K-1", "base", 160), ("H-1", "hardener", 40), ("K-2", "base", 160)):
        made.append(receive_batch(
            by, id=new_id(), project=project, component=component, number=number, containers=10,
            received=Decimal(received),
            expires_on=(now - timedelta(days=1)).date(), **common,
        )[0])  # fmt: skip
    for batch in made[:2]:
        extend_batch(by, batch=batch, id=new_id(), dated=(now - timedelta(days=2)).date(), reference="Letter L-7",
                     expires_on=(now + timedelta(days=90)).date())  # fmt: skip
    quarantine_batch(by, batch=made[2], id=new_id(), why="Containers dented on delivery")
    coat = Coat.objects.select_related("system", "data_sheet").get(pk=cast.site.coats[0].pk)
    mixes = []
    for base, reason in ((made[0], ""), (made[2], "Told after spraying had begun")):
        parts = [PartSent(base, containers=2), PartSent(made[1], containers=2)]
        sent = MixSent(coat=coat, mixed_at=now, stirred="power", paint_c=Decimal(20), parts=parts, reason=reason)
        mixes.append(record_mix(by, id=new_id(), project=project, sent=sent, confirmed=True)[0])
    return made[1], mixes[1]


def test_the_pages_of_paint_are_read_on_a_phone(cast: Cast, page_as: Any, axe: Any, in_date: None) -> None:
    batch, mix = scene(cast)
    pk = cast.site.project.pk
    pages = [
        reverse("batch_list", args=[pk]), reverse("batch", args=[batch.pk]), reverse("mix_list", args=[pk]),
        reverse("mix", args=[mix.pk]), reverse("mix_new", args=[pk]),
    ]  # fmt: skip
    phone = page_as(cast.quinn)
    for address in pages:
        phone.goto(address)
        axe(phone)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 390, address
