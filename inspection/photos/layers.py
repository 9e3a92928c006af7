"""What is drawn over a photo: arrows, circles and texts as data. Places are shares of width and height, from top left.

A page names places by the cells of a grid of 12 × 12: columns A to L from the left, rows 1 to 12 from the top.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import wrong_on_a_line

CELLS = 12
LETTERS = "ABCDEFGHIJKL"
SHAPES = {"arrow": "Arrow", "circle": "Circle", "text": "Text"}
SHAPE_NAMES = tuple(SHAPES)
MOST_SHAPES = 40
LONGEST_TEXT = 80
CELL = re.compile(r"([A-La-l])\s*(1[0-2]|[1-9])")
Place = tuple[float, float]


@dataclass(frozen=True)
class Drawn:
    """One shape as it is drawn, in the units of the picture it is drawn on."""

    shape: str
    x1: float
    y1: float
    x2: float
    y2: float
    head: tuple[tuple[float, float], ...]
    text: str
    text_x: float
    text_y: float
    anchor: str

    @property
    def points(self) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in self.head)

    @property
    def centre(self) -> tuple[float, float]:
        return round((self.x1 + self.x2) / 2, 1), round((self.y1 + self.y2) / 2, 1)

    @property
    def radii(self) -> tuple[float, float]:
        return round(abs(self.x2 - self.x1) / 2, 1), round(abs(self.y2 - self.y1) / 2, 1)


def place_of_cell(text: str, *, field: str, row: int) -> Place:
    """The middle of the cell, such as C4. Raises Refused naming the row."""
    found = CELL.fullmatch(text.strip())
    if not found:
        raise Refused(Fault(f"“{text[:20]}” is no cell of the grid; write a letter A to L and a number 1 to 12, "
                            "such as C4.", field, row))  # fmt: skip
    return (LETTERS.index(found[1].upper()) + 0.5) / CELLS, (int(found[2]) - 0.5) / CELLS


def cell_of_place(place: Sequence[float]) -> str:
    column, row = (min(int(share * CELLS), CELLS - 1) for share in place)
    return f"{LETTERS[column]}{row + 1}"


def checked(shapes: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """The shapes as they are kept. Raises Refused with each thing wrong, naming field and row."""
    rows = list(shapes)
    if len(rows) > MOST_SHAPES:
        raise Refused(Fault(f"At most {MOST_SHAPES} shapes are drawn over a photo; these are {len(rows)}.", "shapes"))
    kept, faults = [], []
    for number, row in enumerate(rows, start=1):
        wrong = list(_wrong(row, number))
        faults += wrong
        if not wrong:
            kept.append({"shape": row["shape"], "from": [round(share, 4) for share in row["from"]],
                         "to": [round(share, 4) for share in row["to"]] if row.get("to") else None,
                         "text": (row.get("text") or "").strip()})  # fmt: skip
    if faults:
        raise Refused(faults)
    return kept


def _wrong(row: dict[str, Any], number: int) -> Iterable[Fault]:
    shape, begin, end, text = (row.get(name) for name in ("shape", "from", "to", "text"))
    if shape not in SHAPES:
        yield Fault("Choose arrow, circle or text.", "shape", number)
    if not _is_place(begin):
        yield Fault("Give where it begins, as two shares of width and height from 0 to 1.", "from", number)
    if shape in ("arrow", "circle") and not end:
        words = "points to" if shape == "arrow" else "reaches"
        yield Fault(f"Give the place that the {shape} {words}.", "to", number)
    elif end is not None and not _is_place(end):
        yield Fault("Give two shares of width and height from 0 to 1.", "to", number)
    elif shape == "arrow" and begin == end:
        yield Fault("The arrow begins where it points; give two different places.", "to", number)
    said = (text or "").strip()
    if shape == "text" and not said:
        yield Fault("Give the text.", "text", number)
    if len(said) > LONGEST_TEXT:
        yield Fault(f"At most {LONGEST_TEXT} characters; these are {len(said)}.", "text", number)
    elif wrong := wrong_on_a_line(said):
        yield Fault(wrong, "text", number)


def _is_place(value: Any) -> bool:
    return (
        isinstance(value, list | tuple)
        and len(value) == 2
        and all(isinstance(share, int | float) and not isinstance(share, bool) and 0 <= share <= 1 for share in value)
    )


def drawn(shapes: Iterable[dict[str, Any]], width: float, height: float) -> list[Drawn]:
    """The shapes on a picture of this size, from top left. A circle goes around its two cells with all between."""
    unit = max(width, height) / 60
    return [_drawn(shape, width, height, unit) for shape in shapes]


def _drawn(shape: dict[str, Any], width: float, height: float, unit: float) -> Drawn:
    x1, y1 = shape["from"][0] * width, shape["from"][1] * height
    end = shape["to"] or shape["from"]
    x2, y2 = end[0] * width, end[1] * height
    head: tuple[tuple[float, float], ...] = ()
    text_x, text_y = x1, y1
    if shape["shape"] == "circle":
        half_x, half_y = width / CELLS / 2, height / CELLS / 2
        x1, x2 = min(x1, x2) - half_x, max(x1, x2) + half_x
        y1, y2 = min(y1, y2) - half_y, max(y1, y2) + half_y
        text_x, text_y = (x1 + x2) / 2, y2 + unit * 2.1
        if text_y > height - unit * 0.3:
            text_y = y1 - unit * 0.5
    elif shape["shape"] == "arrow":
        head = _head(x1, y1, x2, y2, unit)
        text_y = y1 + (-0.6 if y2 > y1 else 2.1) * unit
    # What begins in the outer thirds is written towards the middle.
    anchor = "start" if text_x < width / 3 else "end" if text_x > width * 2 / 3 else "middle"
    text_y = min(max(text_y, unit * 2), height - unit * 0.5)
    x1, y1, x2, y2, text_x, text_y = (round(each, 1) for each in (x1, y1, x2, y2, text_x, text_y))
    return Drawn(shape["shape"], x1, y1, x2, y2, head, shape["text"], text_x, text_y, anchor)


def _head(x1: float, y1: float, x2: float, y2: float, unit: float) -> tuple[tuple[float, float], ...]:
    towards = math.atan2(y2 - y1, x2 - x1)
    sides = [
        (x2 - 1.6 * unit * math.cos(towards + turn), y2 - 1.6 * unit * math.sin(towards + turn))
        for turn in (0.45, -0.45)
    ]
    return ((x2, y2), *sides)


def in_words(shapes: Iterable[dict[str, Any]]) -> list[str]:
    """Each shape as a sentence, for whoever does not see the picture."""
    return [_words(shape) for shape in shapes]


def _words(shape: dict[str, Any]) -> str:
    begin, end = cell_of_place(shape["from"]), cell_of_place(shape["to"]) if shape["to"] else ""
    said = f": {shape['text']}" if shape["text"] else ""
    if shape["shape"] == "arrow":
        return f"Arrow from {begin} to {end}{said}"
    if shape["shape"] == "circle":
        return f"Circle around {begin}{f' to {end}' if end != begin else ''}{said}"
    return f"Text at {begin}{said}"
