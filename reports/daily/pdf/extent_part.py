"""How far nonconformances reach, drawn, and the repaired parts of their areas; told beneath the nonconformances."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from reportlab.platypus import Flowable, Table

from inspection.foundation.units import Unit
from inspection.nonconformance.extent import BEARINGS, ENDED, NM, STEP_M, Found
from inspection.nonconformance.extent_drawing import extent_drawing
from inspection.nonconformance.models import ExtentSpot
from inspection.standards.extent import ExtentSearch, Spot, dft_pa2_extent_search
from reports.daily.extent_facts import Reaching, RepairedTold
from reports.daily.facts import DayFacts, Nonconforming
from reports.daily.pdf.pieces import BREADTH, clock, lines_under, numbered, section

ACROSS = 2


def extents(facts: DayFacts) -> list[Flowable]:
    """Nothing where no extent was looked for."""
    rows = [row for row in facts.nonconformances if row.reaches or row.repaired]
    if not rows:
        return []
    lines = [line for row in rows for line in _lines(facts, row)]
    rests = [part for row in rows for part in row.repaired]
    size = BREADTH / ACROSS - 8
    drawings = [
        extent_drawing(row.number, Unit(facts.unit), _found(row.reaches), size=size) for row in rows if row.reaches
    ]
    tables = [
        Table(
            [[*drawings[at : at + ACROSS], *([""] * (at + ACROSS - len(drawings)))]],
            [BREADTH / ACROSS] * ACROSS, style=[("LEFTPADDING", (0, 0), (-1, -1), 0)], hAlign="LEFT",
        )
        for at in range(0, len(drawings), ACROSS)
    ]  # fmt: skip
    content = [
        *lines_under("Extent by the search of SSPC-PA 2, and the repaired parts", lines),
        *(
            flowable
            for part in rests
            for flowable in lines_under(f"The rest of the area, without {part.part}", part.rest_words)
        ),
        *tables,
    ]
    return section("How far they reach, and what is repaired", content, room=size)


def _lines(facts: DayFacts, row: Nonconforming) -> Iterator[str]:
    if row.reaches:
        spots = sum(not spot.ended for spot in row.reaches.spots)
        many = f"{spots} spot{'' if spots == 1 else 's'} measured outward"
        encloses = "the search has ended" if row.reaches.area_m2 is None else f"at most {row.reaches.area_m2:.2f} m²"
        told = encloses if row.reaches.finished else "not known yet, the search is under way"
        yield f"{numbered(row)}, {row.area}: {told}; {many}."
    for part in row.repaired:
        yield f"{numbered(row)}: {_part(facts, part)}"


def _part(facts: DayFacts, told: RepairedTold) -> str:
    left = ", ".join(map(str, told.left_out))
    words = [
        f"{told.part}, {told.area_m2:g} m², repaired part made {clock(facts, told.made_at)};",
        f"without spot{'' if len(told.left_out) == 1 else 's'} {left} the rest of the area: {told.rest or '–'}.",
    ]
    if told.measured_at:
        standing = f", {told.standing.lower()}" if told.standing else ""
        words.append(f"The part measured {clock(facts, told.measured_at)}: {told.verdict}{standing}.")
    else:
        words.append("The part is not measured yet.")
    if told.undone_at:
        words.append(f"Undone {clock(facts, told.undone_at)}: {told.undone_why}")
    return " ".join(words)


def _found(told: Reaching) -> Found:
    """The search as it was, from the facts."""
    search = ExtentSearch(
        minimum_um=Fraction(told.minimum_nm, NM),
        maximum_um=None if told.maximum_nm is None else Fraction(told.maximum_nm, NM),
        directions=len(BEARINGS), step_m=STEP_M, repeating_units=told.by_units,
        spots=tuple(
            Spot(direction=spot.direction, ended=ENDED[ExtentSpot.Ended(spot.ended)]) if spot.ended
            else Spot(direction=spot.direction, readings_um=tuple(Fraction(nm, NM) for nm in spot.readings_nm))
            for spot in told.spots
        ),
    )  # fmt: skip
    return Found([], search, dft_pa2_extent_search(search))
