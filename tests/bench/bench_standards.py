"""Judging a million readings by SSPC-PA 2: against NumPy computing the means alone, and against a pandas groupby.

As ten uploads of as many readings as a record holds, through the one function by which the calculation, and so every
page, file and request, finds which spots and areas fail. What a whole upload takes is in `bench_upload.py`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from inspection.standards.pa2_spots import LEVELS, Limits, judge_areas
from tests.bench import best_of

UPLOADS, READINGS, SPOTS, AREAS = 10, 100_000, 6_667, 1_333
LIMITS = Limits(LEVELS[3], 100_000, 150_000)
ROUNDS = 40
Arrays = tuple[Any, Any, Any]


def generated() -> list[Arrays]:
    """Uploads of synthetic readings, sorted by area and spot: 15 a spot, 5 spots an area."""
    rng = np.random.default_rng(2)
    spots = np.minimum(np.arange(READINGS) // 15, SPOTS - 1)
    areas = np.minimum(spots // 5, AREAS - 1)
    uploads = []
    for _ in range(UPLOADS):
        level = rng.normal(118_000, 9_000, SPOTS)[spots]
        readings = np.rint(rng.normal(level, 6_000) / 100).astype(np.int64) * 100
        uploads.append((readings, spots.astype(np.int64), areas.astype(np.int64)))
    return uploads


def means_alone(readings: Any, spots: Any, areas: Any) -> Any:
    starts = np.concatenate(([0], 1 + np.flatnonzero(spots[1:] != spots[:-1])))
    spot_means = np.add.reduceat(readings, starts) / np.diff(starts, append=len(readings))
    at = areas[starts]
    first = np.concatenate(([0], 1 + np.flatnonzero(at[1:] != at[:-1])))
    return np.add.reduceat(spot_means, first) / np.diff(first, append=len(at))


def by_pandas(readings: Any, spots: Any, areas: Any) -> Any:
    frame = pd.DataFrame({"area": areas, "spot": spots, "nm": readings})
    spot_means = frame.groupby(["area", "spot"])["nm"].mean()
    spot_ok = (spot_means >= 0.8 * LIMITS.minimum) & (spot_means <= 1.2 * LIMITS.maximum)
    by_area = spot_means.groupby("area").mean()
    area_ok = (by_area >= LIMITS.minimum) & (by_area <= LIMITS.maximum)
    return (spot_ok.groupby("area").all() & area_ok).to_numpy()


def ours(readings: Any, spots: Any, areas: Any) -> Any:
    return judge_areas(readings, spots, areas, LIMITS).passed


def run() -> list[tuple[str, float, str]]:
    """Rows of name, ratio and aim; the contestants take turns, the best round of each counts."""
    uploads = generated()
    for upload in uploads:
        assert np.array_equal(ours(*upload), by_pandas(*upload)), "both must reach the same verdicts"
    best = best_of({
        name: partial(_all_of, contestant, uploads)
        for name, contestant in (("ours", ours), ("means", means_alone), ("pandas", by_pandas))
    }, ROUNDS)  # fmt: skip
    what = "1,000,000 readings in ten uploads judged"
    return [
        (f"{what}, time against NumPy computing the means alone", best["ours"] / best["means"], "≤ 2"),
        (f"{what}, times as fast as a pandas groupby", best["pandas"] / best["ours"], "≥ 5"),
    ]


def _all_of(contestant: Callable[..., Any], uploads: list[Arrays]) -> None:
    for upload in uploads:
        contestant(*upload)


if __name__ == "__main__":
    for name, ratio, aim in run():
        sys.stdout.write(f"{name:75} {ratio:8.2f}   aim {aim}\n")
