"""Generated thickness cases that dwell on the edges: exactly at a limit, a nanometre beside it, one spot too few."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from itertools import product
from random import Random
from types import SimpleNamespace
from typing import Any, NamedTuple, cast

from inspection.fieldapp.pack_places import told_rule
from inspection.fieldwork import judging
from inspection.fieldwork.judging import Judgement, Plan, ReadingSent
from inspection.foundation.refusals import Refused
from inspection.projects.limits import Limits
from inspection.projects.models import Coat, InspectionArea
from inspection.standards import InputFault
from inspection.standards import thickness_pa2 as dft_pa2
from inspection.standards.fields import Reader
from inspection.standards.registry import _written, get
from tests.field.comparing import Case

LIMITS_NM = (40_000, 39_999, 60_000, 60_001, 100_000, 125_300, 254_000, 320_000)
SIZES_M2 = ("0.5", "1", "1.01", "3", "3.01", "9.99", "10", "10.01", "20", "29.99", "30", "30.01", "99.99", "100",
            "100.01", "200", "200.01", "1000", "1000.01")  # fmt: skip
SMALL = SIZES_M2[:7]
AREAS = 40
# Of five readings one is 20 %, of ten one is 10 %: the shares that ISO 19840 and IMO judge by.
COUNTS = (1, 2, 4, 5, 5, 5, 10)
BESIDE_NM = (-100, -1, 0, 0, 0, 1, 100)
DECLARED: tuple[dict[str, Any], ...] = (
    {"mean_at_least_pct": "100", "each_at_least_pct": "80", "share_below_pct": "20", "mean_at_most_pct": "100",
     "each_at_most_pct": "150", "table": [["3", 3], ["10.5", 5]], "further_m2": "10", "further_readings": 2},
    {"counted_from": "minimum", "each_at_least_pct": "66.67", "share_below_pct": "12.5", "share_means": "fewer than"},
    {"mean_at_least_pct": "33.333"}, {"each_at_most_pct": "120"},
    {"share_below_pct": "0", "table": [["10000000", 4]]},
    {"mean_at_least_pct": "100", "mean_at_most_pct": "90"},
)  # fmt: skip


class StandsFor(SimpleNamespace):
    """An unsaved row as a rule sees it; told apart by which it is, so that answers can be remembered by it."""

    __hash__ = object.__hash__


class Film(NamedTuple):
    """A coat as the office knows it and as the phone is told it."""

    coat: Coat
    told: dict[str, Any]
    edges_nm: tuple[int, ...]


def film(rule: str, limits: Limits, *, level: int | None = None, declared: dict[str, Any] | None = None) -> Film:
    figures = {"declared_name": "Yard rule 7", "declared_document": "Annex C", "declared": declared or {}}
    made = Coat(rule=rule, pa2_level=level, **figures)
    stands_for = StandsFor(
        rule=rule, rule_name=made.rule_name, pa2_level=level, through=limits, declaration=made.declaration,
        needs=made.needs, **figures,
    )  # fmt: skip
    coat = cast("Coat", stands_for)
    held = [limit for limit in (*limits, *judging.limits_of_one(coat)) if limit is not None]
    return Film(coat, told_rule(coat), tuple(map(int, held)))


@cache
def plan_of(coat: Coat, area: InspectionArea) -> Plan:
    """As the office plans it; remembered, for a few hundred answers serve all cases."""
    return office_plan(coat, area)


office_plan = judging.plan_of


@cache
def area_of(size: str) -> InspectionArea:
    return cast("InspectionArea", StandsFor(area_m2=Decimal(size), tank_sizes={}))


def judged(of: Film, size: str, readings: Sequence[ReadingSent], correction_nm: int) -> Case:
    """The case, with all that the office answers of it."""
    area = area_of(size)
    plan = plan_of(of.coat, area)
    given = [of.told, wanted_told(plan, size), told_readings(readings), correction_nm]
    try:
        return Case("judgeThickness", given, _answer(judging.judge(of.coat, area, readings, correction_nm)))
    except Refused as refused:
        faults = [{"message": fault.message, "field": fault.field, "row": fault.row} for fault in refused.faults]
        return Case("judgeThickness", given, {"refused": faults})


def told_readings(readings: Sequence[ReadingSent]) -> list[dict[str, Any]]:
    return [
        {"spot": one.spot, "order": one.order, "value_nm": one.value_nm, "void_reason": one.void_reason}
        for one in readings
    ]


def wanted_told(plan: Plan, size: str) -> dict[str, Any]:
    return {
        "readings": plan.readings, "areas": plan.areas, "repeats_allowed": plan.repeats_allowed, "spots": plan.spots,
        "readings_a_spot": plan.readings_a_spot, "area_m2": size,
    }  # fmt: skip


def _answer(judgement: Judgement) -> dict[str, Any]:
    values = judgement.values_nm
    return {
        "calculation": judgement.calculation, "result": judgement.result, "verdict": judgement.verdict,
        "still_wanted": judgement.still_wanted, "mean_nm": float(judgement.mean_nm), "lowest_nm": min(values),
        "highest_nm": max(values), "count": len(values),
    }  # fmt: skip


def values_near(rnd: Random, edges: Sequence[int], spots: int, most_readings: int) -> list[list[int]]:
    """Readings in nm, spot by spot, at and beside the edges; some flat but for one, some spots short."""
    flat = rnd.choice(edges) if rnd.random() < 0.3 else None
    found = []
    for _ in range(spots):
        count = most_readings if rnd.random() < 0.8 else rnd.randrange(1, most_readings + 2)
        if flat is not None:
            found.append([flat] * count)
            continue
        at = rnd.choice(edges)
        values = [max(0, at + beside) for beside in rnd.choices(BESIDE_NM, k=count)]
        if count > 1 and rnd.random() < 0.5:
            # The mean of the spot exactly at the edge, or a part of a nanometre beside it.
            values[-1] = max(0, at * count + rnd.choice((-1, 0, 1)) - sum(values[:-1]))
        found.append(values)
    if flat is not None:
        rnd.choice(found)[0] += rnd.choice((-1, 0, 1))
    if rnd.random() < 0.03:
        found[0][0] = rnd.choice((0, 10 * edges[0], 2 * edges[0] + 1))
    return found


def readings_near(rnd: Random, edges: Sequence[int], spots: int, most_readings: int) -> list[ReadingSent]:
    """The same as readings that were sent: spots passed over, some readings voided."""
    number, found = rnd.choice((0, 0, 0, 4, 5)), []
    for values in values_near(rnd, edges, spots, most_readings):
        number += 1 if rnd.random() < 0.95 else rnd.randrange(1, 7)
        found += [
            ReadingSent(number, order, value, None, "slipped" if rnd.random() < 0.04 else "")
            for order, value in enumerate(values, start=1)
        ]
    return found


def films(rule: str) -> list[Film]:
    """Coats with every mixture of limits there is under a rule."""
    found = []
    for base in LIMITS_NM:
        nominal = base * 6 // 5
        for maximum in (None, base * 3 // 2, base * 6 // 5):
            whole = Limits(base, nominal, maximum)
            if rule == Coat.Rule.PA2:
                found += [film(rule, whole, level=level) for level in (1, 2, 3, 4, 5)]
            elif rule == Coat.Rule.DECLARED:
                found += [film(rule, whole, declared=each) for each in DECLARED]
            else:
                found.append(film(rule, Limits(None, base, maximum)))
    lacking = Limits(None, None, 100_000)
    return [*found, film(rule, lacking, level=3 if rule == Coat.Rule.PA2 else None,
                         declared=DECLARED[1] if rule == Coat.Rule.DECLARED else None)]  # fmt: skip


def of_rule(rule: str, seed: int, count: int) -> Iterator[Case]:
    """So many cases of a rule; those of SSPC-PA 2 have spots of three, the others a reading a spot."""
    rnd, coats = Random(seed), films(rule)
    by_spots = rule == Coat.Rule.PA2
    for _ in range(count):
        of = rnd.choice(coats)
        spots = rnd.choice((1, 4, 5, 5, 6) if by_spots else (1, 3, 4, 5, 5, 5, 6, 10))
        readings = readings_near(rnd, of.edges_nm, spots, 3 if by_spots else 1)
        if not by_spots:
            readings = again(rnd, readings)
        correction = rnd.choice((0, 0, 0, 25_000, 39_000))
        if correction:
            readings = [one._replace(value_nm=one.value_nm + (correction if rnd.random() < 0.999 else 0))
                        for one in readings]  # fmt: skip
        yield judged(of, rnd.choice(SMALL), readings, correction)


def areas_of_spots(seed: int, count: int) -> Iterator[Case]:
    """SSPC-PA 2 on so many areas of about 10 m², many of them judged at once by the rule alone."""
    rnd = Random(seed)
    coats = [of for of in films(Coat.Rule.PA2) if not judging._unspecified(of.coat, of.coat.through)]
    for _ in range(count // AREAS):
        of, size = rnd.choice(coats), rnd.choice(SIZES_M2)
        near = [values_near(rnd, of.edges_nm, rnd.choice((5, 5, 5, 4, 1)), 3) for _ in range(AREAS)]
        plan, limits = plan_of(of.coat, area_of(size)), of.coat.through
        given = dft_pa2.Inputs(
            level=of.coat.pa2_level, minimum_um=_um(limits.minimum), maximum_um=limits.maximum and _um(limits.maximum),
            areas=tuple(
                dft_pa2.Area(name=f"area {number}", spots_um=tuple(tuple(map(_um, values)) for values in spots))
                for number, spots in enumerate(near, start=1)
            ),
            areas_to_measure=max(plan.areas, AREAS),
        )  # fmt: skip
        told = [
            {"spot": 5 * area + spot, "order": order, "value_nm": value}
            for area, spots in enumerate(near)
            for spot, values in enumerate(spots, start=1)
            for order, value in enumerate(values, start=1)
        ]
        answer = _written(dft_pa2.dft_pa2(given), mil=False)
        yield Case("judgeThickness", [of.told, wanted_told(plan, size), told, 0], answer, many=AREAS, part=True)


def readings_alone(rule: str, seed: int, count: int) -> Iterator[Case]:
    """Readings judged each by itself, by the rule alone: as the office gives it them, without reading them anew."""
    rnd, judge = Random(seed), get(rule).function
    asked = list(_asked(rule))
    for _ in range(count):
        of, size, correction, inputs = rnd.choice(asked)
        near = values_near(rnd, of.edges_nm, rnd.choice(COUNTS), 1)
        values = [value + correction for spot in near for value in spot]
        less = 0 if rule == Coat.Rule.ISO_19840 else correction
        given = replace(inputs, readings_um=tuple(_um(value - less) for value in values))
        told = [{"spot": spot, "order": 1, "value_nm": value} for spot, value in enumerate(values, start=1)]
        wanted = wanted_told(plan_of(of.coat, area_of(size)), size)
        answer = _written(judge(given), mil=False)
        yield Case("judgeThickness", [of.told, wanted, told, correction], answer, part=True)


def _asked(rule: str) -> Iterator[tuple[Film, str, int, Any]]:
    """Every coat, size and correction with what the office's rule is given of it, but for the readings."""
    one, calculation = [ReadingSent(1, 1, 100_000)], get(rule)
    for of, size, correction in product(films(rule), SMALL, (0, 25_000)):
        if judging._unspecified(of.coat, of.coat.through):
            continue
        area, plan = area_of(size), plan_of(of.coat, area_of(size))
        held = judging._held_to(of.coat, area, of.coat.through)
        read = judging._from_readings(rule, plan, judging.spots_of(one, correction), one, correction)
        try:
            yield of, size, correction, Reader().read(calculation.input_type, {**held, **read})
        except InputFault:
            continue


@cache
def _um(nm: int) -> Fraction:
    return Fraction(nm, 1000)


def again(rnd: Random, readings: list[ReadingSent]) -> list[ReadingSent]:
    """Some of the discarded measured again at their spot, once or more; others not yet."""
    more = [
        one._replace(order=9 * one.order + many, void_reason="" if many else rnd.choice(("", "slipped")))
        for one in readings
        if one.void_reason and rnd.random() < 0.8
        for many in range(rnd.randrange(1, 3))
    ]
    return [*readings, *more]
