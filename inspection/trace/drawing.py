"""A trace drawn as layers of boxes, what it rests on first, with a line wherever one thing rests directly on another.

Plain SVG whose looks are attributes, so that the strict content security policy shows it whole; its tables stand beside
it on the page. Wide for a desk, tall for a phone.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from inspection.trace.queries import Layer, Node, edges

MOST_BOXES = 5
WIDTH, HEIGHT = 172, 64
# What fits on a line of a box; a name has two, and keeps its end, which tells it from its neighbours.
A_LINE = 17
GAP = 26
INK, SOFT, LINE, PAPER, SELF = "#15212a", "#52626d", "#8fa3ad", "#ffffff", "#dceff3"
EDGES = {"good": "#2f6b4f", "bad": "#8c2f1b", "doubt": "#8a6d1f"}
TONES = {
    "sound": "good", "pass": "good", "released": "good", "in_service": "good",
    "fail": "bad", "refused": "bad", "withdrawn": "bad",
    "in_question": "doubt", "quarantined": "doubt",
}  # fmt: skip


@dataclass(frozen=True)
class Box:
    node: Node | None
    text: str
    x: int
    y: int


def drawn(start: Node, below: Sequence[Layer], above: Sequence[Layer], *, tall: bool) -> bytes:
    """The SVG. `below` and `above` come nearest first, as the trace lists them."""
    columns = [_column(layer) for layer in reversed(below)]
    columns.append([(start, "")])
    columns += [_column(layer) for layer in above]
    boxes, width, height = _placed(columns, tall=tall)
    nodes = [box.node for box in boxes if box.node]
    at = {box.node.pk: box for box in boxes if box.node}
    lines = [_line(at[low], at[high], tall=tall) for high, low in sorted(edges(nodes)) if high in at and low in at]
    shapes = [_box(box, is_start=box.node is not None and box.node.pk == start.pk) for box in boxes]
    title = escape(f"Trace of {start.kind.one.lower()} {start.row.title}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" font-family="DejaVu Sans, sans-serif"><title>{title}</title>'
        f'<rect width="{width}" height="{height}" fill="{PAPER}"/>{"".join(lines)}{"".join(shapes)}</svg>'
    ).encode()


def _column(layer: Layer) -> list[tuple[Node | None, str]]:
    shown: list[tuple[Node | None, str]] = [(node, "") for node in layer.nodes[:MOST_BOXES]]
    hidden = layer.total - len(shown)
    if hidden:
        shown.append((None, f"and {hidden} more"))
    return shown


def _placed(columns: list[list[tuple[Node | None, str]]], *, tall: bool) -> tuple[list[Box], int, int]:
    if tall:
        return _placed_tall(columns)
    across, along = HEIGHT + 12, WIDTH + GAP
    longest = max(len(column) for column in columns)
    boxes = [
        Box(node, text, 10 + number * along, 10 + round((longest - len(column)) * across / 2) + row * across)
        for number, column in enumerate(columns)
        for row, (node, text) in enumerate(column)
    ]
    return boxes, 20 + len(columns) * along - GAP, 6 + longest * across


def _placed_tall(columns: list[list[tuple[Node | None, str]]]) -> tuple[list[Box], int, int]:
    """Two boxes side by side, the next two below them: what a phone has room for."""
    boxes, y = [], 10
    for column in columns:
        for row, (node, text) in enumerate(column):
            boxes.append(Box(node, text, 10 + (row % 2) * (WIDTH + 10), y + (row // 2) * (HEIGHT + 10)))
        y += (len(column) + 1) // 2 * (HEIGHT + 10) + 26
    return boxes, 2 * WIDTH + 30, y - 20


def _line(low: Box, high: Box, *, tall: bool) -> str:
    """From what bears to what rests on it."""
    if tall:
        x1, y1, x2, y2 = low.x + WIDTH // 2, low.y + HEIGHT, high.x + WIDTH // 2, high.y
        path = f"M{x1} {y1}C{x1} {(y1 + y2) // 2} {x2} {(y1 + y2) // 2} {x2} {y2}"
    else:
        x1, y1, x2, y2 = low.x + WIDTH, low.y + HEIGHT // 2, high.x, high.y + HEIGHT // 2
        path = f"M{x1} {y1}C{(x1 + x2) // 2} {y1} {(x1 + x2) // 2} {y2} {x2} {y2}"
    return f'<path d="{path}" fill="none" stroke="{LINE}" stroke-width="1.3"/>'


def _box(box: Box, *, is_start: bool) -> str:
    if box.node is None:
        return (
            f'<rect x="{box.x}" y="{box.y + 12}" width="{WIDTH}" height="22" fill="{PAPER}"/>'
            f'<text x="{box.x + 8}" y="{box.y + 27}" font-size="13" fill="{SOFT}">{escape(box.text)}</text>'
        )
    row = box.node.row
    edge = EDGES.get(TONES.get(row.state, ""), INK if is_start else SOFT)
    kind = box.node.kind.one
    if row.words and row.state != "in_service" and not kind.startswith(row.words):
        kind = f"{row.words} · {kind.lower()}"
    return (
        f'<rect x="{box.x}" y="{box.y}" width="{WIDTH}" height="{HEIGHT}" rx="5" fill="{SELF if is_start else PAPER}" '
        f'stroke="{edge}" stroke-width="{2.4 if is_start else 1.4}"/>'
        f'<text x="{box.x + 8}" y="{box.y + 19}" font-size="11" fill="{SOFT}">{escape(_cut(kind, 26))}</text>'
        f'<text font-size="13" font-weight="bold" fill="{INK}">{"".join(_named(box, row.short or row.title))}</text>'
    )


def _named(box: Box, name: str) -> list[str]:
    """The name on one line or two; of a longer one the middle is left out."""
    lines = textwrap.wrap(name, A_LINE)
    if len(lines) > 2:
        lines = [lines[0], f"…{name[-(A_LINE - 1) :].lstrip()}"]
    return [
        f'<tspan x="{box.x + 8}" y="{box.y + 37 + number * 17}">{escape(line)}</tspan>'
        for number, line in enumerate(lines)
    ]


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"
