"""What is drawn over the picture of a drawing: areas and notes at their places, in pixels of the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.urls import reverse

from inspection.drawings.models import PARTS, DrawingArea, DrawingNote, DrawingRevision
from inspection.photos.picture import PAGE

# A bold letter's width as a share of its height, about; with the room to the next word.
LETTER = 0.72
# The sizes of words as shares of the longer side; smaller ones nobody reads, and the places stand alone.
LARGEST, LEAST = 1 / 46, 1 / 130


@dataclass(frozen=True)
class Mark:
    """A place with the words there, what is told of it, and where it leads."""

    x: float
    y: float
    words: str
    told: str
    address: str


@dataclass(frozen=True)
class Picture:
    """The sides of the picture as shown, and the marks over it; `letters` is the size of areas' words, 0 for none."""

    width: int
    height: int
    notes: tuple[Mark, ...]
    areas: tuple[Mark, ...]
    letters: float

    @property
    def unit(self) -> float:
        return round(max(self.width, self.height) / 60, 1)

    @property
    def line(self) -> float:
        return round(self.unit / 6, 1)

    @property
    def small(self) -> float:
        return round(self.unit * 1.3, 1)


def picture_of(revision: DrawingRevision, notes: Iterable[DrawingNote], areas: Iterable[DrawingArea]) -> Picture | None:
    """What `drawings/picture.html` draws; None of what has no picture."""
    if not revision.has_picture:
        return None
    share = min(1, PAGE / max(revision.width, revision.height))
    width, height = round(revision.width * share), round(revision.height * share)

    def mark(each: Any, words: str, told: str, address: str) -> Mark:
        return Mark(round(each.x * width / PARTS, 1), round(each.y * height / PARTS, 1), words, told, address)

    shown = tuple(
        mark(each, each.area.code, str(each.area), reverse("area", args=[each.area_id]))
        for each in areas if each.x is not None
    )  # fmt: skip
    noted = tuple(
        mark(each, str(each.number), each.text, f"#note-{each.number}") for each in notes if each.x is not None
    )
    return Picture(width, height, noted, shown, letters_of(shown, max(width, height)))


def letters_of(marks: Sequence[Mark], side: int) -> float:
    """How large the words of the marks may be so that none lies over another; 0 where they would be too small."""
    size = side * LARGEST
    while size >= side * LEAST:
        rows: dict[int, list[Mark]] = {}
        for each in marks:
            rows.setdefault(round(each.y / (1.3 * size)), []).append(each)
        if all(_apart(row, size) for row in rows.values()):
            return round(size, 1)
        size *= 0.85
    return 0


def _apart(row: list[Mark], size: float) -> bool:
    """Whether the words of one height, each about its place, leave room between them."""
    inside = sorted(row, key=lambda each: each.x)
    return all(
        after.x - before.x >= (len(before.words) + len(after.words)) / 2 * LETTER * size
        for before, after in pairwise(inside)
    )
