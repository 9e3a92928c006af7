"""Shifts and readings that arrive at the same moment, and taps: neither misses the other, nothing is there twice."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inspection.standing.models import Standing
from inspection.standing.queries import compute
from inspection.works.models import Shift
from inspection.works.shifts import end_shift, plan_shifts, start_shift
from tests.cast import Cast
from tests.holdpoints.test_at_once import at_once, cast
from tests.standing.scene import clock, measure, verify
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
