"""The recall of a batch of paint: what rests on it is shown first, then all follows in one step, and is taken back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Letter, Organisation, Role
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.ground import wrongly_marked
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Membership, Party
from inspection.recall.batch_actions import recall_batch, reinstate_batch
from inspection.recall.batches import touched_by_batch
from inspection.recall.models import Recall
from inspection.standing.models import Standing
from inspection.works.models import Lot, LotMix, LotPlace, Mix, MixPart, PaintBatch
from inspection.works.paint.batches import (
    quarantine_batch,
    release_batch,
    restore_batch,
    withdraw_batch,
    withdraw_step,
)
from inspection.works.paint.mixes import withdraw_mix
from reports.daily.against import doubts_of, to_look_at
from reports.daily.models import Basis
from tests import cast as casting
from tests.cast import Cast
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.past_triggers import rewrite
from tests.trace.scene import issued
from tests.works.painted import HOUR, painted

NOW = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def clock() -> Iterator[Any]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def as_person(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def released_over(cast: Cast, batch: PaintBatch) -> HoldPoint:
    """The first coat measured and released over the batch's lot, and told in an issued report; a later coat on top."""
    record, point = sound_record(cast), a_point(cast)
    holdpoints.release(cast.clara, **signed(point))
    issue = issued(cast, cast.site, record)
    lot = Lot.objects.get(mixes__mix__parts__batch=batch)
    Basis.objects.create(issue=issue, kind=Basis.LOT, thing=lot.pk)
    Basis.objects.create(issue=issue, kind=Basis.HOLDPOINT, thing=point.pk)
    painted(cast, "K-2", coat=1, at=NOW - 60 * HOUR)
    return point


def test_a_recall_is_shown_first_then_all_follows_in_one_step_and_is_taken_back(cast: Cast, clock: Any) -> None:
    batch = painted(cast)
    point, address = released_over(cast, batch), reverse("recall_batch", args=[batch.pk])
    counts = {"mixes": 1, "lots": 1, "areas": 1, "later": 1, "records": 1, "points": 1, "reports": 1}
    clock.shift(HOUR)
    quinn = as_person(cast.quinn)
    page = quinn.get(address)
    assert (page.context["touched"].counts, Recall.objects.exists()) == (counts, False)
    assert "Clara" in page.content.decode()
    assert quinn.post(address, {"reason": ""}).status_code == 422
    page = quinn.post(address, {"reason": "Called back by the maker"}, follow=True)
    assert "A1 after Primer" in page.content.decode()
    done = Recall.objects.get()
    assert (done.batch, done.way, done.reason) == (batch, "withdrawn", "Called back by the maker")
    entry = JournalEntry.objects.get(verb="batch.recalled")
    assert entry.after.items() >= {**counts, "recall": str(done.pk), "nonconformances": 1}.items()
    # What is in doubt is the film: the release and the paper, and no reading.
    point.refresh_from_db()
    assert (point.lies, point.doubted_at) == (HoldPoint.Lies.DOUBT, NOW + HOUR)
    assert list(Standing.objects.values_list("state", flat=True)) == ["sound"]
    in_doubt = Letter.objects.get(kind="released-in-doubt", recipient=cast.clara.email)
    assert "Called back by the maker" in in_doubt.body
    told = Letter.objects.filter(kind="recall")
    assert cast.clara.email not in told.values_list("recipient", flat=True), "she was told already"
    assert "Mix and apply nothing of it." in told.get(recipient=cast.ines.email).body
    [report] = to_look_at(cast.quinn)
    assert len(doubts_of([report])[report.pk]) == 2
    assert "Called back by the maker" in doubts_of([report])[report.pk][0]
    [raised] = Nonconformance.objects.all()
    record = evidence_of(point).record
    assert record
    assert "found on paint of a withdrawn batch" in quinn.get(reverse("thickness", args=[record.pk])).content.decode()
    assert "Now in question" in quinn.get(reverse("trace_of", args=["report", report.pk])).content.decode()
    assert quinn.post(address, {"reason": "Again"}).status_code == 422
    clock.shift(HOUR)
    quinn = as_person(cast.quinn)
    back = quinn.post(
        reverse("recall_batch_reinstate", args=[batch.pk]), {"reason": "Another batch was meant"}, follow=True
    )
    assert f"{raised}" in back.content.decode()
    point.refresh_from_db()
    raised.refresh_from_db()
    assert (point.doubted_at, raised.state, list(to_look_at(cast.quinn))) == (None, "closed", [])
    assert JournalEntry.objects.filter(verb="batch.recall_taken_back").count() == 1
    with pytest.raises(Conflict):
        reinstate_batch(cast.quinn, batch=batch, reason="Twice")
    assert not wrongly_marked().exists()


