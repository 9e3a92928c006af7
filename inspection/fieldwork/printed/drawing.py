"""The sheet as PDF: for each area its plan, lines for set-up and climate, a box for each reading, a code on each page.

What a sheet by hand holds is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from zoneinfo import ZoneInfo

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.printed.models import PrintedArea, PrintedSheet
from inspection.foundation.charts import BOLD, REGULAR, fitted, register_fonts
from inspection.foundation.labels import QUIET_MODULES, runs
from inspection.foundation.units import Unit, in_unit
from inspection.standards.pa2_spots import SPOTS_PER_AREA

MARGIN = 12 * mm
WIDTH, HEIGHT = A4[0] - 2 * MARGIN, A4[1]
LEFT, RIGHT = MARGIN, A4[0] - MARGIN
HEAD, SET_UP, FOOT = 34 * mm, 100 * mm, 8 * mm
# High enough to write in with a glove on.
ROW = 9 * mm
CODE_SIDE = 25 * mm
# Readings that are judged one by one stand so many in a row.
SINGLES = 4
INK, SOFT, WASH = HexColor("#14202b"), HexColor("#55626d"), HexColor("#eef1f4")
CAUTION = (
    "Where no phone may go, a gauge may not go either unless it is approved for that place: ask who permits the work. "
    "Permits, gas tests, access and rescue go by the site’s own rules and local codes. Cross a wrong reading out so "
    "that it stays readable, write it under “crossed out”, and take a repeat at the same spot."
)


@dataclass(frozen=True)
class Head:
    """What stands at the top of every page of one area."""

    company: str
    project: str
    printed: str
    address: str
    code: str
    place: str
    lines: tuple[str, ...]


def sheet_pdf(sheet: PrintedSheet, areas: Sequence[PrintedArea], *, company: str, site: str, by: str) -> bytes:
    """A page or more for each area, drawn from what was kept when it was printed; the same bytes each time.

    `site` is the address that the codes lead to, up to the sheet's own code.
    """
    register_fonts()
    out, zone = BytesIO(), sheet.project.zone
    canvas = Canvas(out, pagesize=A4, invariant=1)
    canvas.setTitle(f"Sheet {sheet.code}, {sheet.project.code}")
    for printed in areas:
        _draw_area(canvas, printed, _head_of(printed, company=company, site=site, by=by, zone=zone))
    canvas.save()
    return out.getvalue()


def _head_of(printed: PrintedArea, *, company: str, site: str, by: str, zone: ZoneInfo) -> Head:
    plan, sheet = printed.plan, printed.sheet
    control = "" if plan["decides"] else ", for control only"
    return Head(
        company=company, project=str(sheet.project), code=printed.code,
        printed=f"Printed {sheet.printed_at.astimezone(zone):%Y-%m-%d %H:%M} by {by}",
        address=f"{site}{sheet.code}/{printed.number}/",
        place=f"{plan['area']} {plan['name']}, after {plan['coat']}",
        lines=(
            f"{plan['lies_in']}, {plan['area_m2']} m²", f"{plan['system']}: {plan['coat']}, {plan['product']}",
            f"{plan['rule']}{control}",
        ),
    )  # fmt: skip


def _draw_area(canvas: Canvas, printed: PrintedArea, head: Head) -> None:
    plan = printed.plan
    by_spots = plan["readings_a_spot"] > 1
    lines = plan["spots"] if by_spots else -(-plan["spots"] // SINGLES)
    pages = list(_divided(lines, by_spots=by_spots))
    for page, (first, last) in enumerate(pages, start=1):
        top = _draw_head(canvas, head, page, len(pages))
        if page == 1:
            top = _draw_set_up(canvas, printed, top)
        draw = _draw_spots if by_spots else _draw_singles
        draw(canvas, plan, first, last, top)
        canvas.setFont(REGULAR, 7)
        canvas.setFillColor(SOFT)
        canvas.drawString(LEFT, MARGIN - 4 * mm, f"Entered afterwards by the code {head.code}, in this order.")
        canvas.drawRightString(RIGHT, MARGIN - 4 * mm, "The software advises; a qualified person accepts.")
        canvas.showPage()


def _divided(lines: int, *, by_spots: bool) -> Iterator[tuple[int, int]]:
    """The lines of boxes, from 0, that each page holds; spots that make an area stay together."""
    room, first = HEIGHT - 2 * MARGIN - HEAD - SET_UP - ROW - FOOT, 0
    while True:
        fits = int(room // ROW)
        if by_spots:
            fits -= fits % SPOTS_PER_AREA
        yield first, min(first + fits, lines)
        first += fits
        if first >= lines:
            return
        room = HEIGHT - 2 * MARGIN - HEAD - ROW - FOOT


def _draw_head(canvas: Canvas, head: Head, page: int, pages: int) -> float:
    """The head of the page; where the next thing begins below it."""
    top, room = HEIGHT - MARGIN, WIDTH - CODE_SIDE - 22 * mm
    canvas.setFillColor(SOFT)
    canvas.setFont(REGULAR, 8)
    canvas.drawString(LEFT, top - 3 * mm, fitted(f"{head.company} · {head.project}", room, REGULAR, 8))
    canvas.drawString(LEFT, top - 7 * mm, fitted(f"{head.printed}. Page {page} of {pages}", room, REGULAR, 8))
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, 13)
    canvas.drawString(LEFT, top - 14 * mm, fitted(head.place, room, BOLD, 13))
    canvas.setFont(REGULAR, 9)
    for number, line in enumerate(head.lines):
        canvas.drawString(LEFT, top - (19 + 4.5 * number) * mm, fitted(line, room, REGULAR, 9))
    _draw_code(canvas, head.address, RIGHT - CODE_SIDE, top - CODE_SIDE)
    canvas.setFont(BOLD, 12)
    canvas.drawRightString(RIGHT, top - CODE_SIDE - 5 * mm, head.code)
    return float(top - HEAD)


def _draw_code(canvas: Canvas, address: str, x: float, y: float) -> None:
    modules, dark = runs(address)
    module = CODE_SIDE / (modules + 2 * QUIET_MODULES)
    left, top = x + QUIET_MODULES * module, y + CODE_SIDE - QUIET_MODULES * module
    for column, row, length in dark:
        canvas.rect(left + column * module, top - (row + 1) * module, length * module, module, stroke=0, fill=1)


def _draw_set_up(canvas: Canvas, printed: PrintedArea, top: float) -> float:
    unit = Unit(printed.sheet.project.unit)
    top = _draw_limits(canvas, printed.plan, unit, top)
    label = unit.label
    rows: tuple[tuple[tuple[str, float], ...], ...] = (
        (("Gauge", 0.25), ("Shims or zero plate", 0.35), ("Checked before, at", 0.2), ("after, at", 0.2)),
        (("Date", 0.25), ("First reading at", 0.2), ("Last reading at", 0.2), ("Measured by", 0.35)),
        (
            ("Climate at", 0.16), ("Air °C", 0.14), ("Wet bulb °C", 0.16), ("Humidity %", 0.16),
            ("Coldest steel °C", 0.2), ("Dew point °C", 0.18),
        ),
        (("Surface as seen", 0.65), (f"Subtracted, {label}", 0.35)),
    )  # fmt: skip
    for row in rows:
        top = _draw_lines(canvas, row, top)
    top = _draw_ways(canvas, top - 1 * mm)
    top = _draw_lines(canvas, (("Note", 1.0),), top)
    top = _draw_lines(canvas, (("Signature", 0.5), ("Seen by (name, for whom)", 0.5)), top)
    canvas.setFont(REGULAR, 7.5)
    canvas.setFillColor(INK)
    for line in simpleSplit(CAUTION, REGULAR, 7.5, WIDTH):
        canvas.drawString(LEFT, top - 3 * mm, line)
        top -= 3.4 * mm
    return float(top - 3 * mm)


def _draw_limits(canvas: Canvas, plan: dict[str, Any], unit: Unit, top: float) -> float:
    one = "spot" if plan["readings_a_spot"] > 1 else "reading"
    cells = [
        (f"{name}, {unit.label}", "–" if plan[key] is None else in_unit(plan[key], unit))
        for name, key in (
            ("Minimum", "minimum_nm"), ("Nominal", "nominal_nm"), ("Maximum", "maximum_nm"),
            (f"Least of a {one}", "least_nm"), (f"Most of a {one}", "most_nm"),
        )
    ]  # fmt: skip
    many = f"{plan['spots']} × {plan['readings_a_spot']}" if one == "spot" else str(plan["readings"])
    cells.append(("Spots × readings" if one == "spot" else "Readings", many))
    wide, high = WIDTH / len(cells), 11 * mm
    for place, (name, value) in enumerate(cells):
        x = LEFT + place * wide
        canvas.setFillColor(WASH)
        canvas.rect(x, top - high, wide, high, stroke=0, fill=1)
        canvas.setFillColor(SOFT)
        canvas.setFont(REGULAR, 7)
        canvas.drawString(x + 1.5 * mm, top - 3.5 * mm, name)
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, 11)
        canvas.drawString(x + 1.5 * mm, top - 9 * mm, value)
    return float(top - high - 2 * mm)


def _draw_lines(canvas: Canvas, row: Sequence[tuple[str, float]], top: float) -> float:
    """Names with a line to write on after each; the shares of the breadth make one."""
    x, base = LEFT, top - 8 * mm
    canvas.setFont(REGULAR, 8)
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(0.5)
    for name, share in row:
        canvas.setFillColor(INK)
        canvas.drawString(x, base + 1 * mm, name)
        begins = x + stringWidth(name, REGULAR, 8) + 1.5 * mm
        canvas.line(begins, base, x + share * WIDTH - 2 * mm, base)
        x += share * WIDTH
    return float(base - 1 * mm)


def _draw_ways(canvas: Canvas, top: float) -> float:
    """How the profile under the film is dealt with, a box to tick each."""
    canvas.setFillColor(INK)
    canvas.setFont(REGULAR, 8)
    canvas.drawString(LEFT, top - 4 * mm, "Profile under the film, exactly one:")
    for label in ThicknessRecord.ProfileWay.labels:
        top -= 4.6 * mm
        canvas.rect(LEFT + 1 * mm, top - 4.4 * mm, 3 * mm, 3 * mm, stroke=1, fill=0)
        canvas.drawString(LEFT + 6 * mm, top - 4 * mm, fitted(str(label), WIDTH - 8 * mm, REGULAR, 8))
    return float(top - 3 * mm)


def _heads(canvas: Canvas, top: float, heads: Sequence[tuple[str, float]]) -> float:
    canvas.setFont(REGULAR, 7)
    canvas.setFillColor(SOFT)
    for name, x in heads:
        canvas.drawString(x, top - 4 * mm, name)
    canvas.setFillColor(INK)
    return float(top - 5.5 * mm)


def _draw_spots(canvas: Canvas, plan: dict[str, Any], first: int, last: int, top: float) -> None:
    """A line of boxes a spot; a stronger rule between the areas of about 10 m² that five spots make."""
    boxes, wide = plan["readings_a_spot"], 26 * mm
    begins = LEFT + 16 * mm
    heads = [("Spot", LEFT), *((f"Reading {at + 1}", begins + at * wide) for at in range(boxes))]
    heads += [("Crossed out", begins + boxes * wide + 3 * mm), ("Where", begins + (boxes + 1) * wide + 6 * mm)]
    top = _heads(canvas, top, heads)
    for spot in range(first + 1, last + 1):
        y = top - ROW
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.2 if (spot - 1) % SPOTS_PER_AREA == 0 else 0.3)
        canvas.line(LEFT, top, RIGHT, top)
        canvas.setLineWidth(0.5)
        canvas.setFont(BOLD, 10)
        canvas.drawString(LEFT + 1 * mm, y + 2.8 * mm, str(spot))
        for at in range(boxes):
            canvas.rect(begins + at * wide, y + 0.8 * mm, wide - 2 * mm, ROW - 1.6 * mm, stroke=1, fill=0)
        _crossed_out(canvas, begins + boxes * wide + 3 * mm, y, wide - 4 * mm)
        canvas.line(begins + (boxes + 1) * wide + 6 * mm, y + 1.5 * mm, RIGHT, y + 1.5 * mm)
        top = y
    canvas.setLineWidth(1.2)
    canvas.line(LEFT, top, RIGHT, top)


def _draw_singles(canvas: Canvas, plan: dict[str, Any], first: int, last: int, top: float) -> None:
    """Readings that are judged one by one, several in a row, each with room for one crossed out."""
    wide = WIDTH / SINGLES
    heads = [(f"{'Reading':<10}", LEFT + at * wide + 8 * mm) for at in range(SINGLES)]
    top = _heads(canvas, top, heads + [("Crossed out", LEFT + at * wide + 29 * mm) for at in range(SINGLES)])
    for line in range(first, last):
        y = top - ROW
        for at in range(SINGLES):
            number = line * SINGLES + at + 1
            if number > plan["spots"]:
                break
            x = LEFT + at * wide
            canvas.setStrokeColor(INK)
            canvas.setLineWidth(0.5)
            canvas.setFont(BOLD, 9)
            canvas.drawRightString(x + 7 * mm, y + 2.8 * mm, str(number))
            canvas.rect(x + 8 * mm, y + 0.8 * mm, 20 * mm, ROW - 1.6 * mm, stroke=1, fill=0)
            _crossed_out(canvas, x + 29 * mm, y, 14 * mm)
        top = y


def _crossed_out(canvas: Canvas, x: float, y: float, wide: float) -> None:
    canvas.setDash(2, 2)
    canvas.rect(x, y + 0.8 * mm, wide, ROW - 1.6 * mm, stroke=1, fill=0)
    canvas.setDash()
