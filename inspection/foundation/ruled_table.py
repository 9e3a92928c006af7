"""A ruled table for PDFs, of any length: its head once a page, no row left alone, laid out in linear time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Table

# More rows than this never fit on a page, so no more are laid out at once.
A_PAGE = 90
# A table is not begun for fewer rows than this, nor ended with fewer on a page of their own.
FEWEST = 2


@dataclass(frozen=True)
class Line:
    """One row: its cells, and style commands over columns such as ("TEXTCOLOR", first, last, colour)."""

    cells: Sequence[Any]
    styles: Sequence[tuple[Any, ...]] = ()
    # A row that says what the rows below it have in common; never the last on a page.
    leads: bool = False


class Rows(Flowable):
    """Lines under a head that is repeated on each page, and only there."""

    def __init__(
        self, lines: Sequence[Line], widths: Sequence[float], style: Sequence[tuple[Any, ...]],
        head: Sequence[Any] | None = None,
    ) -> None:  # fmt: skip
        super().__init__()
        self.hAlign = "LEFT"
        self.lines, self.widths, self.style, self.head = lines, widths, style, head

    def room(self) -> float:
        """The height in points of the head and the first rows, that a heading above wants to have with it."""
        wanted = FEWEST + next((n for n, line in enumerate(self.lines) if not line.leads), 0)
        return float(self._laid_out(self.lines[:wanted]).wrap(sum(self.widths), 1e6)[1])

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.table = self._laid_out(self.lines[:A_PAGE])
        wide, tall = self.table.wrap(width, height)
        return wide, tall if len(self.lines) <= A_PAGE else max(tall, height + 1)

    def split(self, width: float, height: float) -> list[Flowable]:
        """What fits on the page, and the rest for the next; nothing where it is better begun there."""
        at_top = getattr(getattr(self, "_frame", None), "_atTop", True)
        fits = self._fitting(height)
        if fits >= FEWEST or (fits and at_top):
            return [self._laid_out(self.lines[:fits]), self._rest(fits)]
        if not at_top:
            return []
        return self._split_in_row(width, height)

    def draw(self) -> None:
        self.table.drawOn(self.canv, 0, 0)

    def _rest(self, first: int) -> Rows:
        return Rows(self.lines[first:], self.widths, self.style, self.head)

    def _fitting(self, height: float) -> int:
        """How many rows may stand on this page."""
        left, fits = height, 0
        for tall in self.table._rowHeights:  # noqa: SLF001 - reportlab gives them no other name
            left -= tall
            if left < 0:
                break
            fits += 1
        fits -= bool(self.head)
        if 0 < len(self.lines) - fits < FEWEST:
            fits -= FEWEST - (len(self.lines) - fits)
        while fits > 0 and self.lines[fits - 1].leads:
            fits -= 1
        return max(fits, 0)

    def _split_in_row(self, width: float, height: float) -> list[Flowable]:
        """A row that is taller than a page goes on in the middle of its text."""
        taken = 1 + next((n for n, line in enumerate(self.lines) if not line.leads), 0)
        table = self._laid_out(self.lines[:taken], splitInRow=1)
        table.wrap(width, height)
        parts: list[Flowable] = table.split(width, height)
        return [*parts, self._rest(taken)] if parts and taken < len(self.lines) else parts

    def _laid_out(self, lines: Sequence[Line], **more: Any) -> Table:
        first = 1 if self.head else 0
        style = [
            (name, (left, row), (right, row), *values)
            for row, line in enumerate(lines, first)
            for name, left, right, *values in line.styles
        ]
        cells = [*([list(self.head)] if self.head else []), *(list(line.cells) for line in lines)]
        return Table(cells, self.widths, style=[*self.style, *style], repeatRows=first, hAlign="LEFT", **more)
