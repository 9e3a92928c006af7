"""Labels for gauges and standards: a QR code that leads to the thing's page, and its company number to read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import groupby
from urllib.parse import quote

import segno
from django.conf import settings
from django.urls import reverse
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from accounts.queries import company_name
from inspection.foundation.charts import BOLD, REGULAR, register_fonts
from inspection.foundation.units import in_unit
from inspection.instruments.models import Gauge, ReferenceStandard

QUIET_MODULES = 4  # the clear margin that a reader needs round the code (ISO/IEC 18004; from memory)


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


def address_of(thing: Gauge | ReferenceStandard) -> str:
    """What the code holds: the address that leads to the thing wherever its page lies."""
    path = reverse("equipment_by_identity", args=["x"]).removesuffix("x")
    return f"{settings.SITE_URL}{path}{quote(thing.identity, safe='')}"


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


def labels_pdf(things: Sequence[Gauge | ReferenceStandard], *, sheet: Sheet, start: int = 1) -> bytes:
    """Sheets of labels, beginning at place `start` (from 1) of the first sheet, so that a begun sheet is used up."""
    register_fonts()
    out = BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=1)
    canvas.setTitle("Labels")
    (width, height), company = sheet.size, company_name()
    for place, thing in enumerate(things, start=start - 1):
        if place % sheet.count == 0 and place >= start:
            canvas.showPage()
        row, column = divmod(place % sheet.count, sheet.columns)
        lines = tuple(filter(None, (*_about(thing), company)))
        _draw(canvas, thing, lines, column * width, A4[1] - (row + 1) * height, width, height)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(
    canvas: Canvas, thing: Gauge | ReferenceStandard, lines: Sequence[str], x: float, y: float, width: float,
    height: float,
) -> None:  # fmt: skip
    modules, dark = runs(address_of(thing))
    side = height - 3 * mm
    module = side / (modules + 2 * QUIET_MODULES)
    left, top = x + 1.5 * mm + QUIET_MODULES * module, y + height - 1.5 * mm - QUIET_MODULES * module
    for column, row, length in dark:
        canvas.rect(left + column * module, top - (row + 1) * module, length * module, module, stroke=0, fill=1)
    text_x, room = x + side + 2 * mm, width - side - 3.5 * mm
    size = _fitting(thing.identity, BOLD, room, height / 4)
    canvas.setFont(BOLD, size)
    canvas.drawString(text_x, y + height / 2, thing.identity)
    small = min(height / 11, *(_fitting(line, REGULAR, room, height / 11) for line in lines))
    canvas.setFont(REGULAR, small)
    for number, line in enumerate(lines, start=1):
        canvas.drawString(text_x, y + height / 2 - number * small * 1.35, line)


def _fitting(words: str, font: str, room: float, most: float) -> float:
    """The largest size, up to `most`, at which the words fit."""
    return float(min(most, room / (stringWidth(words, font, 1) or 1)))


def _about(thing: Gauge | ReferenceStandard) -> tuple[str, ...]:
    if isinstance(thing, Gauge):
        return (thing.get_kind_display(), f"serial {thing.serial}" if thing.serial else "")
    nominal = "" if thing.kind == ReferenceStandard.Kind.ZERO else f"{in_unit(thing.nominal_nm, 'um')} µm nominal"
    return (thing.get_kind_display(), nominal)
