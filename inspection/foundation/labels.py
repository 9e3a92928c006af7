"""Sheets of labels: a QR code that leads to a thing's page, and its name to read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import groupby

import segno
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from inspection.foundation.charts import BOLD, REGULAR, register_fonts

QUIET_MODULES = 4  # the clear margin that a reader needs round the code (ISO/IEC 18004; from memory)


@dataclass(frozen=True)
class Label:
    """What one label bears: the address its code holds, the name in large letters, lines below it."""

    address: str
    name: str
    lines: Sequence[str]


@dataclass(frozen=True)
class Sheet:
    """A sheet of A4 cut into equal labels without margins between them."""

    label: str
    columns: int
    rows: int

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of one label in points."""
        return A4[0] / self.columns, A4[1] / self.rows

    @property
    def count(self) -> int:
        return self.columns * self.rows


SHEETS = {
    "large": Sheet("24 labels of 70 × 37 mm", 3, 8),
    "medium": Sheet("40 labels of 52 × 30 mm", 4, 10),
    "small": Sheet("65 labels of 42 × 23 mm", 5, 13),
}


def runs(text: str) -> tuple[int, list[tuple[int, int, int]]]:
    """The dark modules of a QR code as runs (column, row, length) without quiet zone, and its width in modules."""
    matrix = segno.make(text, error="m", micro=False).matrix
    return len(matrix), [run for row, modules in enumerate(matrix) for run in _runs_of(row, modules)]


def _runs_of(row: int, modules: Sequence[int]) -> Iterator[tuple[int, int, int]]:
    column = 0
    for dark, group in groupby(modules):
        length = len(list(group))
        if dark:
            yield column, row, length
        column += length


def sheets_pdf(labels: Sequence[Label], *, sheet: Sheet, start: int = 1) -> bytes:
    """Sheets of labels, beginning at place `start` (from 1) of the first sheet, so that a begun sheet is used up."""
    register_fonts()
    out = BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1)
    canvas.setTitle("Labels")
    width, height = sheet.size
    for place, label in enumerate(labels, start=start - 1):
        if place % sheet.count == 0 and place >= start:
            canvas.showPage()
        row, column = divmod(place % sheet.count, sheet.columns)
        _draw(canvas, label, column * width, A4[1] - (row + 1) * height, width, height)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, label: Label, x: float, y: float, width: float, height: float) -> None:
    modules, dark = runs(label.address)
    side = height - 3 * mm
    module = side / (modules + 2 * QUIET_MODULES)
    left, top = x + 1.5 * mm + QUIET_MODULES * module, y + height - 1.5 * mm - QUIET_MODULES * module
    for column, row, length in dark:
        canvas.rect(left + column * module, top - (row + 1) * module, length * module, module, stroke=0, fill=1)
    text_x, room = x + side + 2 * mm, width - side - 3.5 * mm
    size = _fitting(label.name, BOLD, room, height / 4)
    canvas.setFont(BOLD, size)
    canvas.drawString(text_x, y + height / 2, label.name)
    small = min(height / 11, *(_fitting(line, REGULAR, room, height / 11) for line in label.lines))
    canvas.setFont(REGULAR, small)
    for number, line in enumerate(label.lines, start=1):
        canvas.drawString(text_x, y + height / 2 - number * small * 1.35, line)


def _fitting(words: str, font: str, room: float, most: float) -> float:
    """The largest size, up to `most`, at which the words fit."""
    return float(min(most, room / (stringWidth(words, font, 1) or 1)))
