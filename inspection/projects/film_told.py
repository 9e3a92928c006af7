"""What is told of a coating system besides what it specifies: which total holds, and what looks like a slip."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from inspection.foundation.units import with_unit
from inspection.projects.models import Coat, CoatingSystem

STATED, SUMMED = "stated", "the sum of the coats"
# By what the coat allows, the same of its data sheet, whether it is a least figure, and in words.
RANGES = (
    ("air_min_c", True, "air down to", "°C"),
    ("air_max_c", False, "air up to", "°C"),
    ("surface_min_c", True, "steel down to", "°C"),
    ("surface_max_c", False, "steel up to", "°C"),
    ("humidity_min_pct", True, "humidity down to", "%"),
    ("humidity_max_pct", False, "humidity up to", "%"),
)


class Total(NamedTuple):
    """A limit of the whole film, in nm, as results after the last coat are judged by it, and where it comes from."""

    name: str
    nm: int
    comes_from: str


class Shown(NamedTuple):
    """A system with what its page tells beside it."""

    system: CoatingSystem
    totals: list[Total]
    doubts: list[str]


def shown(systems: Iterable[CoatingSystem]) -> list[Shown]:
    return [Shown(system, totals_of(system), doubts_of(system)) for system in systems]


def totals_of(system: CoatingSystem) -> list[Total]:
    last = _last(system)
    if last is None:
        return []
    judged, stated = last.through._asdict(), system.totals._asdict()
    return [
        Total(name, limit, STATED if stated[name] is not None else SUMMED)
        for name, limit in judged.items()
        if limit is not None
    ]


def doubts_of(system: CoatingSystem) -> list[str]:
    """A sentence for each thing that should be looked at, though it is specified so."""
    return [*_differing_totals(system), *(doubt for coat in system.coats.all() for doubt in _of_sheet(coat))]


def _differing_totals(system: CoatingSystem) -> list[str]:
    last = _last(system)
    if last is None:
        return []
    unit = system.project.unit
    return [
        f"The system states a total {name} of {with_unit(stated, unit)}; its coats add up to {with_unit(added, unit)}. "
        "After the last coat the stated total holds."
        for (name, stated), added in zip(system.totals._asdict().items(), last.summed, strict=True)
        if stated is not None and added is not None and stated != added
    ]


def _of_sheet(coat: Coat) -> list[str]:
    sheet = coat.data_sheet
    if sheet is None:
        return []
    found = []
    if sheet.product.casefold() != coat.product.casefold():
        found.append(f"{coat}: its product is {coat.product}, and its data sheet is of {sheet.product}.")
    for name, is_least, words, unit in RANGES:
        allowed, printed = getattr(coat, name), getattr(sheet, name)
        if allowed is not None and printed is not None and (allowed < printed if is_least else allowed > printed):
            found.append(f"{coat} allows {words} {_plain(allowed)} {unit}, its data sheet {_plain(printed)} {unit}.")
    return found


def _plain(value: object) -> str:
    return f"{value:.1f}".removesuffix(".0").replace("-", "−")


def _last(system: CoatingSystem) -> Coat | None:
    return max(system.coats.all(), key=lambda coat: coat.order, default=None)
