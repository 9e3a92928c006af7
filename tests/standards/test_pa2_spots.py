"""Judging in bulk gives the verdicts of ``dft-pa2``, reading for reading."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from inspection.standards import calculate
from inspection.standards.pa2_spots import AreaVerdicts, judge_areas


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


def told(got: AreaVerdicts) -> dict[int, str]:
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
    got = judge_areas(readings, spots, areas, **limits)
    assert told(got) == wanted


def test_all_three_verdicts_occur_in_the_generated_data() -> None:
    for equal in (True, False):
        got = judge_areas(*generated(np.random.default_rng(30), equal=equal), level=2, minimum_nm=90_000)
        assert min(Counter(told(got).values()).values()) > 5
        assert len(set(told(got).values())) == 3


def test_spot_ids_need_to_be_unique_within_an_area_only() -> None:
    readings, spots = np.repeat(np.array([90_000, 110_000]), 15), np.tile(np.repeat(np.arange(5), 3), 2)
    got = judge_areas(readings, spots, np.repeat(np.array([7, 8]), 15), level=3, minimum_nm=100_000)
    assert got.area_ids.tolist() == [7, 8]
    assert got.passed.tolist() == [False, True]
    same_number = judge_areas(
        np.repeat(np.array([70_000, 110_000]), 3), np.ones(6, dtype=np.int64), np.repeat(np.array([7, 8]), 3),
        level=3, minimum_nm=100_000,
    )  # fmt: skip
    assert same_number.failed.tolist() == [True, False]


def test_a_mean_of_thirds_is_not_rounded() -> None:
    """Spot means 100 1/3 and 99 2/3: their mean is exactly the minimum."""
    readings = np.array([100, 100, 101, 99, 100, 100, *[100] * 9])
    got = judge_areas(readings, np.repeat(np.arange(5), 3), np.zeros(15, dtype=np.int64),
                    level=3, minimum_nm=100, maximum_nm=100)  # fmt: skip
    assert got.passed.tolist() == [True]


@pytest.mark.parametrize(("last", "passed"), [(100_000_000, True), (99_999_999, False)])
def test_awkward_numbers_of_readings_stay_exact(last: int, passed: bool) -> None:
    """Spots of 37 different primes' worth of readings: the common multiple is far beyond 64 bits."""
    primes = [n for n in range(3, 164) if all(n % d for d in range(2, n))]
    spots = np.repeat(np.arange(len(primes)), primes)
    readings = np.full(len(spots), 100_000_000, dtype=np.int64)
    readings[-1] = last
    got = judge_areas(readings, spots, np.zeros_like(spots), level=3, minimum_nm=100_000_000)
    assert got.passed.tolist() == [passed]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"spot_ids": np.array([1])}, "equally long"),
        ({"readings_nm": np.array([1.5, 2.5])}, "int64"),
        ({"readings_nm": np.array([1, 10**12])}, "far outside"),
        ({"maximum_nm": 9}, "maximum_nm"),
        ({"minimum_nm": 0}, "minimum_nm"),
    ],
)
def test_bad_arrays_are_refused(change: dict[str, Any], said: str) -> None:
    good = {"readings_nm": np.array([10, 11]), "spot_ids": np.array([0, 0]), "area_ids": np.array([0, 0]),
            "level": 3, "minimum_nm": 10, "maximum_nm": 20}  # fmt: skip
    judge_areas(**good)
    with pytest.raises(ValueError, match=said):
        judge_areas(**{**good, **change})


def test_no_readings_are_refused() -> None:
    empty = np.array([], dtype=np.int64)
    with pytest.raises(ValueError, match="no readings"):
        judge_areas(empty, empty, empty, level=3, minimum_nm=10)
