"""Logged climate against limits: for how much of a time each was kept, over arrays of samples.

Between two samples no further apart than the declared gap a quantity is taken to run straight; the share of time within
a limit and the mean follow exactly from that (trapezoid). In a gap nothing is known, and nothing is credited.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inspection.standards.climate import LOWEST_DEW_POINT_C, MAGNUS

Array = npt.NDArray[np.float64]
QUANTITIES = ("air_c", "humidity_pct", "surface_c", "dew_point_c", "margin_c")
# Shorter than what a sample's time is told to.
NO_TIME_S = 1e-6


def dew_points_c(air_c: Array, humidity_pct: Array) -> Array:
    """Dew points of air in °C at relative humidities in % (over water), elementwise; NaN where the formula ends.

    Magnus form of WMO-No. 8, Annex 4.B, as `climate.saturated_at_c` has it.
    """
    scale, slope, offset = MAGNUS["water"]
    with np.errstate(divide="ignore", invalid="ignore"):
        vapour = humidity_pct / 100 * scale * np.exp(slope * air_c / (offset + air_c))
        logarithm = np.log(vapour / scale)
        found = offset * logarithm / (slope - logarithm)
    return np.where(found >= LOWEST_DEW_POINT_C, found, np.nan)


def condensing_points_c(dew_points_c: Array) -> Array:
    """The dew point, below 0 °C the frost point, which lies higher: from which the margin of the steel is taken."""
    scale, slope, offset = MAGNUS["water"]
    vapour = scale * np.exp(slope * dew_points_c / (offset + dew_points_c))
    scale, slope, offset = MAGNUS["ice"]
    logarithm = np.log(vapour / scale)
    frost = offset * logarithm / (slope - logarithm)
    return np.where(dew_points_c < 0, frost, dew_points_c)


@dataclass(frozen=True)
class Log:
    """Samples in the order of time: `at_s` in s, strictly rising; the others in °C and %, NaN where not logged."""

    at_s: Array
    air_c: Array
    humidity_pct: Array
    surface_c: Array
    logged_dew_point_c: Array

    @cached_property
    def dew_point_c(self) -> Array:
        """As logged, else from air and humidity."""
        computed = dew_points_c(self.air_c, self.humidity_pct)
        return np.where(np.isnan(self.logged_dew_point_c), computed, self.logged_dew_point_c)

    @cached_property
    def margin_c(self) -> Array:
        """By how much the steel is warmer than the dew point, below 0 °C than the frost point."""
        return np.asarray(self.surface_c - condensing_points_c(self.dew_point_c))

    def of(self, quantity: str) -> Array:
        found: Array = getattr(self, quantity)
        return found


@dataclass(frozen=True)
class Limit:
    """What a quantity must not fall below, or not exceed; exactly at it is within."""

    quantity: str
    value: float
    is_least: bool


@dataclass(frozen=True)
class Share:
    """A time in s, divided: within the limits, outside them, and unknown for want of samples."""

    within_s: float
    outside_s: float
    unknown_s: float

    @property
    def within_pct(self) -> float:
        """Of the whole time, so that a gap is no credit."""
        whole = self.within_s + self.outside_s + self.unknown_s
        return 100 * self.within_s / whole if whole else 0.0


@dataclass(frozen=True)
class Found:
    """Of one quantity over the time that is known: time-weighted mean, least and greatest, and when the least was."""

    mean: float
    least: float
    greatest: float
    least_at_s: float


@dataclass(frozen=True)
class Judged:
    """`breaches` and `gaps` are stretches [begin, end] in s; the longest breach is of all limits together."""

    each: tuple[Share, ...]
    all: Share
    breaches: tuple[tuple[float, float], ...]
    gaps: tuple[tuple[float, float], ...]
    found: dict[str, Found]

    @property
    def longest_breach(self) -> tuple[float, float] | None:
        return max(self.breaches, key=lambda one: one[1] - one[0], default=None)


@dataclass(frozen=True)
class _Stretches:
    """Straight pieces of some quantities inside the window: their bounds and the values at both."""

    begins: Array
    ends: Array
    first: Array
    last: Array

    @property
    def times(self) -> Array:
        return np.asarray(self.ends - self.begins)


def judge_log(log: Log, begins_s: float, ends_s: float, limits: Sequence[Limit], longest_gap_s: float) -> Judged:
    """Judge a log against limits over [begins, ends], in s. Raises ValueError for a window or a gap of no length."""
    if not (ends_s > begins_s and longest_gap_s > 0):
        raise ValueError("the window and the longest gap must have a length")
    window = (begins_s, ends_s, longest_gap_s)
    each = [_share(_stretches(log, [limit.quantity], *window), [limit], ends_s - begins_s) for limit in limits]
    named = [limit.quantity for limit in limits] or [name for name in QUANTITIES if np.isfinite(log.of(name)).any()]
    together = _stretches(log, named, *window)
    breaches = _breaches(together, limits) if limits else np.empty((0, 2))
    return Judged(
        each=tuple(each),
        all=_share(together, limits, ends_s - begins_s),
        breaches=tuple((float(a), float(b)) for a, b in breaches),
        gaps=_uncovered(together, begins_s, ends_s),
        found={name: found for name in QUANTITIES if (found := _found(_stretches(log, [name], *window)))},
    )


def _stretches(log: Log, names: Sequence[str], begins: float, ends: float, gap: float) -> _Stretches:
    values = np.stack([log.of(name) for name in names]) if names else np.empty((0, log.at_s.size))
    known = np.isfinite(values).all(axis=0)
    at, values = log.at_s[known], values[:, known]
    start, stop = at[:-1], at[1:]
    used = (stop - start <= gap) & (stop > begins) & (start < ends)
    start, stop, first, last = start[used], stop[used], values[:, :-1][:, used], values[:, 1:][:, used]
    low, high = np.maximum(start, begins), np.minimum(stop, ends)
    slope = (last - first) / (stop - start)
    # A sample at a bound is taken as it is, so that no rounding moves it over a limit.
    at_low = np.where(low == start, first, first + slope * (low - start))
    at_high = np.where(high == stop, last, first + slope * (high - start))
    return _Stretches(low, high, at_low, at_high)


def _inside(pieces: _Stretches, limits: Sequence[Limit]) -> tuple[Array, Array]:
    """The part [from, to] of each piece, in shares of it, in which every limit is kept; empty where to <= from."""
    many = pieces.begins.size
    low, high = np.zeros(many), np.ones(many)
    for row, limit in enumerate(limits):
        sign = 1 if limit.is_least else -1
        first, last = sign * (pieces.first[row] - limit.value), sign * (pieces.last[row] - limit.value)
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = first / (first - last)
        low = np.maximum(low, np.where(first >= 0, 0.0, np.where(last >= 0, crossing, 1.0)))
        high = np.minimum(high, np.where(last >= 0, 1.0, np.where(first >= 0, crossing, 0.0)))
    return low, high


def _share(pieces: _Stretches, limits: Sequence[Limit], whole_s: float) -> Share:
    low, high = _inside(pieces, limits)
    within = float((np.clip(high - low, 0, None) * pieces.times).sum())
    known = float(pieces.times.sum())
    return Share(within, max(known - within, 0.0), max(whole_s - known, 0.0))


def _breaches(pieces: _Stretches, limits: Sequence[Limit]) -> Array:
    """The stretches of time outside the limits; those that touch are one, and none reaches over a gap."""
    low, high = _inside(pieces, limits)
    is_out = high <= low
    before = np.stack([pieces.begins, np.where(is_out, pieces.ends, pieces.begins + low * pieces.times)])
    after = np.stack([np.where(is_out, pieces.ends, pieces.begins + high * pieces.times), pieces.ends])
    parts = np.concatenate([before, after], axis=1).T
    parts = parts[parts[:, 1] - parts[:, 0] > NO_TIME_S]
    parts = np.asarray(parts[np.argsort(parts[:, 0], kind="stable")])
    if not len(parts):
        return parts
    new = np.concatenate([[True], parts[1:, 0] - parts[:-1, 1] > NO_TIME_S])
    firsts = np.flatnonzero(new)
    lasts = np.concatenate([firsts[1:] - 1, [len(parts) - 1]])
    return np.stack([parts[firsts, 0], parts[lasts, 1]], axis=1)


def _uncovered(pieces: _Stretches, begins: float, ends: float) -> tuple[tuple[float, float], ...]:
    starts, stops = np.concatenate([[begins], pieces.ends]), np.concatenate([pieces.begins, [ends]])
    empty = stops - starts > NO_TIME_S
    return tuple((float(a), float(b)) for a, b in zip(starts[empty], stops[empty], strict=True))


def _found(pieces: _Stretches) -> Found | None:
    if not pieces.begins.size:
        return None
    first, last, times = pieces.first[0], pieces.last[0], pieces.times
    least = min(float(first.min()), float(last.min()))
    at = pieces.begins[int(first.argmin())] if first.min() <= last.min() else pieces.ends[int(last.argmin())]
    mean = float(((first + last) / 2 * times).sum() / times.sum())
    return Found(mean, least, max(float(first.max()), float(last.max())), float(at))