def test_whoever_releases_over_withdrawn_paint_says_why_and_is_then_in_no_doubt(cast: Cast, clock: Any) -> None:
    point = released_over(cast, batch := painted(cast))
    clock.shift(HOUR)
    withdraw_batch(cast.quinn, batch=batch, reason="Called back")
    point.refresh_from_db()
    assert point.doubted_at
    assert evidence_of(point).in_doubt
    page = as_person(cast.clara).get(reverse("point", args=[point.pk])).content.decode()
    assert "Paint in the film is of a batch that was withdrawn since the release." in page
    clock.shift(HOUR)
    with pytest.raises(Refused, match="withdrawn batch; say why the coat is accepted"):
        holdpoints.release(cast.clara, **signed(point))
    holdpoints.release(cast.clara, **signed(point, acceptance="The maker tested a sample of it"))
    point.refresh_from_db()
    assert (point.doubted_at, evidence_of(point).in_doubt) == (None, False)
    # A lot that is told since to have taken of it puts the release in doubt again, until that is put right.
    clock.shift(HOUR)
    other = painted(cast, "K-3", at=NOW - 80 * HOUR)
    lot = Lot.objects.get(mixes__mix__parts__batch=other)
    withdraw_batch(cast.quinn, batch=other, reason="Called back too")
    point.refresh_from_db()
    assert point.doubted_at
    withdraw_mix(cast.quinn, mix=lot.mixes.get().mix, reason="Never mixed")
    point.refresh_from_db()
    assert (point.doubted_at, wrongly_marked().exists()) == (None, False)


def test_paint_of_a_batch_in_quarantine_is_in_doubt_until_it_is_released_from_it(cast: Cast, clock: Any) -> None:
    """Milder than a recall: nothing is withdrawn and no nonconformance is raised."""
    batch = painted(cast)
    point = released_over(cast, batch)
    clock.shift(HOUR)
    quarantine_batch(cast.quinn, batch=batch, id=new_id(), why="Lumps in the can")

    def doubted() -> bool:
        point.refresh_from_db()
        assert evidence_of(point).in_doubt == (point.doubted_at is not None)
        assert not wrongly_marked().exists()
        return point.doubted_at is not None

    assert (doubted(), Nonconformance.objects.exists()) == (True, False)
    letter = Letter.objects.get(kind="released-in-doubt", recipient=cast.clara.email)
    assert "Lumps in the can" in letter.body
    page = as_person(cast.clara).get(reverse("point", args=[point.pk])).content.decode()
    assert "Paint in quarantine" in page
    # A later coat lies on it as well.
    above = a_point(cast, coat=1)
    [link] = [each for each in evidence_of(above).chain if each.key == "quarantine"]
    assert (link.state, "in Lot 1." in link.sentence) == ("not met", True)
    clock.shift(HOUR)
    release_batch(cast.quinn, batch=batch, id=new_id(), why="Sieved and tested")
    assert not doubted()
    assert "quarantine" not in {each.key for each in evidence_of(above).chain}
    clock.shift(HOUR)
    again = quarantine_batch(cast.quinn, batch=batch, id=new_id(), why="Typed for K-9")
    assert doubted()
    withdraw_step(cast.quinn, step=again, reason="K-9 was meant")
    assert not doubted()


def test_a_recalled_batch_restored_on_its_own_page_closes_what_the_recall_raised(cast: Cast, clock: Any) -> None:
    batch = painted(cast)
    released_over(cast, batch)
    clock.shift(HOUR)
    recall_batch(cast.quinn, batch=batch, reason="Called back")
    clock.shift(HOUR)
    restore_batch(cast.ines, batch=batch, reason="Another number")
    [raised] = Nonconformance.objects.all()
    assert (raised.state, raised.closed_by) == ("closed", cast.ines)
    back = Recall.objects.order_by("at").last()
    assert back
    assert (back.way, back.touched["closed"]) == ("reinstated", [str(raised.pk)])
    assert JournalEntry.objects.filter(verb="batch.recall_taken_back").count() == 1
    assert Letter.objects.filter(kind="recall", about=str(back.pk), recipient=cast.quinn.email).exists()


