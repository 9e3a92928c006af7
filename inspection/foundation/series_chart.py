"""Quantities over time as a drawing: lines told apart by their dashes and names, limits, breaches and gaps hatched."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect
from reportlab.lib.colors import Color, HexColor

from inspection.foundation.charts import LIMIT, LOW, QUIET, RULE, SMALL, Plot, nice_step

Array = npt.NDArray[np.float64]
INKS: tuple[tuple[Color, list[float] | None], ...] = (
    (HexColor("#2c5f8a"), None), (HexColor("#8a5a00"), [5.0, 2.0]), (HexColor("#5b3f8c"), [1.5, 2.0]),
)  # fmt: skip
MOST_POINTS = 480
BAND = 6.0
TICKS_H = (0.25, 0.5, 1, 2, 3, 4, 6, 12, 24, 48, 96, 168, 336, 720)


@dataclass(frozen=True)
class Series:
    """A quantity by name: moments in s, rising, and values; what is not known is NaN."""

    name: str
    at_s: Array
    values: Array


@dataclass(frozen=True)
class Level:
    """A limit to be kept, with its words."""

    value: float
    words: str


def series_chart(
    series: Sequence[Series], *, begins: datetime, ends: datetime, zone: ZoneInfo, levels: Sequence[Level] = (),
    breaches: Iterable[tuple[float, float]] = (), gaps: Iterable[tuple[float, float]] = (), longest_gap_s: float,
    title: str, summary: str = "", width: float = 640, height: float = 240,
) -> Drawing:  # fmt: skip
    """Lines over [begins, ends]; a line breaks where samples lie further apart than the longest gap (s).

    Breaches and gaps, in s, are bands at the foot: breaches filled and hatched, gaps only outlined and hatched.
    """
    narrow = width < 400
    plot = Plot(title, summary, width, height, top=48, left=34, right=10 if narrow else 88, foot=44)
    low_s, high_s = begins.timestamp(), ends.timestamp()
    drawn = [_thinned(each, low_s, high_s) for each in series]
    values = np.concatenate([each.values[np.isfinite(each.values)] for each in drawn]) if drawn else np.empty(0)
    if not values.size:
        return plot.empty("No samples in this time")
    shown = [*values, *(level.value for level in levels)]
    low, high = float(min(shown)), float(max(shown))
    step = nice_step((high - low) or 1.0, 6)
    # Room below the lowest, in which the bands lie.
    low, high = np.floor(low / step - 0.6) * step, np.ceil(high / step) * step
    plot.scale_x(low_s, high_s)
    plot.scale_y(low, high if high > low else low + step)
    plot.axis_y([low + step * count for count in range(round((high - low) / step) + 1)], "{:g}")
    plot.axis_x(_clock(begins, ends, zone, 4 if narrow else 8), f"Clock of {zone.key}")
    taken: list[float] = []
    for level in levels:
        plot.level(level.value, "" if narrow else level.words, LIMIT, dashed=False, taken=None if narrow else taken)
    x = float(plot.margin)
    for each, (colour, dash) in zip(drawn, INKS, strict=False):
        _line(plot, each, colour, dash, longest_gap_s)
        x = plot.key(x, each.name, colour, dash, size=6.5 if narrow else SMALL)
    _bands(plot, breaches, LOW, filled=True)
    _bands(plot, gaps, QUIET, filled=False)
    return plot.drawing


def _thinned(series: Series, low: float, high: float) -> Series:
    """The part inside the window; of many samples the least and the greatest of each step, so that no peak is lost."""
    inside = (series.at_s >= low) & (series.at_s <= high) & np.isfinite(series.values)
    at, values = series.at_s[inside], series.values[inside]
    if at.size <= MOST_POINTS:
        return Series(series.name, at, values)
    parts = np.array_split(np.arange(at.size), MOST_POINTS // 2)
    kept = np.unique([part[pick(values[part])] for part in parts for pick in (np.argmin, np.argmax)])
    return Series(series.name, at[kept], values[kept])


def _line(plot: Plot, series: Series, colour: Color, dash: list[float] | None, longest_gap_s: float) -> None:
    step = np.median(np.diff(series.at_s)) if series.at_s.size > 1 else 0.0
    breaks = np.flatnonzero(np.diff(series.at_s) > max(longest_gap_s, 3 * step)) + 1
    for part in np.split(np.arange(series.at_s.size), breaks):
        points = [(plot.x(float(series.at_s[i])), plot.y(float(series.values[i]))) for i in part]
        if len(points) == 1:
            points = [(points[0][0] - 1, points[0][1]), (points[0][0] + 1, points[0][1])]
        flat = [round(value, 2) for point in points for value in point]
        plot.add(PolyLine(flat, strokeColor=colour, strokeWidth=1.1, strokeDashArray=dash))


def _bands(plot: Plot, stretches: Iterable[tuple[float, float]], colour: Color, *, filled: bool) -> None:
    foot = plot.foot if filled else plot.foot + BAND
    for begin, end in stretches:
        left, right = plot.x(begin), plot.x(end)
        wide = max(right - left, 1.0)
        plot.add(
            Rect(left, foot, wide, BAND, fillColor=colour if filled else RULE, strokeColor=colour, strokeWidth=0.4)
        )
        mark = left + 3
        while mark < left + wide - 1:
            ink = RULE if filled else colour
            plot.add(Line(mark, foot, mark - 2, foot + BAND, strokeColor=ink, strokeWidth=0.6))
            mark += 4


def _clock(begins: datetime, ends: datetime, zone: ZoneInfo, most: int) -> list[tuple[float, str]]:
    """Ticks at whole hours of the zone's clock, with the day where it changes."""
    hours = (ends - begins).total_seconds() / 3600
    step = timedelta(hours=next((each for each in TICKS_H if hours / each <= most), hours / most))
    local = begins.astimezone(zone).replace(minute=0, second=0, microsecond=0)
    local = local.replace(hour=0)
    ticks: list[tuple[float, str]] = []
    day = None
    while local.timestamp() <= ends.timestamp():
        if local.timestamp() >= begins.timestamp():
            # A long time is told by its days; a short one by the clock.
            words = (
                f"{local:%H:%M}"
                if step < timedelta(days=1) and (local.date() == day or local.hour)
                else f"{local:%d %b}"
            )
            ticks.append((local.timestamp(), words))
            day = local.date()
        local += step
    return ticks
