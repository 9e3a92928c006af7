"""SSPC-PA 2 over arrays: the one place where spot means and area means are held against their limits.

Exact in whole units (nanometres, or any finer part of a micrometre), for one spot as for millions of readings. The
calculation ``dft-pa2`` judges through it what a page, a file or the API gives it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Ids = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
LARGEST_READING_NM = 10**11
_SAFE = 2**62

READINGS_PER_SPOT = 3
SPOTS_PER_AREA = 5


@dataclass(frozen=True)
class Level:
    """Allowed share of the specified minimum and maximum, in percent; None: not restricted."""

    spot_minimum_pct: int
    spot_maximum_pct: int | None
    area_has_maximum: bool = True


LEVELS = {1: Level(100, 100), 2: Level(100, 120), 3: Level(80, 120), 4: Level(80, 150), 5: Level(80, None, False)}


@dataclass(frozen=True)
class Limits:
    """Specified minimum and maximum, in the unit of the readings, and how far the level lets a spot stray."""

    level: Level
    minimum: int
    maximum: int | None = None

    @property
    def of_spot_maximum(self) -> int | None:
        """A hundred times what a spot mean may reach at most."""
        if self.maximum is None or self.level.spot_maximum_pct is None:
            return None
        return self.level.spot_maximum_pct * self.maximum

    @property
    def of_area_maximum(self) -> int | None:
        return self.maximum if self.level.area_has_maximum else None


@dataclass(frozen=True)
class SpotsJudged:
    """Which spots and which area means lie outside their limits, be they measured in full or not.

    The mean of spot i is ``weighted[i] / unit``, that of area j ``totals[j] / wholes[j]``, exactly.
    """

    weighted: npt.NDArray[Any]
    unit: int
    thin: Flags
    thick: Flags
    totals: npt.NDArray[Any]
    wholes: npt.NDArray[Any]
    mean_thin: Flags
    mean_thick: Flags

    def failed(self, first_spots: Ids, *, measured: Flags, complete: Flags) -> Flags:
        """Which areas fail: by a spot measured in full, or, once the area is complete, by its mean (clause 9)."""
        by_a_spot = np.logical_or.reduceat(measured & (self.thin | self.thick), first_spots)
        return by_a_spot | (complete & (self.mean_thin | self.mean_thick))


@dataclass(frozen=True)
class AreaVerdicts:
    """One entry an area, in ascending order of area id, and one entry a spot.

    An area that neither ``passed`` nor ``failed`` is incomplete. ``spot_passed`` is of the readings at hand, be they
    fewer than a spot measurement asks for.
    """

    area_ids: Ids
    passed: Flags
    failed: Flags
    area_means_nm: npt.NDArray[np.float64]
    spot_ids: Ids
    area_of_spot: Ids
    spot_passed: Flags
    spot_means_nm: npt.NDArray[np.float64]


def judge_areas(
    readings_nm: Ids, spot_ids: Ids, area_ids: Ids, *, level: int, minimum_nm: int, maximum_nm: int | None = None
) -> AreaVerdicts:
    """Verdict of every area by SSPC-PA 2, clause 9: of five spots of three readings, or more of either.

    The three arrays run alongside each other, one entry a reading, all int64; ``spot_ids`` need to be unique only
    within an area. Readings sorted by area and spot are judged without being copied. Raises ValueError for arrays of
    unequal length, no readings, readings beyond ``LARGEST_READING_NM``, or contradictory limits.
    """
    _refuse(readings_nm, spot_ids, area_ids, minimum_nm, maximum_nm)
    readings_nm, spots, areas, starts = _grouped(readings_nm, spot_ids, area_ids)
    counts = np.diff(starts, append=len(readings_nm))
    sums = np.add.reduceat(readings_nm, starts)
    first_spots = np.concatenate(([0], 1 + np.flatnonzero(areas[1:] != areas[:-1])))
    found = judge_spots(sums, counts, first_spots, Limits(LEVELS[level], minimum_nm, maximum_nm))
    measured = counts >= READINGS_PER_SPOT
    complete = np.logical_and.reduceat(measured, first_spots)
    complete &= np.diff(first_spots, append=len(counts)) >= SPOTS_PER_AREA
    failed = found.failed(first_spots, measured=measured, complete=complete)
    return AreaVerdicts(
        area_ids=areas[first_spots],
        passed=complete & ~failed,
        failed=failed,
        area_means_nm=(found.totals / found.wholes).astype(np.float64),
        spot_ids=spots,
        area_of_spot=areas,
        spot_passed=~(found.thin | found.thick),
        spot_means_nm=sums / counts,
    )


def judge_spots(sums: npt.NDArray[Any], counts: Ids, first_spots: Ids, limits: Limits) -> SpotsJudged:
    """Every spot and every area mean against the limits; sums against limit × count, so that no mean is rounded.

    ``sums`` and ``counts`` have one entry a spot, area by area; ``first_spots`` tells where each area begins.
    """
    hundredfold, count = 100 * sums, counts.astype(sums.dtype, copy=False)
    thin = (hundredfold < limits.level.spot_minimum_pct * limits.minimum * count).astype(np.bool_)
    ceiling = limits.of_spot_maximum
    thick = np.zeros_like(thin) if ceiling is None else (hundredfold > ceiling * count).astype(np.bool_)
    largest = max(int(sums.max()), -int(sums.min()), limits.maximum or limits.minimum)
    weighted, unit = _weighted(sums, counts, largest)
    totals = np.add.reduceat(weighted, first_spots)
    wholes = np.diff(first_spots, append=len(sums)).astype(weighted.dtype) * unit
    mean_thin = (totals < limits.minimum * wholes).astype(np.bool_)
    most = limits.of_area_maximum
    mean_thick = np.zeros_like(mean_thin) if most is None else (totals > most * wholes).astype(np.bool_)
    return SpotsJudged(weighted, unit, thin, thick, totals, wholes, mean_thin, mean_thick)


def whole_units(values: list[int], largest: int) -> npt.NDArray[Any]:
    """The values as an array that judging can't overflow: 64 bits where they do, else Python's unbounded integers."""
    return np.array(values, dtype=np.int64 if 1000 * (largest + 1) * len(values) < _SAFE else object)


def _refuse(readings: Ids, spots: Ids, areas: Ids, minimum: int, maximum: int | None) -> None:
    if not len(readings) == len(spots) == len(areas):
        raise ValueError("readings_nm, spot_ids and area_ids must be equally long")
    if not len(readings):
        raise ValueError("readings_nm: there are no readings")
    if readings.dtype != np.int64:
        raise ValueError("readings_nm: give whole nanometres as int64")
    if readings.min() < -LARGEST_READING_NM or readings.max() > LARGEST_READING_NM:
        raise ValueError("readings_nm: a reading is far outside anything measured")
    if minimum <= 0 or (maximum is not None and maximum < minimum):
        raise ValueError("maximum_nm: must not be less than minimum_nm, which must be more than 0")


def _grouped(readings: Ids, spots: Ids, areas: Ids) -> tuple[Ids, Ids, Ids, Ids]:
    """Readings by spot, the spots' ids and areas, and where each spot starts."""
    starts = np.concatenate(([0], 1 + np.flatnonzero(spots[1:] != spots[:-1])))
    spots_at, areas_at = spots[starts], areas[starts]
    in_order = np.all(spots_at[1:] > spots_at[:-1]) and np.all(areas_at[1:] >= areas_at[:-1])
    if in_order and np.array_equal(areas_at, areas[np.append(starts[1:], len(spots)) - 1]):
        return readings, spots_at, areas_at, starts
    order = np.lexsort((spots, areas))
    readings, spots, areas = readings[order], spots[order], areas[order]
    starts = np.concatenate(([0], 1 + np.flatnonzero((spots[1:] != spots[:-1]) | (areas[1:] != areas[:-1]))))
    return readings, spots[starts], areas[starts], starts


def _weighted(sums: npt.NDArray[Any], counts: Ids, largest: int) -> tuple[npt.NDArray[Any], int]:
    """The mean of each spot times the same whole number, hence exact: the least common multiple of the counts.

    Where that would overflow 64 bits, Python's unbounded integers take over.
    """
    occurring = np.flatnonzero(np.bincount(counts)).tolist()
    unit = math.lcm(*occurring)
    if sums.dtype != object and unit * (largest + 1) * len(sums) < _SAFE:
        weight_of = np.zeros(occurring[-1] + 1, dtype=np.int64)
        weight_of[occurring] = [unit // count for count in occurring]
        return sums * weight_of[counts], unit
    return sums.astype(object) * (unit // counts.astype(object)), unit