def test_the_first_coat_does_not_stand_on_paint_above_it_but_the_second_does_on_paint_below(
    cast: Cast, clock: Any
) -> None:
    point = released_over(cast, below := painted(cast))
    above = PaintBatch.objects.get(number="K-2")
    second = a_point(cast, coat=1)
    HoldPoint.objects.filter(pk=second.pk).update(state="released")
    assert [row.pk for row in touched_by_batch(above).points] == [second.pk]
    assert [row.pk for row in touched_by_batch(below).points] == [point.pk, second.pk]
    MixPart.objects.filter(batch=below).update(taken_out_at=NOW)
    assert set(touched_by_batch(below).counts.values()) == {0}
    clock.shift(HOUR)
    recall_batch(cast.quinn, batch=below, reason="Called back")
    point.refresh_from_db()
    assert point.doubted_at is None


def test_by_the_api_and_only_by_quality_managers_of_the_company(cast: Cast, clock: Any) -> None:
    point, quinn = released_over(cast, batch := painted(cast)), as_person(cast.quinn)
    clock.shift(HOUR)
    touched = quinn.get(f"/api/batches/{batch.pk}/touched/").json()
    assert touched["points"] == [str(point.pk)]
    sent = quinn.post(f"/api/batches/{batch.pk}/recall/", {"reason": "Called back"}, content_type="application/json")
    assert (sent.status_code, sent.json()["touched"], len(sent.json()["nonconformances"])) == (201, touched, 1)
    again = quinn.post(f"/api/batches/{batch.pk}/recall/", {"reason": "Twice"}, content_type="application/json")
    assert again.status_code == 409
    assert quinn.get(f"/api/recalls/{sent.json()['id']}/").json() == sent.json()
    for person in (cast.ines, cast.clara, cast.carl):
        client = as_person(person)
        assert client.post(reverse("recall_batch", args=[batch.pk]), {"reason": "No"}).status_code == 403
        assert client.get("/api/recalls/").status_code == 403
    # What the company withdrew, the contractor whose paint it is reads of, and does not bring back.
    painters = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    party = Party.objects.create(project=point.project, organisation=painters, kind=Party.Kind.CONTRACTOR)
    paula = casting.person("Paula Painter", painters, Role.CONTRACTOR)
    Membership.objects.create(project=point.project, person=paula, organisation=painters, role=Role.CONTRACTOR)
    rewrite(PaintBatch.objects.filter(pk=batch.pk), party=party)
    batch.refresh_from_db()
    with pytest.raises(NotAllowed, match="they alone bring it back"):
        restore_batch(paula, batch=batch, reason="It was fine")
    back = quinn.post(f"/api/batches/{batch.pk}/reinstate/", {"reason": "Tested"}, content_type="application/json")
    assert (back.status_code, len(back.json()["closed"])) == (201, 1)
    [letter] = Letter.objects.filter(kind="recall", recipient=paula.email)
    assert "What rests on it" not in letter.body, "what others found is not a contractor's to read"


def test_the_reads_of_a_recall_do_not_grow_with_what_it_touches(cast: Cast) -> None:
    batch, counts = painted(cast), []
    [lot], [mix] = Lot.objects.all(), Mix.objects.all()
    common = {"project": lot.project, "entered_by": cast.ines, "digest": "0" * 64}
    for many in (2, 30):
        for _ in range(many):
            number = Lot.objects.count() + 1
            more = Mix.objects.create(
                party=batch.party, number=number, mixed_at=mix.mixed_at, stirred="power", **common
            )
            MixPart.objects.create(mix=more, batch=batch, amount=1, unit="l")
            of_lot = {"crew": lot.crew, "activity": "coat", "method": "airless", "coat": lot.coat}
            another = Lot.objects.create(
                number=number, begun_at=lot.begun_at + timedelta(minutes=number), **of_lot, **common
            )
            LotPlace.objects.create(lot=another, area=cast.site.area, m2=1)
            LotMix.objects.create(lot=another, mix=more)
        with CaptureQueriesContext(connection) as queries:
            touched_by_batch(batch)
        counts.append(len(queries))
    assert counts[0] == counts[1]
