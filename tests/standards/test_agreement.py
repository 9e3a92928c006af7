"""The rules agree with a second, naive writing of them on more than 100,000 seeded cases, limits and ties included."""

from __future__ import annotations

import random
from typing import Any

import pytest

from inspection.standards import calculate
from tests.standards import naive

CASES = {"dft-pa2": 42_000, "dft-iso19840": 26_000, "dft-imo-pspc": 16_000, "dft-custom": 8_000,
         "dft-pa2-extent": 8_000, "verify-gauge": 8_000}  # fmt: skip


def test_the_cases_are_a_hundred_thousand() -> None:
    assert sum(CASES.values()) >= 100_000


def _um(tenths: int | None) -> float | int | None:
    return None if tenths is None else tenths / 10


def _near(rng: random.Random, limits: list[int], low: int, high: int) -> int:
    """A value at a limit, just beside one, or anywhere."""
    pick = rng.random()
    if pick < 0.35:
        return rng.choice(limits)
    if pick < 0.6:
        return max(0, rng.choice(limits) + rng.choice((-2, -1, 1, 2)))
    return rng.randint(low, high)


def _seen_all(verdicts: dict[Any, int]) -> None:
    """Guard against a generator that only ever passes or fails."""
    assert min(verdicts.values()) > sum(verdicts.values()) // 20, verdicts


def _leveled(rng: random.Random, readings: list[int], target: int) -> list[int]:
    """Moves the last reading so that the sum hits the target's multiple exactly, where that is possible."""
    last = target * len(readings) - sum(readings[:-1])
    return [*readings[:-1], last] if last >= 0 else readings


# Areas that one call judges: the limits are read once for all of them.
TOGETHER = 12


