"""Small multiples: the readings of many records at a glance, on one axis a coat, so that they can be compared."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from reportlab.lib.colors import Color
from reportlab.platypus import Flowable

from inspection.foundation.charts import (
    BAR,
    BOLD,
    HIGH,
    INK,
    LIMIT,
    LOW,
    NOMINAL,
    QUIET,
    REGULAR,
    RULE,
    edges_of,
    fitted,
)
from reports.daily.facts import DayFacts, Thickness
from reports.daily.pdf.pieces import BREADTH, film, label, subheading

ACROSS = 6
GAP = 8.0
WIDE = (BREADTH - (ACROSS - 1) * GAP) / ACROSS
TALL, PLOT, FOOT = 62.0, 34.0, 12.0


def multiples(facts: DayFacts, ordered: Sequence[Thickness]) -> list[Flowable]:
    """A block for each coat and limits; what the axis spans and the lines mean is told once above it."""
    content: list[Flowable] = []
    for _, group in groupby(ordered, key=lambda row: (row.coat, row.minimum_nm, row.nominal_nm, row.maximum_nm)):
        rows = list(group)
        first = rows[0]
        every = [value for row in rows for value in row.values_nm]
        if not every:
            continue
        edges = edges_of(every, facts.unit, first.minimum_nm, first.nominal_nm, first.maximum_nm)
        named = (("minimum", first.minimum_nm), ("nominal", first.nominal_nm), ("maximum", first.maximum_nm))
        lines = ", ".join(f"{name} {film(limit, facts.unit)}" for name, limit in named if limit is not None)
        spans = f"each axis from {film(edges[0], facts.unit)} to {film(edges[-1], facts.unit)} {label(facts.unit)}"
        strips: list[Flowable] = [
            Strip([_small(row, facts.unit, edges) for row in rows[at : at + ACROSS]])
            for at in range(0, len(rows), ACROSS)
        ]
        # The heading wants the first of them with it; the others follow onto the next page.
        words = f"{first.coat}: {f'lines at {lines}; ' if lines else ''}{spans}"
        content += [*subheading(words, strips[:1]), *strips[1:]]
    return content


@dataclass(frozen=True)
class Small:
    """One of them, ready to be drawn: words above and below, bars as left, width, height and colour, upright lines."""

    above: str
    below: str
    bars: Sequence[tuple[float, float, float, Color]]
    lines: Sequence[tuple[float, Color, Sequence[float]]]


class Strip(Flowable):
    """Up to six of them side by side, drawn straight onto the page."""

    def __init__(self, smalls: Sequence[Small]) -> None:
        super().__init__()
        self.smalls = smalls

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        self.width, self.height = BREADTH, TALL
        return self.width, self.height

    def draw(self) -> None:
        for place, small in enumerate(self.smalls):
            self._one(small, place * (WIDE + GAP))

    def _one(self, small: Small, left: float) -> None:
        canvas = self.canv
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, 6.5)
        canvas.drawString(left, FOOT + PLOT + 4, small.above)
        for begin, wide, tall, colour in small.bars:
            canvas.setFillColor(colour)
            canvas.rect(left + begin, FOOT, wide, tall, stroke=0, fill=1)
        canvas.setLineWidth(0.4)
        canvas.setStrokeColor(RULE)
        canvas.line(left, FOOT, left + WIDE, FOOT)
        canvas.setLineWidth(0.7)
        for x, colour, dash in small.lines:
            canvas.setStrokeColor(colour)
            canvas.setDash(list(dash))
            canvas.line(left + x, FOOT, left + x, FOOT + PLOT)
        canvas.setDash([])
        canvas.setFillColor(QUIET)
        canvas.setFont(REGULAR, 6)
        canvas.drawString(left, FOOT - 8, small.below)


def _small(row: Thickness, unit: str, edges: Sequence[float]) -> Small:
    low, high = edges[0], edges[-1]

    def across(nm: float) -> float:
        return (nm - low) / (high - low) * WIDE

    places = sorted(row.values_nm)
    counts = [bisect_left(places, end) - bisect_left(places, begin) for begin, end in pairwise(edges)]
    most = max(counts, default=0) or 1
    told = f"{len(row.values_nm)} readings, mean {film(row.mean_nm, unit)}"
    whole: tuple[float, ...] = ()
    limits = ((row.minimum_nm, LIMIT, whole), (row.nominal_nm, NOMINAL, (2.0, 1.5)), (row.maximum_nm, LIMIT, whole))
    return Small(
        above=fitted(f"{'✘ ' if row.verdict == 'fail' else ''}{row.area}", WIDE, BOLD, 6.5),
        below=fitted(told, WIDE, REGULAR, 6),
        bars=[
            (across(begin), max(across(end) - across(begin) - 0.4, 0.4), PLOT * count / most, _colour(row, begin, end))
            for (begin, end), count in zip(pairwise(edges), counts, strict=True)
            if count
        ],
        lines=[(across(limit), colour, dash) for limit, colour, dash in limits if limit is not None],
    )


def _colour(row: Thickness, begin: float, end: float) -> Color:
    if row.minimum_nm is not None and end <= row.minimum_nm:
        return LOW
    return HIGH if row.maximum_nm is not None and begin > row.maximum_nm else BAR
