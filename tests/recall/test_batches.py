"""The recall of a batch of paint: what rests on it is shown first, then it is withdrawn in one step, and taken back."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork.models import Record
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import Party
from inspection.recall.batches import touched_by_batch
from inspection.works.models import Crew, Lot, LotMix, LotPlace, Mix, MixPart, PaintBatch
from tests.cast import MORNING, Cast

HOUR = timedelta(hours=1)


def painted(cast: Cast, many: int = 1) -> PaintBatch:
    """A batch with so many mixes, each in a lot of primer at the first area; a lot over it, records, a point."""
    site, by = cast.site, cast.ines
    party = Party.objects.filter(project=site.project).first()
    common: dict[str, Any] = {"project": site.project, "entered_by": by, "digest": "0" * 64}
    batch = PaintBatch.objects.create(
        party=party, product="Paint", component="single", number=f"B-{many}", received=90, unit="l",
        received_at=MORNING, **common,
    )  # fmt: skip
    crew = Crew.objects.create(project=site.project, party=party, name=f"Crew {many}")
    of_lot = {"crew": crew, "activity": "coat", "method": "airless", **common}
    first = Lot.objects.count() + 1
    for number in range(many):
        mix = Mix.objects.create(
            party=party, number=Mix.objects.count() + 1, mixed_at=MORNING + HOUR, stirred="power", **common
        )  # fmt: skip
        MixPart.objects.create(mix=mix, batch=batch, amount=1, unit="l")
        lot = Lot.objects.create(number=first + number, coat=site.coats[0], begun_at=MORNING + HOUR, **of_lot)
        LotPlace.objects.create(lot=lot, area=site.area, m2=8)
        LotMix.objects.create(lot=lot, mix=mix)
    HoldPoint.objects.get_or_create(
        project=site.project, area=site.area, coat=site.coats[0], defaults={"title": "Primer", "state": "released"}
    )
    later = Lot.objects.create(number=first + many, coat=site.coats[1], begun_at=MORNING + 5 * HOUR, **of_lot)
    LotPlace.objects.create(lot=later, area=site.area, m2=8)
    Record.objects.bulk_create(
        Record(
            kind="thickness", project=site.project, area=site.area, coat=site.coats[0], taken_by=by, taken_at=at,
            ended_at=at, digest="0" * 64,
        )
        for at in (MORNING, MORNING + 3 * HOUR)
    )  # fmt: skip
    return batch


def test_what_rests_on_a_batch_is_shown_before_it_is_withdrawn_and_kept_in_the_journal(cast: Cast) -> None:
    batch, client = painted(cast), Client()
    client.force_login(cast.quinn)
    address = reverse("recall_batch", args=[batch.pk])
    touched = client.get(address).context["touched"]
    counts = {"mixes": 1, "lots": 1, "areas": 1, "later": 1, "records": 1, "points": 1, "reports": 0}
    assert touched.counts == counts
    assert touched.records[0].taken_at == MORNING + 3 * HOUR
    assert client.post(address, {"reason": ""}).status_code == 422
    assert client.post(address, {"reason": "Called back by the maker"}, follow=True).status_code == 200
    [entry] = JournalEntry.objects.filter(verb="batch.recalled")
    assert (entry.after, entry.reason) == (counts, "Called back by the maker")
    page = client.get(reverse("mix", args=[Mix.objects.get().pk])).content.decode()
    assert "Made of a withdrawn batch" in page
    assert client.post(address, {"reason": "Again"}).status_code == 422
    client.post(reverse("batch_restore", args=[batch.pk]), {"reason": "Another batch was meant"})
    batch.refresh_from_db()
    assert batch.withdrawn_at is None


def test_a_batch_of_which_nothing_was_mixed_touches_nothing(cast: Cast) -> None:
    painted(cast)
    batch = PaintBatch.objects.get()
    MixPart.objects.update(taken_out_at=MORNING)
    assert set(touched_by_batch(batch).counts.values()) == {0}


def test_the_reads_of_a_recall_do_not_grow_with_what_it_touches(cast: Cast) -> None:
    counts = []
    for many in (3, 30):
        batch = painted(cast, many)
        with CaptureQueriesContext(connection) as queries:
            assert touched_by_batch(batch).counts["lots"] == many
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_only_quality_managers_recall(cast: Cast) -> None:
    batch = painted(cast)
    for person in (cast.ines, cast.clara, cast.carl):
        client = Client()
        client.force_login(person)
        assert client.post(reverse("recall_batch", args=[batch.pk]), {"reason": "No"}).status_code == 403
