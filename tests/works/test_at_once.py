"""Shifts, readings and lots that arrive at the same moment, and taps: none misses another, nothing is there twice."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from accounts.models import JournalEntry
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import InspectionArea
from inspection.recall.batch_actions import recall_batch
from inspection.standing.models import Standing
from inspection.standing.queries import compute
from inspection.works.lots.actions import LotSent, PlaceSent, begin_lot, end_lot
from inspection.works.lots.mixes import MixDrawn
from inspection.works.models import Lot, LotMix, Mix, MixPart, Shift
from inspection.works.paint.batches import receive_batch
from inspection.works.paint.mixes import MixSent, record_mix
from inspection.works.paint.reckoning import PartSent
from inspection.works.shifts import end_shift, plan_shifts, start_shift
from tests.cast import MORNING, Cast
from tests.holdpoints.scene import a_point, signed, sound_record
from tests.holdpoints.test_at_once import at_once, cast
from tests.standing.scene import clock, measure, verify
from tests.works.painted import HOUR, painted
from tests.works.scene import crew_of

__all__ = ["cast"]
pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_a_record_stored_while_its_shift_is_planned_is_judged_by_that_shift(cast: Cast) -> None:
    crew = crew_of(cast, "Long", cast.ines)
    for day in range(4):
        later = timedelta(days=day)
        verify(cast, clock("08:10") + later)
        verify(cast, clock("21:40") + later)
        span = (clock("08:00") + later, clock("22:00") + later)
        at_once(
            lambda later=later: measure(cast, "", "", at=clock("17:50") + later),
            lambda span=span: plan_shifts(cast.quinn, crew=crew, spans=[span]),
        )
    kept = dict(Standing.objects.values_list("record", "state"))
    assert kept == {pk: found.state for pk, found in compute(list(kept), clock("23:00") + timedelta(days=9)).items()}
    assert set(kept.values()) == {"sound"}


def test_four_taps_at_once_begin_one_shift_and_end_it_once(cast: Cast) -> None:
    crew = crew_of(cast, "Days", cast.ines)
    begun = at_once(*(lambda: start_shift(cast.ines, crew=crew, at=clock("06:00")) for _ in range(4)))
    assert sorted(new for _, new in begun) == [False, False, False, True]
    shift = Shift.objects.get()
    ended = at_once(*(lambda: end_shift(cast.ines, shift=shift, at=clock("15:00")) for _ in range(4)))
    assert sorted(new for _, new in ended) == [False, False, False, True]


def test_two_lots_that_take_the_last_litres_of_a_mix_at_once_are_both_kept_and_one_end_counts(cast: Cast) -> None:
    painted(cast)
    [first], mix = Lot.objects.all(), Mix.objects.get()
    MixPart.objects.update(amount=20)

    def begun(area: InspectionArea) -> Lot:
        sent = LotSent(
            activity="coat", coat=cast.site.coats[0], crew=first.crew, method="airless", begun_at=MORNING - 19 * HOUR,
            places=[PlaceSent(area=area, m2=Decimal(8))], mixes=[MixDrawn(mix=mix, drawn_l=Decimal(8))],
        )  # fmt: skip
        return begin_lot(cast.ines, id=new_id(), project=cast.site.project, sent=sent, confirmed=True)[0]

    lots = at_once(
        *(lambda area=area: begun(area) for area in InspectionArea.objects.filter(structure__project=cast.site.project))
    )
    assert sorted(lot.number for lot in lots) == [2, 3]
    assert sum(row.drawn_l or 0 for row in LotMix.objects.all()) == 28, "what was drawn is kept as it was told"
    asked = ["With this 28 l are drawn of Mix 1, of 20 l mixed." in lot.gone_over for lot in lots]
    assert sorted(asked) == [False, True], "whoever comes second is asked"
    moments = [MORNING - 18 * HOUR, MORNING - 17 * HOUR]
    ended = at_once(*(lambda at=at: end_lot(cast.ines, lot=lots[0], ended_at=at) for at in moments))
    assert sorted(type(each) is Conflict for each in ended) == [False, True]
    assert JournalEntry.objects.filter(verb="lot.ended", object_id=str(lots[0].pk)).count() == 1


def test_paint_sent_again_before_its_answer_came_is_stored_once_and_its_sender_is_asked_nothing(cast: Cast) -> None:
    batch = painted(cast)
    # Twice as much would be more than was received, which is asked about.
    part = PartSent(batch=batch, amount=Decimal(50), unit="l")
    sent = MixSent(parts=[part], mixed_at=MORNING - 2 * HOUR, stirred="power", coat=cast.site.coats[0])
    project, pk = cast.site.project, new_id()
    mixed = at_once(*[lambda: record_mix(cast.ines, id=pk, project=project, sent=sent)] * 3)
    assert sorted(new for _, new in mixed) == [False, False, True]
    said: dict[str, Any] = {
        "product": "Paint", "component": "single", "number": "K-9", "unit": "l", "received": Decimal(20),
        "received_at": MORNING - HOUR, "containers": 1,
    }  # fmt: skip
    came = at_once(*[lambda: receive_batch(cast.ines, id=pk, project=project, confirmed=True, **said)] * 3)
    assert sorted(new for _, new in came) == [False, False, True]


def test_a_release_at_the_moment_of_a_recall_comes_before_it_or_reads_of_it(cast: Cast) -> None:
    batch = painted(cast)
    sound_record(cast)
    point = a_point(cast)
    shown = signed(point)
    at_once(
        lambda: recall_batch(cast.quinn, batch=batch, reason="Called back"),
        lambda: holdpoints.release(cast.clara, **shown),
    )
    point.refresh_from_db()
    # Released before: in doubt now. Refused, since the evidence was another by then: waiting still.
    assert (point.state, point.doubted_at is not None) in {("released", True), ("waiting", False)}
    assert HoldPoint.objects.get().lies in {HoldPoint.Lies.DOUBT, HoldPoint.Lies.READY}
