"""What in a record's readings deserves a question: never a verdict, and asked of hardly any honest record.

Each question has a chance of 1 in 4,000 at most of being asked of an honest record, so that all of them together are
asked of fewer than 1 in 1,000; our own figure, checked on simulated honest data. Readings are whole nanometres as the
gauge showed them, in the order in which they were taken.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from zlib import crc32

import numpy as np
import numpy.typing as npt

ALPHA = 1 / 4_000
"""Chance of one question at an honest record."""
Readings = npt.NDArray[np.int64]

# Repeated sequences
GRAM, WINDOW = 6, 7
SHORTEST_RUN = GRAM + WINDOW - 1
"""A run so long shares at least one print with its twin (winnowing: the least of each window of seven)."""
FEWEST_VALUES = 3
# Scatter
FEWEST_FREEDOM = 4
LEAST_STEPS = 1.0
"""The gauge's own scatter in steps of its display; below it, rounding decides what is seen."""
# Last digits
FEWEST_DIGITS = 100
FLAT_FROM_STEPS = 6.0
"""Scatter from reading to reading, in steps, from which honest last digits are evenly spread."""
DECADES_NM = (10_000, 100_000, 1_000_000)
"""Where displays change their step: 10, 100 and 1,000 µm; readings of one stretch are taken together."""


@dataclass(frozen=True, kw_only=True)
class Repeat:
    """Readings from ``first`` on (counted from 0) that stand in the same order elsewhere, from ``other_first`` on."""

    length: int
    first: int
    other_first: int


def prints_of(values: Readings) -> list[tuple[int, int]]:
    """(print, position) of the readings: of each window of seven sequences of six, that with the least code.

    Two records that share a run of twelve readings share a print. Sequences of fewer than three different values are
    passed over: a run of equal readings tells nothing.
    """
    count = len(values) - GRAM + 1
    if count < 1:
        return []
    grams = np.lib.stride_tricks.sliding_window_view(values, GRAM)
    ordered = np.sort(grams, axis=1)
    varied = 1 + np.count_nonzero(np.diff(ordered, axis=1), axis=1) >= FEWEST_VALUES
    codes = [crc32(np.ascontiguousarray(gram, dtype="<i8").tobytes()) for gram in grams]
    found: dict[int, int] = {}
    for start in range(max(count - WINDOW + 1, 1)):
        window = [at for at in range(start, min(start + WINDOW, count)) if varied[at]]
        if window:
            least = min(window, key=lambda at: (codes[at], -at))
            found[least] = codes[least]
    return [(code, at) for at, code in sorted(found.items())]


def longest_repeat(values: Readings, other: Readings, first: int, other_first: int) -> Repeat:
    """The run around a shared place, as long as it goes in both directions; length 0 where the place is not shared."""
    back = 0
    while back < min(first, other_first) and values[first - back - 1] == other[other_first - back - 1]:
        back += 1
    ahead = 0
    most = min(len(values) - first, len(other) - other_first)
    while ahead < most and values[first + ahead] == other[other_first + ahead]:
        ahead += 1
    length = back + ahead if ahead else 0
    return Repeat(length=length, first=first - back, other_first=other_first - back)


def run_to_ask_of(values: Readings, compared: int) -> int | None:
    """From which length on a run that also stands elsewhere is asked about; None where no length would do.

    Of n readings held against m, n m qᴸ runs of length L agree by chance, q being the chance that two readings agree.
    It is taken from the record itself, the larger of two: that any two agree, and that two do which follow on two that
    agree; readings of one spot lie together. A margin is added for what so few readings leave unsure.
    """
    agreeing = chance_of_agreeing(values)
    if agreeing >= 1:
        return None
    length = math.ceil(math.log(ALPHA / (len(values) * max(compared, 1))) / math.log(agreeing))
    return max(length, SHORTEST_RUN)


def chance_of_agreeing(values: Readings) -> float:
    """The chance that two readings of a record agree, with its margin; 1 where they say nothing."""
    some = values[:500]
    same = some[:, None] == some[None, :]
    np.fill_diagonal(same, val=False)
    pairs = len(some) * (len(some) - 1)
    if pairs < 2:
        return 1.0
    alike = int(same.sum())
    before = same[:-1, :-1]
    follow = int((before & same[1:, 1:]).sum()) / max(int(before.sum()), 1)
    return min(1.0, 1.25 * max(alike / pairs, follow) + 0.05)


