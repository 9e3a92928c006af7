"""Judging in bulk gives the verdicts of ``dft-pa2``, reading for reading."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from inspection.standards import calculate
from inspection.standards.bulk import judge_pa2


def one_by_one(readings: Any, spots: Any, areas: Any, **limits: Any) -> dict[int, bool]:
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
        verdicts[int(area)] = calculate("dft-pa2", asked)["verdict"] == "pass"
    return verdicts


def generated(rng: np.random.Generator, *, equal: bool) -> tuple[Any, Any, Any]:
    """Areas of one to five spots, spots of one to four readings; many means exactly at a limit."""
    spots_in_area = rng.integers(1, 6, 60)
    area_of_spot = np.repeat(np.arange(60) * 3, spots_in_area)
    counts = np.full(len(area_of_spot), 3) if equal else rng.integers(1, 5, len(area_of_spot))
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
    got = judge_pa2(readings, spots, areas, **limits)
    assert dict(zip(got.area_ids.tolist(), got.passed.tolist(), strict=True)) == wanted


def test_both_verdicts_occur_in_the_generated_data() -> None:
    data = generated(np.random.default_rng(30), equal=True)
    passed = judge_pa2(*data, level=5, minimum_nm=100_000).passed
    assert 5 < passed.sum() < 55


def test_spot_ids_need_to_be_unique_within_an_area_only() -> None:
    got = judge_pa2(np.array([90_000, 90_000, 110_000, 110_000]), np.array([1, 2, 1, 2]), np.array([7, 7, 8, 8]),
                    level=3, minimum_nm=100_000)  # fmt: skip
    assert got.area_ids.tolist() == [7, 8]
    assert got.passed.tolist() == [False, True]
    same_number = judge_pa2(
        np.array([90_000, 110_000]), np.array([1, 1]), np.array([7, 8]), level=3, minimum_nm=100_000
    )
    assert same_number.passed.tolist() == [False, True]


def test_a_mean_of_thirds_is_not_rounded() -> None:
    """Spot means 100 1/3 and 99 2/3: their mean is exactly the minimum."""
    got = judge_pa2(np.array([100, 100, 101, 99, 100, 100]), np.array([0, 0, 0, 1, 1, 1]), np.zeros(6, dtype=np.int64),
                    level=3, minimum_nm=100, maximum_nm=100)  # fmt: skip
    assert got.passed.tolist() == [True]


@pytest.mark.parametrize(("last", "passed"), [(100_000_000, True), (99_999_999, False)])
def test_awkward_numbers_of_readings_stay_exact(last: int, passed: bool) -> None:
    """Spots of 37 different primes' worth of readings: the common multiple is far beyond 64 bits."""
    primes = [n for n in range(2, 160) if all(n % d for d in range(2, n))]
    spots = np.repeat(np.arange(len(primes)), primes)
    readings = np.full(len(spots), 100_000_000, dtype=np.int64)
    readings[-1] = last
    got = judge_pa2(readings, spots, np.zeros_like(spots), level=3, minimum_nm=100_000_000)
    assert got.passed.tolist() == [passed]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"spot_ids": np.array([1])}, "equally long"),
        ({"readings_nm": np.array([1.5, 2.5])}, "int64"),
        ({"readings_nm": np.array([1, 10**12])}, "far outside"),
        ({"maximum_nm": 9}, "maximum_nm"),
        ({"minimum_nm": 0}, "minimum_nm"),
    ],
)
def test_bad_arrays_are_refused(change: dict[str, Any], told: str) -> None:
    good = {"readings_nm": np.array([10, 11]), "spot_ids": np.array([0, 0]), "area_ids": np.array([0, 0]),
            "level": 3, "minimum_nm": 10, "maximum_nm": 20}  # fmt: skip
    judge_pa2(**good)
    with pytest.raises(ValueError, match=told):
        judge_pa2(**{**good, **change})


def test_no_readings_are_refused() -> None:
    empty = np.array([], dtype=np.int64)
    with pytest.raises(ValueError, match="no readings"):
        judge_pa2(empty, empty, empty, level=3, minimum_nm=10)
