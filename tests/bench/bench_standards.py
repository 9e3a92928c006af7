"""Judging a million readings by SSPC-PA 2: against NumPy computing the means alone, and against a pandas groupby."""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import perf_counter
from typing import Any

import numpy as np
import pandas as pd

from inspection.standards.pa2_spots import judge_areas

READINGS, SPOTS, AREAS = 1_000_000, 66_667, 13_333
LIMITS = {"level": 3, "minimum_nm": 100_000, "maximum_nm": 150_000}
ROUNDS = 40


def generated() -> tuple[Any, Any, Any]:
    """Synthetic readings, sorted by area and spot: 15 a spot, 5 spots an area."""
    rng = np.random.default_rng(2)
    spots = np.minimum(np.arange(READINGS) // 15, SPOTS - 1)
    areas = np.minimum(spots // 5, AREAS - 1)
    level = rng.normal(118_000, 9_000, SPOTS)[spots]
    readings = np.rint(rng.normal(level, 6_000) / 100).astype(np.int64) * 100
    return readings, spots.astype(np.int64), areas.astype(np.int64)


def means_alone(readings: Any, spots: Any, areas: Any) -> Any:
    starts = np.concatenate(([0], 1 + np.flatnonzero(spots[1:] != spots[:-1])))
    spot_means = np.add.reduceat(readings, starts) / np.diff(starts, append=len(readings))
    at = areas[starts]
    first = np.concatenate(([0], 1 + np.flatnonzero(at[1:] != at[:-1])))
    return np.add.reduceat(spot_means, first) / np.diff(first, append=len(at))


def by_pandas(readings: Any, spots: Any, areas: Any) -> Any:
    frame = pd.DataFrame({"area": areas, "spot": spots, "nm": readings})
    spot_means = frame.groupby(["area", "spot"])["nm"].mean()
    spot_ok = (spot_means >= 0.8 * LIMITS["minimum_nm"]) & (spot_means <= 1.2 * LIMITS["maximum_nm"])
    by_area = spot_means.groupby("area").mean()
    area_ok = (by_area >= LIMITS["minimum_nm"]) & (by_area <= LIMITS["maximum_nm"])
    return (spot_ok.groupby("area").all() & area_ok).to_numpy()


def ours(readings: Any, spots: Any, areas: Any) -> Any:
    return judge_areas(readings, spots, areas, **LIMITS).passed


def run() -> list[tuple[str, float, str]]:
    """Rows of name, ratio and aim; the contestants take turns, the best round of each counts."""
    data = generated()
    assert np.array_equal(ours(*data), by_pandas(*data)), "both must reach the same verdicts"
    best = _best_of({"ours": ours, "means": means_alone, "pandas": by_pandas}, data)
    return [
        (
            "1,000,000 readings judged, time against NumPy computing the means alone",
            best["ours"] / best["means"],
            "≤ 2",
        ),
        ("1,000,000 readings judged, times as fast as a pandas groupby", best["pandas"] / best["ours"], "≥ 5"),
    ]


def _best_of(contestants: dict[str, Callable[..., Any]], data: tuple[Any, ...]) -> dict[str, float]:
    best = dict.fromkeys(contestants, float("inf"))
    for _ in range(ROUNDS):
        for name, contestant in contestants.items():
            start = perf_counter()
            contestant(*data)
            best[name] = min(best[name], perf_counter() - start)
    return best


if __name__ == "__main__":
    for name, ratio, aim in run():
        sys.stdout.write(f"{name:75} {ratio:8.2f}   aim {aim}\n")
