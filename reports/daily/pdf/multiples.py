"""Small multiples: the readings of many records at a glance, on one axis a coat, so that they can be compared."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise

from reportlab.platypus import Flowable

from inspection.foundation.charts import BAR, BOLD, HIGH, INK, LIMIT, LOW, NOMINAL, QUIET, REGULAR, RULE, edges_of
from inspection.foundation.charts import fitted as fitted_to
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
            _Strip(facts.unit, rows[at : at + ACROSS], edges) for at in range(0, len(rows), ACROSS)
        ]
        # The heading wants the first of them with it; the others follow onto the next page.
        words = f"{first.coat}: {f'lines at {lines}; ' if lines else ''}{spans}"
        content += [*subheading(words, strips[:1]), *strips[1:]]
    return content


class _Strip(Flowable):
    """Up to six of them side by side, drawn straight onto the page."""

    def __init__(self, unit: str, rows: Sequence[Thickness], edges: Sequence[float]) -> None:
        super().__init__()
        self.unit, self.rows, self.edges = unit, rows, edges

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        self.width, self.height = BREADTH, TALL
        return self.width, self.height

    def draw(self) -> None:
        for place, row in enumerate(self.rows):
            self._one(row, place * (WIDE + GAP))

    def _x(self, nm: float, left: float) -> float:
        low, high = self.edges[0], self.edges[-1]
        return left + (nm - low) / (high - low) * WIDE

    def _one(self, row: Thickness, left: float) -> None:
        canvas = self.canv
        failed = "✘ " if row.verdict == "fail" else ""
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, 6.5)
        canvas.drawString(left, FOOT + PLOT + 4, fitted_to(f"{failed}{row.area}", WIDE, BOLD, 6.5))
        counts = [sum(1 for value in row.values_nm if lo <= value < hi) for lo, hi in pairwise(self.edges)]
        most = max(counts, default=0) or 1
        for (lo, hi), count in zip(pairwise(self.edges), counts, strict=True):
            if count:
                canvas.setFillColor(self._colour(row, lo, hi))
                begin, end = self._x(lo, left), self._x(hi, left)
                canvas.rect(begin, FOOT, max(end - begin - 0.4, 0.4), PLOT * count / most, stroke=0, fill=1)
        self._lines(row, left)
        canvas.setFillColor(QUIET)
        canvas.setFont(REGULAR, 6)
        told = f"{len(row.values_nm)} readings, mean {film(row.mean_nm, self.unit)}"
        canvas.drawString(left, FOOT - 8, fitted_to(told, WIDE, REGULAR, 6))

    @staticmethod
    def _colour(row: Thickness, lo: float, hi: float) -> object:
        if row.minimum_nm is not None and hi <= row.minimum_nm:
            return LOW
        return HIGH if row.maximum_nm is not None and lo > row.maximum_nm else BAR

    def _lines(self, row: Thickness, left: float) -> None:
        canvas = self.canv
        canvas.setLineWidth(0.4)
        canvas.setStrokeColor(RULE)
        canvas.line(left, FOOT, left + WIDE, FOOT)
        canvas.setLineWidth(0.7)
        for limit, colour, dash in (
            (row.minimum_nm, LIMIT, []), (row.nominal_nm, NOMINAL, [2, 1.5]), (row.maximum_nm, LIMIT, []),
        ):  # fmt: skip
            if limit is not None:
                canvas.setStrokeColor(colour)
                canvas.setDash(dash)
                canvas.line(self._x(limit, left), FOOT, self._x(limit, left), FOOT + PLOT)
        canvas.setDash([])
