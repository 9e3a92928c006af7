"""The annex: of every thickness record the means of its spots, or its single readings, as they were judged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from reportlab.platypus import Flowable

from reports.daily.facts import DayFacts, Thickness
from reports.daily.pdf.pieces import BREADTH, clock, film, label, nothing, section, subheading, table

# A record with more is told by its first and how many more there are; all of them are on its page.
MOST = 240
# So many records stand side by side where none has more figures than this.
FEW = ((3, 2), (2, 5))
AREA, TIME = 54.0, 40.0


def readings(facts: DayFacts) -> list[Flowable]:
    """By coat a row for each record; nothing where no thickness was recorded."""
    if not facts.thicknesses:
        return []
    ordered = sorted(facts.thicknesses, key=lambda row: (row.coat_order, row.coat, row.area, row.began, row.id))
    content: list[Flowable] = nothing(
        f"In {label(facts.unit)}, without voided readings, less the profile correction, in the order taken."
    )
    for words, rows in groupby(ordered, key=lambda row: f"{row.coat}: {_of_what(row)}"):
        told = [(row.area, clock(facts, row.began), *_figures(row, facts.unit)) for row in rows]
        content += subheading(words, _side_by_side(told))
    return section("Annex: readings", content)


def _of_what(row: Thickness) -> str:
    return "means of the readings of each spot" if len(set(row.spots)) < len(row.spots) else "single readings"


def _side_by_side(rows: Sequence[tuple[str, str, str, int]]) -> list[Flowable]:
    """A table with one record in a row, or two or three where they have few figures, read across."""
    most = max(figures for *_, figures in rows)
    beside = next((many for many, few in FEW if most <= few), 1)
    width = BREADTH / beside
    heads, widths = ("Area", "Time", "Readings") * beside, (AREA, TIME, width - AREA - TIME) * beside
    lines = [[cell for *cells, _ in rows[at : at + beside] for cell in cells] for at in range(0, len(rows), beside)]
    return table(heads, widths, [(*line, *[""] * (len(heads) - len(line))) for line in lines])


def _figures(row: Thickness, unit: str) -> tuple[str, int]:
    """In words, and how many they are."""
    values = [Fraction(sum(spot), len(spot)) for spot in _spots(row)]
    more = f" and {len(values) - MOST} more" if len(values) > MOST else ""
    return "  ".join(film(value, unit) for value in values[:MOST]) + more, len(values)


def _spots(row: Thickness) -> Iterator[list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    for spot, value in zip(row.spots, row.values_nm, strict=True):
        found[spot].append(value)
    yield from found.values()
