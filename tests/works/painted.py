"""Paint that went on: a batch, a mix of it, and a lot of the cast's first area that took of the mix."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from inspection.projects.models import Party
from inspection.works.models import Crew, Lot, LotMix, LotPlace, Mix, MixPart, PaintBatch
from tests.cast import MORNING, Cast

HOUR = timedelta(hours=1)


def painted(cast: Cast, number: str = "K-1", *, coat: int = 0, at: datetime = MORNING - 20 * HOUR) -> PaintBatch:
    """The batch; its mix and lot are the newest, and bear numbers in the order in which they were made."""
    site = cast.site
    party = Party.objects.get(project=site.project, kind=Party.Kind.INSPECTION)
    common: dict[str, Any] = {"project": site.project, "entered_by": cast.ines, "digest": "0" * 64}
    batch = PaintBatch.objects.create(
        party=party, product="Paint", component="single", number=number, received=90, unit="l",
        received_at=MORNING - 72 * HOUR, **common,
    )  # fmt: skip
    count = Mix.objects.count() + 1
    mix = Mix.objects.create(party=party, number=count, coat=site.coats[coat], mixed_at=at, stirred="power", **common)
    MixPart.objects.create(mix=mix, batch=batch, amount=20, unit="l")
    crew, _ = Crew.objects.get_or_create(project=site.project, party=party, name="Days")
    lot = Lot.objects.create(
        number=count, activity="coat", method="airless", coat=site.coats[coat], crew=crew, begun_at=at,
        ended_at=at + HOUR, entered_at=at + 2 * HOUR, **common,
    )  # fmt: skip
    LotPlace.objects.create(lot=lot, area=site.area, m2=8)
    LotMix.objects.create(lot=lot, mix=mix, drawn_l=12)
    return batch
