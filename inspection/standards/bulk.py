"""SSPC-PA 2 for millions of readings at once, in NumPy, exact in whole nanometres.

For recomputing standing or verdicts of a whole project; one record is judged by the calculation ``dft-pa2``, and both
give the same verdicts: an area with fewer than five spots, or a spot with fewer than three readings, is incomplete
unless one of its spots measured breaks a limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from inspection.standards.thickness_pa2 import LEVELS, READINGS_PER_SPOT, SPOTS_PER_AREA, Level

Ids = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
LARGEST_READING_NM = 10**11
_SAFE = 2**62


@dataclass(frozen=True)
class BulkVerdicts:
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


def judge_pa2(
    readings_nm: Ids, spot_ids: Ids, area_ids: Ids, *, level: int, minimum_nm: int, maximum_nm: int | None = None
) -> BulkVerdicts:
    """Verdict of every area by SSPC-PA 2, clause 9.

    The three arrays run alongside each other, one entry a reading, all int64; ``spot_ids`` need to be unique only
    within an area. Readings sorted by area and spot are judged without being copied. Raises ValueError for arrays of
    unequal length, no readings, readings beyond ``LARGEST_READING_NM``, or contradictory limits.
    """
    _refuse(readings_nm, spot_ids, area_ids, minimum_nm, maximum_nm)
    readings_nm, spots, areas, starts = _grouped(readings_nm, spot_ids, area_ids)
    counts = np.diff(starts, append=len(readings_nm))
    sums = np.add.reduceat(readings_nm, starts)
    spot_passed = _spots_pass(sums, counts, LEVELS[level], minimum_nm, maximum_nm)
    first_spots = np.concatenate(([0], 1 + np.flatnonzero(areas[1:] != areas[:-1])))
    largest = max(int(sums.max()), -int(sums.min()), maximum_nm or minimum_nm)
    total, whole = _sums_of_means(sums, counts, first_spots, largest)
    mean_passed = total >= minimum_nm * whole
    if maximum_nm is not None and LEVELS[level].area_has_maximum:
        mean_passed &= total <= maximum_nm * whole
    measured = counts >= READINGS_PER_SPOT
    complete = np.logical_and.reduceat(measured, first_spots)
    complete &= np.diff(first_spots, append=len(counts)) >= SPOTS_PER_AREA
    failed = np.logical_or.reduceat(measured & ~spot_passed, first_spots) | (complete & ~mean_passed.astype(np.bool_))
    return BulkVerdicts(
        area_ids=areas[first_spots],
        passed=complete & ~failed,
        failed=failed,
        area_means_nm=(total / whole).astype(np.float64),
        spot_ids=spots,
        area_of_spot=areas,
        spot_passed=spot_passed,
        spot_means_nm=sums / counts,
    )


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


def _spots_pass(sums: Ids, counts: Ids, level: Level, minimum: int, maximum: int | None) -> Flags:
    """Sums against limit × count, so that no mean is rounded."""
    hundredfold = 100 * sums
    passed: Flags = hundredfold >= level.spot_minimum_pct * minimum * counts
    if maximum is not None and level.spot_maximum_pct is not None:
        passed &= hundredfold <= level.spot_maximum_pct * maximum * counts
    return passed


def _sums_of_means(sums: Ids, counts: Ids, first_spots: Ids, largest: int) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Sum of the spot means of each area, and its number of spots, both times the same whole number, hence exact.

    That number is the least common multiple of the numbers of readings a spot. Where it would overflow 64 bits,
    Python's unbounded integers take over.
    """
    spots_in_area = np.diff(first_spots, append=len(sums))
    occurring = np.flatnonzero(np.bincount(counts)).tolist()
    unit = math.lcm(*occurring)
    if unit * (largest + 1) * len(sums) < _SAFE:
        weight_of = np.zeros(occurring[-1] + 1, dtype=np.int64)
        weight_of[occurring] = [unit // count for count in occurring]
        return np.add.reduceat(sums * weight_of[counts], first_spots), spots_in_area * unit
    weights = unit // counts.astype(object)
    return np.add.reduceat(sums.astype(object) * weights, first_spots), spots_in_area.astype(object) * unit
