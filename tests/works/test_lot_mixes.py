"""Mixes of a lot: litres drawn and returned, unfit batches refused at the beginning, pot life told."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inspection.foundation.ids import new_id
from inspection.projects.models import Party
from inspection.works.models import BatchStep, Crew, Lot, LotMix, Mix, MixPart, PaintBatch
from tests.cast import MORNING, Cast
from tests.works.test_lots import as_person, messages, words

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def party(cast: Cast) -> Party:
    return Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)


@pytest.fixture
def crew(cast: Cast, party: Party) -> Crew:
    return Crew.objects.create(project=cast.site.project, party=party, name="Days")


def mixed(cast: Cast, party: Party, number: int = 1, *, expires_on: date = date(2027, 1, 1), **more: Any) -> Mix:
    common = {"project": cast.site.project, "party": party, "entered_by": cast.ines, "digest": "0" * 64}
    batch = PaintBatch.objects.create(
        product="Paint", component="base", number=f"K-{number}", received=100, unit="l", expires_on=expires_on,
        received_at=MORNING - 48 * HOUR, **common,
    )  # fmt: skip
    mix = Mix.objects.create(
        number=number, coat=cast.site.coats[0], mixed_at=MORNING - HOUR, stirred="power", usable_from=MORNING,
        usable_until=MORNING + 3 * HOUR, **common, **more,
    )  # fmt: skip
    MixPart.objects.create(mix=mix, batch=batch, amount=20, unit="l")
    return mix


def begin(cast: Cast, crew: Crew, mix: Mix, **otherwise: Any) -> Any:
    sent = {
        "id": str(new_id()), "activity": "coat", "coat": str(cast.site.coats[0].pk), "crew": str(crew.pk),
        "method": "airless", "begun_at": MORNING.isoformat(), "places": [{"area": str(cast.site.area.pk)}],
        "mixes": [{"mix": str(mix.pk)}], "confirmed": True, **otherwise,
    }  # fmt: skip
    address = f"/api/projects/{cast.site.project.pk}/lots/begin/"
    return as_person(cast.ines).post(address, sent, content_type="application/json")


def test_a_lot_takes_mixes_and_tells_their_litres_when_it_ends(cast: Cast, crew: Crew, party: Party) -> None:
    first, second, ines = mixed(cast, party, thinner_pct=Decimal(10)), mixed(cast, party, 2), as_person(cast.ines)
    lot = Lot.objects.get(pk=begin(cast, crew, first).json()["id"])
    typed = {"ended_at": "2026-03-04T09:00", "mixes": "1: 22 - 11\n2: 5,5"}
    assert 'name="mixes"' in ines.get(f"/lots/{lot.pk}/end/").content.decode()
    assert "Mix 1 22 11 Mix 2 5.50 –" in words(ines.post(f"/lots/{lot.pk}/end/", typed, follow=True))
    assert [row.unthinned_l for row in LotMix.objects.order_by("mix__number")] == [10, Decimal("5.5")]
    progress = ines.get(f"/api/projects/{cast.site.project.pk}/progress/").json()
    assert progress["balances"][0]["litres"] == 15.5, "thinner is no paint"
    assert "1: 22 - 11" in ines.get(f"/lots/{lot.pk}/correct/").content.decode()
    for wrong, said in (("1: 5 - 6", "At most what was drawn"), ("9: 5", "no such mix"), ("1: much", "is no number"),
                        ("1: 5\n1: 6", "more than once")):  # fmt: skip
        page = ines.post(f"/lots/{lot.pk}/correct/", {"id": str(new_id()), "mixes": wrong, "reason": "x",
            "activity": "coat", "coat": str(cast.site.coats[0].pk), "places": "A1", "crew": str(crew.pk),
            "begun_at": "2026-03-04T07:00", "ended_at": "2026-03-04T09:00", "method": "airless"})  # fmt: skip
        assert (page.status_code, said in words(page)) == (422, True), words(page)
    assert second.lots.count() == 1


def test_nothing_begins_with_an_expired_or_quarantined_batch_but_what_ended_is_kept(
    cast: Cast, crew: Crew, party: Party
) -> None:
    old = mixed(cast, party, expires_on=date(2026, 3, 1))
    assert "had expired on 2026-03-01. Do not begin" in messages(begin(cast, crew, old))["mixes1"]
    late = begin(cast, crew, old, ended_at=(MORNING + HOUR).isoformat())
    assert late.status_code == 201
    assert any("had expired" in sentence for sentence in late.json()["gone_over"]), "evidence is never turned away"
    apart = mixed(cast, party, 2)
    BatchStep.objects.create(
        batch=apart.parts.get().batch, what="quarantined", at=MORNING - HOUR, why="Dented", entered_by=cast.quinn
    )
    assert "in quarantine" in messages(begin(cast, crew, apart))["mixes1"]


def test_pot_life_and_induction_are_asked_about(cast: Cast, crew: Crew, party: Party) -> None:
    mix = mixed(cast, party)
    late = begin(cast, crew, mix, ended_at=(MORNING + 4 * HOUR).isoformat(), confirmed=False)
    assert "its pot life ended 2026-03-04 10:00" in messages(late, 428)["mixes1"]
    early = begin(cast, crew, mix, begun_at=(MORNING - HOUR / 2).isoformat(), confirmed=False)
    assert "is usable from 2026-03-04 07:00" in messages(early, 428)["mixes1"]
    lot = begin(cast, crew, mix).json()["id"]
    as_person(cast.ines).post(f"/lots/{lot}/end/", {"ended_at": "2026-03-04T11:00", "mixes": "1"})
    assert "its pot life ended 2026-03-04 10:00, before the lot did" in words(
        as_person(cast.clara).get(f"/lots/{lot}/")
    )