def _spots(rng: random.Random, limits: list[int], minimum: int, maximum: int | None) -> list[list[int]]:
    spots, fewest = [], rng.choice((1, 3, 3))
    for _ in range(rng.choice((1, 2, 3, 4, 5, 5, 5, 5, 6))):
        readings = [_near(rng, limits, minimum * 7 // 10, (maximum or minimum) * 13 // 10)
                    for _ in range(rng.randint(fewest, 4))]  # fmt: skip
        spots.append(_leveled(rng, readings, rng.choice(limits)) if rng.random() < 0.6 else readings)
    return spots


def test_ssp_pa2_agrees() -> None:
    rng, verdicts = random.Random(20240531), {"pass": 0, "fail": 0, "incomplete": 0}
    for case in range(CASES["dft-pa2"] // TOGETHER):
        level = rng.randint(1, 5)
        minimum = rng.choice((1000, 1250, 640, 800, 995))
        maximum = rng.choice((None, minimum, minimum + 5, minimum * 3 // 2, 2 * minimum))
        limits = [minimum, minimum * 8 // 10]
        if maximum:
            limits += [maximum, maximum * 12 // 10, maximum * 15 // 10]
        areas = [_spots(rng, limits, minimum, maximum) for _ in range(TOGETHER)]
        wanted = [naive.pa2_verdict(level, minimum, maximum, spots) for spots in areas]
        asked = {"level": level, "minimum_um": _um(minimum), "maximum_um": _um(maximum)}
        sent = [[[_um(r) for r in spot] for spot in spots] for spots in areas]
        got = calculate("dft-pa2", asked | {"areas": [{"spots_um": spots} for spots in sent]})
        assert [area["verdict"] for area in got["areas"]] == wanted, (case, level, minimum, maximum, areas)
        alone = case % TOGETHER
        by_itself = calculate("dft-pa2", asked | {"spots_um": sent[alone]})
        assert by_itself["verdict"] == wanted[alone], (case, level, minimum, maximum, areas[alone])
        for verdict in wanted:
            verdicts[verdict] += 1
    _seen_all(verdicts)


def test_iso_19840_agrees() -> None:
    rng, verdicts = random.Random(19840), {True: 0, False: 0}
    for case in range(CASES["dft-iso19840"]):
        nominal = rng.choice((1000, 2000, 2405))
        maximum = rng.choice((None, None, nominal * 3, nominal * 11 // 10))
        correction = rng.choice((0, 0, 100, 250, 400))
        count = rng.choice((5, 10, 15, 20))
        # A few readings below nominal, sometimes under the floor; the rest carry the mean to or near nominal.
        below = rng.choice((0, count // 5 - 1, count // 5, count // 5 + 1))
        low = [rng.choice((nominal * 8 // 10, nominal * 8 // 10, nominal - 1, nominal * 9 // 10, nominal * 8 // 10 - 1))
               for _ in range(below)]  # fmt: skip
        high = [nominal + rng.choice((0, 0, 1, 100, 400)) for _ in range(count - below)]
        values = low + high
        if rng.random() < 0.4:
            values[-1] = max(0, nominal * count - sum(values[:-1]) + rng.choice((-1, 0, 0, 1)))
        readings = [value + correction for value in values]
        rng.shuffle(readings)
        wanted = naive.iso_19840(nominal, maximum, readings, correction)
        got = calculate("dft-iso19840", {"nominal_um": _um(nominal), "maximum_um": _um(maximum),
                                         "correction_um": _um(correction),
                                         "readings_um": [_um(r) for r in readings]})  # fmt: skip
        assert (got["verdict"] == "pass") is wanted, (case, nominal, maximum, correction, readings)
        verdicts[wanted] += 1
    _seen_all(verdicts)


def test_imo_90_10_agrees() -> None:
    rng, verdicts = random.Random(215), {True: 0, False: 0}
    for case in range(CASES["dft-imo-pspc"]):
        nominal = rng.choice((3200, 2500, 3205))
        maximum = rng.choice((None, None, 5000))
        count = rng.choice((5, 10, 10, 20, 20, 11, 19))
        below = rng.choice((0, count // 10, count // 10, count // 10 + 1))
        floor = nominal * 9 // 10
        readings = [rng.choice((floor, floor + 1, nominal - 1, floor - rng.randint(0, 1))) for _ in range(below)]
        readings += [nominal + rng.choice((0, 1, 300)) for _ in range(count - below)]
        if rng.random() < 0.15:
            readings[-1] = 5000 + rng.randint(0, 1)
        rng.shuffle(readings)
        wanted = naive.imo_90_10(nominal, maximum, readings)
        got = calculate("dft-imo-pspc", {"nominal_um": _um(nominal), "maximum_um": _um(maximum),
                                         "readings_um": [_um(r) for r in readings]})  # fmt: skip
        assert (got["verdict"] == "pass") is wanted, (case, nominal, maximum, readings)
        verdicts[wanted] += 1
    _seen_all(verdicts)


def test_declared_rule_agrees() -> None:
    rng, verdicts = random.Random(7), {True: 0, False: 0}
    for case in range(CASES["dft-custom"]):
        low, nominal, mean_low, mean_high, high = 800, 1000, 1000, 1500, 2000
        limits = {
            name: value if rng.random() < 0.7 else None
            for name, value in (
                ("minimum_mean_um", mean_low),
                ("maximum_mean_um", mean_high),
                ("minimum_each_um", low),
                ("maximum_each_um", high),
                ("nominal_um", nominal),
            )
        }
        if all(value is None for value in limits.values()):
            continue
        count = rng.choice((4, 5, 10, 20))
        share, fewer = rng.choice((0, 5, 10, 20, 25)), rng.random() < 0.5
        readings = [rng.choice((low, nominal, nominal + 1, 1200, 1400, 1400)) for _ in range(count)]
        if rng.random() < 0.5:
            readings[0] = rng.choice((low - 1, high, high + 1, nominal - 1))
        if rng.random() < 0.5:
            readings = _leveled(rng, readings, rng.choice((mean_low, mean_high)))
        wanted = naive.declared(readings, mean_low=limits["minimum_mean_um"], mean_high=limits["maximum_mean_um"],
                                low=limits["minimum_each_um"], high=limits["maximum_each_um"],
                                nominal=limits["nominal_um"], share_pct=share, fewer=fewer)  # fmt: skip
        asked = {"rule": "declared", **{name: _um(value) for name, value in limits.items()},
                 "readings_um": [_um(r) for r in readings]}  # fmt: skip
        if limits["nominal_um"] is not None:
            asked |= {"share_below_pct": share, "share_meaning": "fewer than" if fewer else "at most"}
        assert (calculate("dft-custom", asked)["verdict"] == "pass") is wanted, (case, asked)
        verdicts[wanted] += 1
    _seen_all(verdicts)


def test_extent_of_one_direction_agrees() -> None:
    rng, stops = random.Random(8), {True: 0, False: 0}
    for case in range(CASES["dft-pa2-extent"]):
        minimum, maximum = 1000, rng.choice((None, 1500))
        spots = [[_near(rng, [minimum, maximum or 1500], 900, 1600) for _ in range(rng.randint(1, 3))]
                 for _ in range(rng.randint(1, 8))]  # fmt: skip
        wanted = naive.extent_stop(minimum, maximum, spots)
        got = calculate(
            "dft-pa2-extent",
            {
                "minimum_um": _um(minimum),
                "maximum_um": _um(maximum),
                "direction_spots_um": [[_um(r) for r in spot] for spot in spots],
            },
        )
        assert got.get("stops_after_index") == wanted, (case, spots)
        assert got["spots_taken"] == (len(spots) if wanted is None else wanted + 1)
        stops[wanted is not None] += 1
    _seen_all(stops)


@pytest.mark.parametrize("combination", ["root-sum-square", "sum"])
def test_verification_of_a_gauge_agrees(combination: str) -> None:
    rng, verdicts = random.Random(7091), {True: 0, False: 0}
    for case in range(CASES["verify-gauge"] // 2):
        certified = rng.choice((0, 500, 1270, 2500, 10_000))
        accuracy_tenth_pct, accuracy = rng.choice((0, 10, 30)), rng.choice((0, 10, 20))
        if not accuracy_tenth_pct and not accuracy:
            continue
        # 3-4-5 and 5-12-13 triangles put errors exactly on the combined tolerance.
        own = (certified * accuracy_tenth_pct + 1000 * accuracy) // 1000
        uncertainties = rng.choice(([0], [own * 3 // 4], [own * 12 // 5], [rng.randint(0, 30)], [3, 4]))
        edge = rng.choice((own, own * 5 // 4, own * 13 // 5, own + sum(uncertainties)))
        error = rng.choice((edge, edge, edge + 1, edge - 1, rng.randint(0, 2 * edge + 5))) * rng.choice((1, -1))
        count = rng.choice((1, 3, 4))
        readings = [certified + error] * count
        if count > 1:
            readings[0], readings[1] = readings[0] + 3, readings[1] - 3
        wanted = naive.gauge_point(certified, readings, accuracy_tenth_pct, accuracy, uncertainties,
                                   squares=combination == "root-sum-square")  # fmt: skip
        stack = [certified, *[0] * (len(uncertainties) - 1)]
        got = calculate("verify-gauge", {
            "accuracy_pct": accuracy_tenth_pct / 10, "accuracy_um": _um(accuracy), "combination": combination,
            "points": [{"certified_um": [_um(part) for part in stack],
                        "expanded_uncertainty_um": [_um(u) for u in uncertainties],
                        "readings_um": [_um(r) for r in readings]}]})  # fmt: skip
        assert (got["verdict"] == "pass") is wanted, (
            case,
            certified,
            readings,
            accuracy_tenth_pct,
            accuracy,
            uncertainties,
        )
        verdicts[wanted] += 1
    _seen_all(verdicts)


def test_sampling_plans_agree_at_every_tenth_of_a_square_metre() -> None:
    for tenths in (*range(1, 1205), *range(1990, 2012), *range(9990, 10_002)):
        iso = calculate("sampling-plan", {"standard": "ISO 19840", "area_m2": tenths / 10})
        assert (iso["readings_required"], iso["repeats_allowed"]) == naive.iso_19840_plan(tenths), tenths
        pa2 = calculate("sampling-plan", {"standard": "SSPC-PA 2", "area_m2": tenths / 10})
        assert pa2["areas_to_measure"] == naive.pa2_plan(tenths), tenths