@dataclass(frozen=True, kw_only=True)
class LittleScatter:
    """Standard deviations in nm with their degrees of freedom, and how rarely chance alone brings them so far apart."""

    scatter_nm: float
    freedom: int
    gauge_nm: float
    gauge_freedom: int
    chance: float


def little_scatter(
    values: Readings, spots: npt.NDArray[np.int64], on_standards: Sequence[Sequence[int]]
) -> LittleScatter | None:
    """Whether readings scatter less than the same gauge did on its standards; None where that is not asked.

    Within spots where they have several readings, else over the record. A film scatters too, so an honest record lies
    at or above the gauge: the ratio of variances is held against Snedecor's F, which is its worst case. Not asked where
    the gauge scatters less than a step of its display, or either has fewer than four degrees of freedom.
    """
    scatter, freedom = _pooled(values, spots)
    standards = [np.asarray(read, dtype=np.int64) for read in on_standards if len(read) > 1]
    gauge_freedom = sum(len(read) - 1 for read in standards)
    if freedom < FEWEST_FREEDOM or gauge_freedom < FEWEST_FREEDOM:
        return None
    gauge = math.fsum(float(np.var(read)) * len(read) for read in standards) / gauge_freedom
    step = max(step_of(values), step_of(np.concatenate(standards)))
    if not step or math.sqrt(gauge) < LEAST_STEPS * step:
        return None
    from scipy.special import fdtr  # noqa: PLC0415 - slow to load, and used here only

    chance = float(fdtr(freedom, gauge_freedom, scatter / gauge))
    if chance >= ALPHA:
        return None
    return LittleScatter(
        scatter_nm=math.sqrt(scatter), freedom=freedom, gauge_nm=math.sqrt(gauge), gauge_freedom=gauge_freedom,
        chance=chance,
    )  # fmt: skip


def _pooled(values: Readings, spots: npt.NDArray[np.int64]) -> tuple[float, int]:
    """Variance within spots and its degrees of freedom; over the whole record where no spot has several readings."""
    _, where, counts = np.unique(spots, return_inverse=True, return_counts=True)
    freedom = len(values) - len(counts)
    if not freedom:
        return (float(np.var(values, ddof=1)), len(values) - 1) if len(values) > 1 else (0.0, 0)
    means = np.bincount(where, weights=values) / counts
    return float(np.sum((values - means[where]) ** 2)) / freedom, freedom


def step_of(values: Readings) -> int:
    """The step of the display in nm, as the readings show it: their greatest common divisor."""
    return int(np.gcd.reduce(values)) if len(values) else 0


@dataclass(frozen=True, kw_only=True)
class UnevenDigits:
    """How often each last digit from 0 to 9 stands, chi-square with nine degrees of freedom, and its chance."""

    counts: tuple[int, ...]
    chi_square: float
    chance: float
    step_nm: int


def uneven_digits(values: Readings, spots: npt.NDArray[np.int64]) -> UnevenDigits | None:
    """Whether last digits are spread more unevenly than chance allows; None where that is not asked.

    Only with a hundred readings or more of one stretch of the display whose scatter from one to the next is six steps
    or more: only then are honest last digits even. Where readings of a spot lie closer, one of each spot is counted.
    """
    stretch = np.searchsorted(DECADES_NM, values, side="right")
    kept = stretch == np.bincount(stretch).argmax()
    values, spots = values[kept], spots[kept]
    step = step_of(values)
    if not step or len(values) < FEWEST_DIGITS:
        return None
    steps = values // step
    within, freedom = _pooled(steps, spots)
    if freedom < len(steps) - 1 and math.sqrt(within) < FLAT_FROM_STEPS:
        steps = steps[np.unique(spots, return_index=True)[1]]
    if len(steps) < FEWEST_DIGITS or float(np.std(np.diff(steps))) < FLAT_FROM_STEPS * math.sqrt(2):
        return None
    counts = np.bincount(steps % 10, minlength=10)
    expected = len(steps) / 10
    chi_square = float(np.sum((counts - expected) ** 2) / expected)
    from scipy.special import chdtrc  # noqa: PLC0415 - slow to load, and used here only

    chance = float(chdtrc(9, chi_square))
    if chance >= ALPHA:
        return None
    return UnevenDigits(
        counts=tuple(int(each) for each in counts), chi_square=chi_square, chance=chance, step_nm=step
    )  # fmt: skip
