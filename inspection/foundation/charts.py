"""Charts as reportlab drawings: one drawing goes into a PDF as it is, and to a page as SVG without inline style."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import Color, HexColor, white
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from inspection.foundation.units import Unit, in_unit

INK, QUIET, RULE = HexColor("#1d2a33"), HexColor("#52626d"), HexColor("#d5dde2")
BAR, LOW, HIGH = HexColor("#6f93a8"), HexColor("#b4552d"), HexColor("#8a6d1f")
LIMIT, NOMINAL = HexColor("#8c2f1b"), HexColor("#2f6b4f")
REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"
SMALL = 7.5
TITLE_LINE = 11


@cache
def register_fonts() -> None:
    """Make DejaVu Sans known to reportlab. It has µ, ≤, ± and Ω, which the PDF base fonts lack."""
    folder = Path(__file__).parent / "fonts"
    for name in (REGULAR, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


def histogram(
    values_nm: Sequence[int],
    *,
    unit: Unit | str,
    minimum_nm: int | None,
    nominal_nm: int | None,
    maximum_nm: int | None,
    title: str,
    width: float = 480,
    height: float = 220,
) -> Drawing:
    """How often each thickness was read, against the specified limits. Thicknesses in nm, drawn in the unit.

    Bars below the minimum and above the maximum are hatched as well as coloured. A bar is cut where a limit lies in
    it, so that its parts never mix readings from both sides.
    """
    narrow = width < 240
    top = 33 + TITLE_LINE * len(title.split("\n"))
    plot = Plot(title, _summary(values_nm, unit, narrow=narrow), width, height, top=top, foot=20 if narrow else 32)
    if not values_nm:
        return plot.empty("No readings")
    scale = Unit(unit).nm
    edges = edges_of(values_nm, unit, minimum_nm, nominal_nm, maximum_nm)
    low, high, above_nm = edges[0], edges[-1], None if maximum_nm is None else maximum_nm + 1
    counts = [sum(1 for value in values_nm if left <= value < right) for left, right in pairwise(edges)]
    plot.scale_x(low, high)
    plot.scale_y(0, max(counts))
    plot.axis_y([tick for tick in _steps(0, max(counts), nice_step(max(counts), 4)) if tick == int(tick)], "{:.0f}")
    for left, right, count in zip(edges[:-1], edges[1:], counts, strict=True):
        below = minimum_nm is not None and right <= minimum_nm
        above = above_nm is not None and left >= above_nm
        plot.bar(left, right, count, LOW if below else HIGH if above else BAR, hatched=below or above)
    label = Unit(unit).label
    labels = nice_step((high - low) / scale, max(4, int(width / 60))) * scale
    ticks = _steps(math.ceil(low / labels) * labels, high, labels)
    plot.axis_x([(tick, f"{tick / scale:g}") for tick in ticks], "" if narrow else f"Thickness in {label}")
    _draw_limits(plot, minimum_nm, nominal_nm, maximum_nm, unit=unit, narrow=narrow)
    return plot.drawing


def edges_of(
    values_nm: Sequence[int], unit: Unit | str, minimum_nm: int | None, nominal_nm: int | None, maximum_nm: int | None
) -> list[float]:
    """Where the bars of a histogram begin and end, in nm; cut where a limit lies in one, with room about all limits."""
    scale = Unit(unit).nm
    known = [*values_nm, *(limit for limit in (minimum_nm, nominal_nm, maximum_nm) if limit is not None)]
    step = nice_step((max(known) - min(known)) / scale or 1, 16) * scale
    # Readings are whole nanometres and one at the maximum conforms, so what is above begins one nanometre later.
    cuts = [cut for cut in (minimum_nm, None if maximum_nm is None else maximum_nm + 1) if cut is not None]
    # A limit at the edge of the plot would hide its own line.
    low = math.floor((min(known) - step / 2) / step) * step
    high = math.ceil((max(known) + step / 2) / step) * step
    return sorted({*_steps(low, high, step), *cuts})


def _draw_limits(
    plot: Plot, minimum_nm: int | None, nominal_nm: int | None, maximum_nm: int | None, *, unit: Unit | str,
    narrow: bool,
) -> None:  # fmt: skip
    """A line for each limit, the nominal one dashed; what they are stands above, so that none runs through it."""
    named = ((minimum_nm, "minimum"), (nominal_nm, "nominal"), (maximum_nm, "maximum"))
    x = float(plot.margin)
    for limit, name in named:
        if limit is None:
            continue
        inner = name == "nominal"
        colour, dash = (NOMINAL, [3, 2]) if inner else (LIMIT, None)
        plot.upright(limit, colour, dash)
        words = f"{name[:3] if narrow else name} {in_unit(limit, unit)}"
        x = plot.key(x, words, colour, dash, size=6.5 if narrow else SMALL)


def control_chart(
    points: Sequence[tuple[datetime, float]],
    *,
    unit: Unit | str,
    limits: tuple[float, float] | None,
    tolerance: float | None,
    title: str,
    width: float = 480,
    height: float = 220,
) -> Drawing:
    """Values over time about zero: the errors of a gauge, with its control limits and ± its tolerance, in the unit.

    A point outside either is drawn as a filled diamond instead of a ring.
    """
    label = Unit(unit).label if unit in Unit.values else str(unit)
    plot = Plot(title, f"{many_of(len(points), 'check')}, error in {label}", width, height, top=36, left=40, right=86)
    if not points:
        return plot.empty("No checks yet")
    bounds = [*(limits or ()), *((-tolerance, tolerance) if tolerance is not None else ())]
    reach = max(abs(value) for value in (*(value for _, value in points), *bounds)) * 1.15 or 1.0
    step = nice_step(2 * reach, 6)
    first, last = points[0][0], max(points[-1][0], points[0][0] + timedelta(days=1))
    seconds = [(at - first).total_seconds() for at, _ in points]
    margin = (last - first).total_seconds() * 0.03
    plot.scale_x(-margin, (last - first).total_seconds() + margin)
    plot.scale_y(-reach, reach)
    ticks = [count * step for count in range(-int(reach // step), int(reach // step) + 1)]
    plot.axis_y(ticks, "{:g}")
    dates = [first + (last - first) * part / 4 for part in range(5)] if len(points) > 1 else [first]
    plot.axis_x([((at - first).total_seconds(), f"{at:%Y-%m-%d}") for at in dates], "")
    plot.level(0, "", QUIET, dashed=False)
    taken: list[float] = []
    if tolerance is not None:
        for sign, value in (("+", tolerance), ("−", -tolerance)):
            plot.level(value, f"tolerance {sign}{tolerance:.3g}", LIMIT, dashed=False, taken=taken)
    for value in limits or ():
        plot.level(value, f"control limit {value:.3g}".replace("-", "−"), NOMINAL, dashed=True, taken=taken)
    within = [
        (tolerance is None or abs(value) <= tolerance) and (limits is None or limits[0] <= value <= limits[1])
        for _, value in points
    ]
    plot.trail([(x, value) for x, (_, value) in zip(seconds, points, strict=True)], within)
    return plot.drawing


def progress_curves(
    curves: Sequence[tuple[str, Sequence[tuple[date, float]]]],
    *,
    total: float,
    title: str,
    width: float = 480,
    height: float = 240,
) -> Drawing:
    """What was done until each day, in m²: the first curve solid, the second dashed, with what there is in all."""
    plot = Plot(title, f"of {total:g} m² in all", width, height, top=48, left=44, right=34)
    days = [day for _, points in curves for day, _ in points]
    if not days:
        return plot.empty("Nothing is done yet")
    first, last = min(days), max(*days, min(days) + timedelta(days=1))
    span, most = (last - first).days, max(total, 1.0)
    plot.scale_x(0, span)
    plot.scale_y(0, most * 1.05)
    plot.axis_y(_steps(0, most * 1.05, nice_step(most * 1.05, 6)), "{:g}")
    parts = min(span, 4)
    plot.axis_x(
        [(span * part / parts, f"{first + timedelta(days=span * part / parts)}") for part in range(parts + 1)], ""
    )
    x = float(plot.margin)
    for (words, points), colour, dash in zip(curves, (BAR, NOMINAL), (None, [4, 3]), strict=False):
        plot.stairs([((day - first).days, value) for day, value in points], colour, dash, until=span)
        x = plot.key(x, words, colour, dash, size=SMALL)
    return plot.drawing


def as_svg(drawing: Drawing) -> bytes:
    """The drawing as SVG: presentation attributes only (a strict CSP drops style=), no ids, real text."""
    root = ET.Element(
        "svg",
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_n(drawing.width)} {_n(drawing.height)}",
        width=_n(drawing.width),
        height=_n(drawing.height),
    )
    # reportlab counts y upwards from the foot, SVG downwards from the head.
    # The plate is white in dark mode too: the inks are chosen for it.
    ET.SubElement(root, "rect", width="100%", height="100%", fill="#ffffff")
    upward = ET.SubElement(root, "g", transform=f"matrix(1 0 0 -1 0 {_n(drawing.height)})")
    _write(drawing.contents, upward)
    return bytes(ET.tostring(root, encoding="utf-8", xml_declaration=True))


def nice_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 times a power of ten that divides the span into at most so many steps."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(power * factor for factor in (1, 2, 5, 10, 20) if span / (power * factor) <= most)


def _summary(values_nm: Sequence[int], unit: Unit | str, *, narrow: bool) -> str:
    if not values_nm:
        return ""
    label, mean = Unit(unit).label, in_unit(Fraction(sum(values_nm), len(values_nm)), unit)
    if narrow:
        return f"n {len(values_nm)}, mean {mean} {label}"
    low, high = in_unit(min(values_nm), unit), in_unit(max(values_nm), unit)
    return f"{many_of(len(values_nm), 'reading')}, mean {mean}, lowest {low}, highest {high} {label}"


def many_of(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _steps(low: float, high: float, step: float) -> list[float]:
    return [low + count * step for count in range(math.floor((high - low) / step + 1e-9) + 1)]


def fitted(words: str, width: float, font: str, size: float) -> str:
    """The words, cut in the middle where they are wider than there is room: long codes differ most at their ends."""
    if pdfmetrics.stringWidth(words, font, size) <= width:
        return words
    return next(
        (cut for many in range(len(words) - 1, 1, -1)
         if pdfmetrics.stringWidth(cut := f"{words[: many - many // 2].rstrip()}…{words[-(many // 2):].lstrip()}",
                                   font, size) <= width), "…",
    )  # fmt: skip


class Plot:
    """A white plate with title, summary and a plot area; data coordinates once the scales are set."""

    def __init__(
        self,
        title: str,
        summary: str,
        width: float,
        height: float,
        *,
        top: float,
        left: float = 34,
        right: float = 14,
        foot: float = 32,
    ) -> None:
        register_fonts()
        self.drawing = Drawing(width, height)
        self.margin = 8
        self.left, self.right, self.foot, self.head = left, width - right, foot, height - top
        self.under = height - 14
        for line in title.split("\n"):
            self.text(self.margin, self.under, fitted(line, width - 2 * self.margin, BOLD, 9), size=9, bold=True)
            self.under -= TITLE_LINE
        self.text(self.margin, self.under, summary, colour=QUIET)
        self.under -= 11

    def add(self, shape: Any) -> None:
        self.drawing.add(shape)

    def text(
        self, x: float, y: float, words: str, *, size: float = SMALL, bold: bool = False, colour: Color = INK,
        anchor: str = "start",
    ) -> None:  # fmt: skip
        font = BOLD if bold else REGULAR
        if words:
            self.add(String(x, y, words, fontName=font, fontSize=size, fillColor=colour, textAnchor=anchor))

    def empty(self, words: str) -> Drawing:
        middle = (self.left + self.right) / 2
        self.text(middle, (self.foot + self.head) / 2, words, size=9, colour=QUIET, anchor="middle")
        return self.drawing

    def scale_x(self, low: float, high: float) -> None:
        self.low_x, self.per_x = low, (self.right - self.left) / (high - low)

    def scale_y(self, low: float, high: float) -> None:
        self.low_y, self.per_y = low, (self.head - self.foot) / (high - low)

    def x(self, value: float) -> float:
        return self.left + (value - self.low_x) * self.per_x

    def y(self, value: float) -> float:
        return self.foot + (value - self.low_y) * self.per_y

    def axis_y(self, ticks: Iterable[float], form: str) -> None:
        for tick in ticks:
            y = self.y(tick)
            self.add(Line(self.left, y, self.right, y, strokeColor=RULE, strokeWidth=0.5))
            words = form.format(round(tick, 9) + 0.0).replace("-", "−")
            self.text(self.left - 5, y - 2.6, words, colour=QUIET, anchor="end")

    def axis_x(self, ticks: Iterable[tuple[float, str]], name: str) -> None:
        self.add(Line(self.left, self.foot, self.right, self.foot, strokeColor=QUIET, strokeWidth=0.7))
        for value, words in ticks:
            x = self.x(value)
            self.add(Line(x, self.foot, x, self.foot - 3, strokeColor=QUIET, strokeWidth=0.7))
            self.text(x, self.foot - 11.5, words, colour=QUIET, anchor="middle")
        self.text((self.left + self.right) / 2, self.foot - 24, name, colour=QUIET, anchor="middle")

    def bar(self, left: float, right: float, count: int, colour: Color, *, hatched: bool) -> None:
        if not count:
            return
        x, wide, tall = self.x(left) + 0.4, max(self.x(right) - self.x(left) - 0.8, 0.8), self.y(count) - self.foot
        self.add(Rect(x, self.foot, wide, tall, fillColor=colour, strokeColor=colour, strokeWidth=0.4))
        if hatched:
            for level in _steps(self.foot + 3, self.foot + tall, 4):
                self.add(Line(x, level, x + wide, level, strokeColor=white, strokeWidth=0.9))

    def upright(self, value: float, colour: Color, dash: list[int] | None) -> None:
        x = self.x(value)
        self.add(Line(x, self.foot, x, self.head, strokeColor=colour, strokeWidth=1, strokeDashArray=dash))

    def key(self, x: float, words: str, colour: Color, dash: Sequence[float] | None, *, size: float) -> float:
        """A piece of a line and what it stands for, below the summary; where the next one may begin."""
        y = self.under
        self.add(Line(x, y + 2.5, x + 8, y + 2.5, strokeColor=colour, strokeWidth=1, strokeDashArray=dash))
        self.text(x + 10, y, words, size=size, colour=colour)
        return x + 10 + float(pdfmetrics.stringWidth(words, REGULAR, size)) + (5 if size < SMALL else 12)

    def level(self, value: float, words: str, colour: Color, *, dashed: bool, taken: list[float] | None = None) -> None:
        y = self.y(value)
        dash = [3, 2] if dashed else None
        self.add(Line(self.left, y, self.right, y, strokeColor=colour, strokeWidth=0.9, strokeDashArray=dash))
        if taken is not None:
            place = y - 2.6
            while any(abs(place - other) < SMALL + 0.5 for other in taken):
                place += (SMALL + 1) * (1 if value > 0 else -1)
            taken.append(place)
            self.text(self.right + 4, place, words, size=6.5, colour=colour)

    def stairs(
        self, points: Sequence[tuple[float, float]], colour: Color, dash: list[int] | None, *, until: float
    ) -> None:
        """A line that rises at each point and runs level to the next one, and on to the end."""
        flat, height = [], self.y(0)
        for x, y in points:
            flat += [self.x(x), height, self.x(x), self.y(y)]
            height = self.y(y)
        if flat:
            flat += [self.x(until), height]
            self.add(PolyLine(flat, strokeColor=colour, strokeWidth=1.6, strokeDashArray=dash))

    def trail(self, points: Sequence[tuple[float, float]], within: Sequence[bool]) -> None:
        places = [(self.x(x), self.y(y)) for x, y in points]
        if len(places) > 1:
            flat = [part for place in places for part in place]
            self.add(PolyLine(flat, strokeColor=BAR, strokeWidth=0.9))
        for (x, y), good in zip(places, within, strict=True):
            if good:
                self.add(Circle(x, y, 2.4, fillColor=white, strokeColor=INK, strokeWidth=1))
            else:
                diamond = [x - 4, y, x, y + 4, x + 4, y, x, y - 4]
                self.add(Polygon(diamond, fillColor=LOW, strokeColor=white, strokeWidth=0.6))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _paint(shape: Any) -> dict[str, str]:
    """Fill and stroke as SVG presentation attributes."""
    fill, stroke = getattr(shape, "fillColor", None), getattr(shape, "strokeColor", None)
    painted = {"fill": f"#{fill.hexval()[2:]}" if fill else "none"}
    if stroke:
        painted |= {"stroke": f"#{stroke.hexval()[2:]}", "stroke-width": _n(shape.strokeWidth)}
        if shape.strokeDashArray:
            painted["stroke-dasharray"] = " ".join(map(_n, shape.strokeDashArray))
    return painted


def _write(shapes: Iterable[Any], into: ET.Element) -> None:
    for shape in shapes:
        match shape:
            case Group():
                matrix = " ".join(map(_n, shape.transform))
                _write(shape.contents, ET.SubElement(into, "g", transform=f"matrix({matrix})"))
            case String():
                text = ET.SubElement(into, "text", transform=f"matrix(1 0 0 -1 {_n(shape.x)} {_n(shape.y)})")
                text.attrib |= {
                    "font-family": "DejaVu Sans, Verdana, sans-serif",
                    "font-size": _n(shape.fontSize),
                    "font-weight": "bold" if shape.fontName == BOLD else "normal",
                    "text-anchor": shape.textAnchor,
                    "fill": f"#{shape.fillColor.hexval()[2:]}",
                }
                text.text = shape.text
            case Rect():
                box = {"x": shape.x, "y": shape.y, "width": shape.width, "height": shape.height}
                ET.SubElement(into, "rect", {name: _n(value) for name, value in box.items()} | _paint(shape))
            case Circle():
                ring = {"cx": shape.cx, "cy": shape.cy, "r": shape.r}
                ET.SubElement(into, "circle", {name: _n(value) for name, value in ring.items()} | _paint(shape))
            case Line():
                ends = {"x1": shape.x1, "y1": shape.y1, "x2": shape.x2, "y2": shape.y2}
                ET.SubElement(into, "line", {name: _n(value) for name, value in ends.items()} | _paint(shape))
            case Polygon() | PolyLine():
                name = "polygon" if isinstance(shape, Polygon) else "polyline"
                ET.SubElement(into, name, {"points": " ".join(map(_n, shape.points))} | _paint(shape))
            case _:
                raise TypeError(f"{type(shape).__name__} has no SVG form here")
