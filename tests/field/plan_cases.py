"""Generated plans and running figures: how much is wanted, where next, how one spot stands while it is typed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from random import Random
from types import SimpleNamespace
from typing import Any, cast

from inspection.fieldwork import judging
from inspection.fieldwork.judging import Plan, ReadingSent, Spot
from inspection.fieldwork.views.sheets import next_spot
from inspection.foundation.refusals import Refused
from inspection.projects.models import Coat
from tests.field.comparing import Case
from tests.field.thickness_cases import (
    SIZES_M2,
    SMALL,
    Film,
    area_of,
    films,
    office_plan,
    plan_of,
    readings_near,
    told_readings,
    wanted_told,
)

LENGTHS_M = (0.5, 2.99, 3, 3.01, 6, 6.01, 9.5)
SIZES: tuple[dict[str, Any], ...] = (
    {}, {"boundaries_m": LENGTHS_M}, {"stiffeners_m": LENGTHS_M, "primary_members_m": LENGTHS_M},
    {"complex_m2": (0.2, 0.6, 0.61, 2.4)}, {"openings": 3, "sides_of_an_opening": 2, "boundaries_m": (12,)},
)  # fmt: skip


def plans(seed: int, count: int) -> Iterator[Case]:
    """What each rule wants on areas at and beside the steps of its table, and holds one spot or reading to."""
    rnd, every = Random(seed), [of for rule in Coat.Rule.values for of in films(rule)]
    for _ in range(count):
        of, tank = rnd.choice(every), rnd.choice(SIZES)
        size = rnd.choice((*SIZES_M2, str(Decimal(rnd.randrange(1, 200_000)) / 100)))
        area = cast("Any", SimpleNamespace(area_m2=Decimal(size), tank_sizes=tank))
        told = {"area_m2": size, "tank_sizes": tank}
        yield Case("wantedOf", [of.told, told], wanted_told(office_plan(of.coat, area), size))
        yield Case("limitsOfOne", [of.told], judging.limits_of_one(of.coat))


def running(seed: int, count: int) -> Iterator[Case]:
    """An area while it is measured: nothing yet, spots begun, one voided and not repeated, all of it."""
    rnd, every = Random(seed), {rule: films(rule) for rule in Coat.Rule.values}
    for _ in range(count):
        rule = rnd.choice(Coat.Rule.values)
        of, size, by_spots = rnd.choice(every[rule]), rnd.choice(SMALL), rule == Coat.Rule.PA2
        readings = readings_near(rnd, of.edges_nm, rnd.choice((1, 2, 5, 7)), 3 if by_spots else 1)
        readings = readings[: rnd.randrange(len(readings) + 1)]
        correction = rnd.choice((0, 0, 25_000))
        given = [of.told, wanted_told(plan_of(of.coat, area_of(size)), size), told_readings(readings), correction]
        yield Case("soFar", given, _so_far(of, size, readings, correction))


def _so_far(of: Film, size: str, readings: Sequence[ReadingSent], correction: int) -> dict[str, Any]:
    plan, spots = plan_of(of.coat, area_of(size)), judging.spots_of(readings, correction)
    wanted = judging.still_wanted(plan, spots)
    found: dict[str, Any] = {
        "count": 0, "mean_nm": None, "lowest_nm": None, "highest_nm": None, "verdict": "", "result": None, "faults": [],
        "still_wanted": wanted, "spots_left": _spots_left(plan, spots, wanted), "next_spot": next_spot(plan, spots),
        "spots": [_spot(of, plan, spot) for spot in spots],
    }  # fmt: skip
    if not any(spot.shown_nm for spot in spots):
        return found
    try:
        judged = judging.judge(of.coat, area_of(size), readings, correction)
    except Refused as wrong:
        faults = [{"message": fault.message, "field": fault.field, "row": fault.row} for fault in wrong.faults]
        return {**found, "faults": faults}
    values = judged.values_nm
    return {
        **found, "count": len(values), "mean_nm": float(judged.mean_nm), "lowest_nm": min(values),
        "highest_nm": max(values), "verdict": judged.verdict, "result": judged.result,
    }  # fmt: skip


def _wants(plan: Plan, spot: Spot) -> int:
    return spot.wanting if plan.by_spots else int(spot.repeat_missing)


def _spots_left(plan: Plan, spots: Sequence[Spot], wanted: int) -> int:
    """Where each spot has a reading: as many as are wanted. Else those not begun and those that want more."""
    if not plan.by_spots:
        return wanted
    begun = [spot for spot in spots if _wants(plan, spot)]
    return len(begun) + (wanted - sum(_wants(plan, spot) for spot in begun)) // plan.readings_a_spot


def _spot(of: Film, plan: Plan, spot: Spot) -> dict[str, Any]:
    """One spot, its mean or each reading held to the office's limits."""
    low, high = judging.limits_of_one(of.coat)
    mean, wants = spot.mean_nm, _wants(plan, spot)
    if mean is None:
        return {"number": spot.number, "mean_nm": None, "state": "within", "final": False, "wants": wants}
    held = [mean] if plan.by_spots else [Fraction(shown - spot.correction_nm) for shown in spot.shown_nm]
    state = "within" if high is None or max(held) <= high else "too high"
    if low is not None and min(held) < low:
        state = "too low"
    final = not plan.by_spots or len(spot.shown_nm) >= plan.readings_a_spot
    return {"number": spot.number, "mean_nm": float(mean), "state": state, "final": final, "wants": wants}
