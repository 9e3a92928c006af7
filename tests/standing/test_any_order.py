"""Facts may arrive in any order. What is stored at the end is what the facts say, whichever came first.

Every order of each scenario is played: a tree of savepoints, in which the orders share their beginnings.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.db.models import QuerySet

from inspection.fieldwork import latest
from inspection.instruments.models import Certificate
from inspection.standing.actions import sweep_due
from inspection.standing.models import Standing
from inspection.standing.queries import compute
from tests.cast import Cast
from tests.standing.scene import clock, correct, fall, measure, new_gauge_certificate, verify, withdraw

Event = Callable[[], Any]
State = dict[str, tuple[Any, ...]]


def scenario(cast: Cast, seed: int, many: int) -> list[Event]:
    """So many events of one working day, drawn by chance; two records and two checks are always among them."""
    chance = random.Random(seed)

    def moment(first: int, last: int) -> str:
        return f"{chance.randint(first, last):02}:{chance.choice((0, 15, 30, 45)):02}"

    def check(first: int, last: int) -> Event:
        at, off_by_nm = moment(first, last), chance.choice((0, 0, 0, 0, 30_000))
        shims = chance.choice(((50, 250), (50, 250), (50, 125)))
        return lambda: verify(cast, at, off_by_nm=off_by_nm, shims=shims)

    def record(number: int) -> Event:
        first = moment(7, 15)
        last = f"{int(first[:2]) + chance.randint(0, 4):02}:50"
        values = chance.choice(((90, 100, 110), (90, 100, 110), (30, 100, 200)))
        return lambda: measure(cast, first, last, values_um=values, at=None, coat=number)

    def incident() -> Event:
        at = moment(6, 17)
        return lambda: fall(cast, at)

    events: list[Event] = [record(0), record(1), check(6, 9), check(14, 18)]
    others: list[Event] = [
        check(6, 18),
        check(10, 13),
        incident(),
        lambda: withdraw(cast, chance_paper),
        lambda: correct(cast, cast.shim_certificate, more_nm=20_000),
        lambda: correct(cast, cast.shim_certificate, more_nm=200),
        lambda: new_gauge_certificate(cast, "CG-2", date(2026, 1, 1), date(2027, 1, 1)),
        lambda: correct(cast, cast.gauge_certificate, expires=date(2026, 3, 3)),
    ]
    chance_paper: Certificate = chance.choice((cast.shim_certificate, cast.gauge_certificate))
    # Only one correction of each certificate can be the next version of it.
    picked = chance.sample([*range(4), chance.choice((4, 5)), 6, 7], many - len(events))
    return events + [others[index] for index in picked]


class Undone(Exception):
    pass


def every_order(events: list[Event], clock_at: Callable[[int], datetime], depth: int = 0) -> Iterator[None]:
    """Yield once after each complete order, with its rows in the database; then take them back."""
    if not events:
        yield
        return
    for index, event in enumerate(events):
        try:
            with transaction.atomic():
                with time_machine.travel(clock_at(depth), tick=False):
                    event()
                yield from every_order(events[:index] + events[index + 1 :], clock_at, depth + 1)
                raise Undone
        except Undone:
            pass


def every_standing() -> QuerySet[Standing]:
    return Standing.objects.select_related("record__coat", "opening", "closing")


def stored() -> State:
    return {
        row.record.coat.name: (
            row.state, tuple(row.reasons), row.opening and row.opening.taken_at, row.closing and row.closing.taken_at,
        )
        for row in every_standing()
    }  # fmt: skip


def from_facts(at: datetime) -> dict[Any, Any]:
    return compute(list(Standing.objects.values_list("record", flat=True)), at)


# One day entered hour by hour and one entered late; the others are played by `make orders`. What follows from the order
# does not follow from the database; PostgreSQL plays the late day alone, and of all the orders a third.
FEW, ALL, ON_BOTH = (1, 2), range(12), range(1, 7)
FEW_ON_BOTH = (1,)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "seed" not in metafunc.fixturenames:
        return
    seeds, both = (ALL, ON_BOTH) if metafunc.config.getoption("every_order") else (FEW, FEW_ON_BOTH)
    marked = [pytest.param(seed, marks=() if seed in both else pytest.mark.sqlite) for seed in seeds]
    metafunc.parametrize("seed", marked)


def test_every_order_of_arrival_ends_in_what_the_facts_say(cast: Cast, seed: int) -> None:
    events = scenario(cast, seed, many=5 if seed else 6)
    # Half of the days are entered while the shift goes on, hour by hour, with the sweep behind; half days later.
    hourly = seed % 2 == 0
    end = clock("20:00")

    def clock_at(depth: int) -> datetime:
        return clock("13:00") + timedelta(hours=depth) if hourly else clock("13:00") + timedelta(days=5)

    ends: list[State] = []
    for _ in every_order(events, clock_at):
        with time_machine.travel(end if hourly else clock_at(0), tick=False):
            sweep_due()
        kept = {row.pk: (row.state, tuple(row.reasons), row.opening_id, row.closing_id) for row in every_standing()}
        assert kept == {
            pk: (found.state, found.reasons, found.opening, found.closing) for pk, found in from_facts(end).items()
        }
        assert not list(latest.differences())
        ends.append(stored())
    assert len(ends) in (120, 720)
    assert len(ends[0]) == 2
    # Withdrawal sentences carry the moment of entry, so states and checks are compared across orders.
    assert len({tuple(sorted((name, row[0], row[2], row[3]) for name, row in found.items())) for found in ends}) == 1
