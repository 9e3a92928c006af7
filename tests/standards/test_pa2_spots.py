"""Areas judged over arrays, in whatever order the readings come, get the verdicts they get one by one."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from inspection.standards import InputFault, calculate
from inspection.standards.pa2_spots import LEVELS, AreasJudged, Limits, judge_areas


def one_by_one(readings: Any, spots: Any, areas: Any, **limits: Any) -> dict[int, str]:
    verdicts = {}
    for area in np.unique(areas):
        here = areas == area
        measured = [
            [Fraction(int(nm), 1000) for nm in readings[here & (spots == spot)]] for spot in np.unique(spots[here])
        ]
        asked = {
            "level": limits["level"],
            "minimum_um": Fraction(limits["minimum_nm"], 1000),
            "maximum_um": limits["maximum_nm"] and Fraction(limits["maximum_nm"], 1000),
            "spots_um": measured,
        }
        verdicts[int(area)] = calculate("dft-pa2", asked)["verdict"]
    return verdicts


def limited(level: int, minimum_nm: int, maximum_nm: int | None = None) -> Limits:
    return Limits(LEVELS[level], minimum_nm, maximum_nm)


def told(got: AreasJudged) -> dict[int, str]:
    return {
        area: "pass" if passed else "fail" if failed else "incomplete"
        for area, passed, failed in zip(got.area_ids.tolist(), got.passed.tolist(), got.failed.tolist(), strict=True)
    }


def generated(rng: np.random.Generator, *, equal: bool) -> tuple[Any, Any, Any]:
    """Areas of one to six spots, spots of one to four readings; many means exactly at a limit."""
    spots_in_area = rng.choice([1, 3, 4, 5, 5, 5, 6], 60)
    area_of_spot = np.repeat(np.arange(60) * 3, spots_in_area)
    counts = np.full(len(area_of_spot), 3) if equal else rng.choice([1, 2, *[3, 4] * 8], len(area_of_spot))
    spots, areas = np.repeat(np.arange(len(counts)), counts), np.repeat(area_of_spot, counts)
    readings = rng.choice([80_000, 100_000, 100_000, 120_000, 150_000, 180_000, 99_900, 100_100, 79_900], len(spots))
    return readings.astype(np.int64), spots.astype(np.int64), areas.astype(np.int64)


@pytest.mark.parametrize("level", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("equal", [True, False])
@pytest.mark.parametrize("maximum", [None, 100_000, 120_000])
@pytest.mark.parametrize("order", ["sorted", "shuffled"])
def test_bulk_verdicts_are_those_of_the_rule(level: int, equal: bool, maximum: int | None, order: str) -> None:
    rng = np.random.default_rng(level * 10 + equal)
    readings, spots, areas = generated(rng, equal=equal)
    limits = {"level": level, "minimum_nm": 100_000, "maximum_nm": maximum}
    wanted = one_by_one(readings, spots, areas, **limits)
    if order == "shuffled":
        shuffle = rng.permutation(len(readings))
        readings, spots, areas = readings[shuffle], spots[shuffle], areas[shuffle]
    got = judge_areas(readings, spots, areas, limited(**limits))
    assert told(got) == wanted


def test_all_three_verdicts_occur_in_the_generated_data() -> None:
    for equal in (True, False):
        got = judge_areas(*generated(np.random.default_rng(30), equal=equal), limited(2, 90_000))
        assert min(Counter(told(got).values()).values()) > 5
        assert len(set(told(got).values())) == 3


def test_spot_ids_need_to_be_unique_within_an_area_only() -> None:
    readings, spots = np.repeat(np.array([90_000, 110_000]), 15), np.tile(np.repeat(np.arange(5), 3), 2)
    got = judge_areas(readings, spots, np.repeat(np.array([7, 8]), 15), limited(3, 100_000))
    assert got.area_ids.tolist() == [7, 8]
    assert got.passed.tolist() == [False, True]
    same_number = judge_areas(
        np.repeat(np.array([70_000, 110_000]), 3), np.ones(6, dtype=np.int64), np.repeat(np.array([7, 8]), 3),
        limited(3, 100_000),
    )  # fmt: skip
    assert same_number.failed.tolist() == [True, False]


def test_a_mean_of_thirds_is_not_rounded() -> None:
    """Spot means 100 1/3 and 99 2/3: their mean is exactly the minimum."""
    readings = np.array([100, 100, 101, 99, 100, 100, *[100] * 9])
    got = judge_areas(readings, np.repeat(np.arange(5), 3), np.zeros(15, dtype=np.int64), limited(3, 100, 100))
    assert got.passed.tolist() == [True]


@pytest.mark.parametrize(("last", "passed"), [(100_000_000, True), (99_999_999, False)])
def test_awkward_numbers_of_readings_stay_exact(last: int, passed: bool) -> None:
    """Spots of 37 different primes' worth of readings: the common multiple is far beyond 64 bits."""
    primes = [n for n in range(3, 164) if all(n % d for d in range(2, n))]
    spots = np.repeat(np.arange(len(primes)), primes)
    readings = np.full(len(spots), 100_000_000, dtype=np.int64)
    readings[-1] = last
    got = judge_areas(readings, spots, np.zeros_like(spots), limited(3, 100_000_000))
    assert got.passed.tolist() == [passed]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"spot_ids": np.array([1])}, "equally long"),
        ({"readings": np.array([1.5, 2.5])}, "int64"),
        ({"readings": np.array([1, 10**18])}, "far outside"),
        ({"limits": limited(3, 10, 9)}, "maximum"),
        ({"limits": limited(3, 0)}, "minimum"),
    ],
)
def test_bad_arrays_are_refused(change: dict[str, Any], said: str) -> None:
    good = {"readings": np.array([10, 11]), "spot_ids": np.array([0, 0]), "area_ids": np.array([0, 0]),
            "limits": limited(3, 10, 20)}  # fmt: skip
    judge_areas(**good)
    with pytest.raises(ValueError, match=said):
        judge_areas(**{**good, **change})


