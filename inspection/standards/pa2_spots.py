"""SSPC-PA 2 over arrays: the one place where spot means and area means are held against their limits.

Exact in whole units (nanometres, or any finer part of a micrometre), for one spot as for millions of readings. The
calculation ``dft-pa2`` judges through ``judge_areas`` what a page, a file, the API or the command line gives it.
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
class AreasJudged:
    """One entry an area, in ascending order of area id; ``spots`` has its own, spot by spot, area by area.

    An area that is not ``complete`` and did not fail is incomplete. ``first_spots`` tells where each area begins.
    """

    area_ids: Ids
    complete: Flags
    failed: Flags
    first_spots: Ids
    spots: SpotsJudged

    @property
    def passed(self) -> Flags:
        return self.complete & ~self.failed


def judge_areas(
    readings: npt.NDArray[Any], spot_ids: Ids, area_ids: Ids, limits: Limits, *,
    spot_means: Flags | None = None, unfinished: Ids | None = None, spots_asked: Ids | None = None,
) -> AreasJudged:  # fmt: skip
    """Verdict of every area by SSPC-PA 2, clause 9: of five spots of three readings, or more of either.

    The three arrays run alongside each other, one entry a reading: readings in whole units (those of the limits) as
    int64, or as Python's integers where 64 bits do not hold them (``whole_units``). ``spot_ids`` need to be unique only
    within an area. Readings sorted by area and spot are judged without being copied. ``spot_means`` tells which
    readings are the mean of a spot by themselves, ``unfinished`` which areas lack something else than spots and
    readings, ``spots_asked`` how many spots each area asks for, in ascending order of area id, where not five of all.
    Raises ValueError for arrays of unequal length, no readings, readings beyond ``LARGEST_READING_NM``, or
    contradictory limits.
    """
    _refuse(readings, spot_ids, area_ids, limits)
    starts, order = _starts(spot_ids, area_ids), None
    if not _in_order(spot_ids[starts], area_ids[starts]):
        order = np.lexsort((spot_ids, area_ids))
        readings, spot_ids, area_ids = readings[order], spot_ids[order], area_ids[order]
        starts = _starts(spot_ids, area_ids)
    areas = area_ids[starts]
    counts = np.diff(starts, append=len(readings))
    first_spots = np.concatenate(([0], 1 + np.flatnonzero(areas[1:] != areas[:-1])))
    found = judge_spots(np.add.reduceat(readings, starts), counts, first_spots, limits)
    measured = counts >= READINGS_PER_SPOT
    if spot_means is not None:
        measured |= (spot_means if order is None else spot_means[order])[starts]
    complete = np.logical_and.reduceat(measured, first_spots)
    complete &= np.diff(first_spots, append=len(counts)) >= (SPOTS_PER_AREA if spots_asked is None else spots_asked)
    if unfinished is not None:
        complete &= ~np.isin(areas[first_spots], unfinished)
    failed = found.failed(first_spots, measured=measured, complete=complete)
    return AreasJudged(areas[first_spots], complete, failed, first_spots, found)


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
    return np.array(values, dtype=np.int64 if _fits(largest, len(values)) else object)


def _fits(largest: int, many: int) -> bool:
    return 1000 * (largest + 1) * many < _SAFE


def _refuse(readings: npt.NDArray[Any], spots: Ids, areas: Ids, limits: Limits) -> None:
    if not len(readings) == len(spots) == len(areas):
        raise ValueError("readings, spot_ids and area_ids must be equally long")
    if not len(readings):
        raise ValueError("readings: there are none")
    if readings.dtype not in (np.int64, object):
        raise ValueError("readings: give whole units as int64")
    largest = max(abs(int(readings.min())), abs(int(readings.max())))
    if readings.dtype != object and largest > LARGEST_READING_NM and not _fits(largest, len(readings)):
        raise ValueError("readings: one is far outside anything measured")
    if limits.minimum <= 0 or (limits.maximum is not None and limits.maximum < limits.minimum):
        raise ValueError("maximum: must not be less than minimum, which must be more than 0")


def _in_order(spots: Ids, areas: Ids) -> bool:
    """Whether these are areas and their spots, each once, in ascending order."""
    ascending = (areas[1:] > areas[:-1]) | ((areas[1:] == areas[:-1]) & (spots[1:] > spots[:-1]))
    return bool(ascending.all())


def _starts(spots: Ids, areas: Ids) -> Ids:
    changes = spots[1:] != spots[:-1]
    changes |= areas[1:] != areas[:-1]
    return np.concatenate(([0], 1 + np.flatnonzero(changes)))


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