def test_no_readings_are_refused() -> None:
    empty = np.array([], dtype=np.int64)
    with pytest.raises(ValueError, match="there are none"):
        judge_areas(empty, empty, empty, limited(3, 10))


def test_the_calculation_finds_its_verdicts_by_the_arrays(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the speed of judging is measured on is what a page, a file and the API judge by."""
    seen = []

    def counted(readings: Any, *others: Any, **more: Any) -> AreasJudged:
        seen.append(len(readings))
        return judge_areas(readings, *others, **more)

    monkeypatch.setattr("inspection.standards.thickness_pa2.judge_areas", counted)
    areas = [{"spots_um": [[80, 90.1, 100]] * 5}, {"spots_um": [[60, 61, 62]]}]
    assert calculate("dft-pa2", {"level": 3, "minimum_um": 80, "areas": areas})["verdict"] == "fail"
    assert seen == [18]


ODD_NUMBERS = [0.1, 79.999, 1e-7, 123.4567, 99_999.999, 0, 7, 2**53 + 1, 10**40, -1, -0.001, 100_000.001, 1e300,
               float("inf"), float("nan"), True, "7", None, Decimal("80.1"), Fraction(241, 3)]  # fmt: skip


@pytest.mark.parametrize("odd", ODD_NUMBERS, ids=str)
def test_a_number_among_many_is_read_as_it_is_read_alone(odd: Any) -> None:
    def answer(spots: list[list[Any]]) -> Any:
        try:
            found = calculate("dft-pa2", {"level": 3, "minimum_um": 80, "spots_um": spots})
        except InputFault as wrong:
            return [(fault.field, fault.message) for fault in wrong.faults]
        return found["spot_means_um"][-1]

    # A fraction is never read with others at once.
    assert answer([[80.1, 80.2, 80.3], [odd, odd]]) == answer([[Fraction(801, 10), 80.2, 80.3], [odd, odd]])
