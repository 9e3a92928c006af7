"""The thickness part: a table for each coat, what was not met, how far each record stands, and the distributions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import groupby
from xml.sax.saxutils import escape

from reportlab.platypus import Flowable, Paragraph, Table

from accounts.charts import histogram
from reports.facts import DayFacts, Thickness
from reports.pdf.pieces import (
    BREADTH,
    MARKS,
    SUB,
    clock,
    explained,
    film,
    label,
    lines_under,
    listed,
    nothing,
    section,
    table,
)  # fmt: skip

ACROSS = 3


def thickness(facts: DayFacts) -> list[Flowable]:
    if not facts.thicknesses:
        return section("Dry film thickness", nothing("No thickness was recorded."))
    content: list[Flowable] = []
    ordered = sorted(facts.thicknesses, key=lambda row: (row.coat_order, row.coat, row.area, row.began, row.id))
    for words, rows in groupby(ordered, key=lambda row: _judged_by(row, facts.unit)):
        content += [Paragraph(escape(words), SUB), *_coat_table(facts, list(rows))]
    content += lines_under("Checks not met", [_failure(facts, row) for row in ordered if row.verdict != "pass"])
    content += lines_under("Why records are not sound", _standings(ordered))
    notes = [f"{row.area}, {row.coat}: {row.note}" for row in ordered if row.note]
    return section("Dry film thickness", [*content, *lines_under("Notes", notes)])


def _judged_by(row: Thickness, unit: str) -> str:
    maximum = f"maximum {film(row.maximum_nm, unit)}" if row.maximum_nm is not None else "no maximum"
    limits = f"minimum {film(row.minimum_nm, unit)}, nominal {film(row.nominal_nm, unit)}, {maximum} {label(unit)}"
    edition = f" ({row.edition})" if row.edition else ""
    return f"{row.coat}, {row.product} · {row.rule}{edition} · {limits}"


def _coat_table(facts: DayFacts, rows: Sequence[Thickness]) -> list[Flowable]:
    unit = label(facts.unit)
    heads = ("Area", "Time", "Gauge", "By", "Readings", f"Mean {unit}", f"Lowest {unit}", f"Highest {unit}", "Verdict",
             "Standing")  # fmt: skip
    widths = (104, 58, 42, 62, 44, 36, 38, 38, 40, 48)
    told = [
        (
            f"{row.area} {row.area_name}, {row.area_m2:g} m²", f"{clock(facts, row.began)}–{clock(facts, row.ended)}",
            row.gauge, row.by, f"{len(row.values_nm)} of {row.wanted}", film(row.mean_nm, facts.unit),
            film(row.lowest_nm, facts.unit), film(row.highest_nm, facts.unit), row.verdict, row.standing,
        )
        for row in rows
    ]  # fmt: skip
    return [*table(heads, widths, told, numbers=range(4, 8), marks=(8, 9)), *_ways(facts, rows)]


def _ways(facts: DayFacts, rows: Sequence[Thickness]) -> list[Flowable]:
    """How the profile under the film was dealt with; the same way is told once for all its areas."""
    ways: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        taken = f" ({film(row.correction_nm, facts.unit)} {label(facts.unit)})" if row.correction_nm else ""
        ways[f"{row.profile_way}{taken}"].append(row.area)
    told = "; ".join(f"{way}" if len(ways) == 1 else f"{way}: {listed(areas)}" for way, areas in ways.items())
    return nothing(f"Surface profile: {told}.")


def _failure(facts: DayFacts, row: Thickness) -> str:
    what = f"{row.area}, {row.coat}"
    if row.failed:
        return explained(facts, what, row.failed)
    return f"{what}: {len(row.values_nm)} readings of {row.wanted} wanted; no verdict before they are taken."


def _standings(rows: Sequence[Thickness]) -> list[str]:
    reasons: dict[tuple[str, tuple[str, ...]], list[str]] = defaultdict(list)
    for row in rows:
        if row.standing != "sound":
            reasons[row.standing, row.reasons].append(f"{row.area} {row.coat}")
    return [
        f"{MARKS[state][0]}: {listed(which)}. {' '.join(why) or 'Not yet worked out.'}"
        for (state, why), which in reasons.items()
    ]


def charts(facts: DayFacts) -> list[Flowable]:
    """One small histogram a record, several across; the figures are in the table above."""
    ordered = sorted(facts.thicknesses, key=lambda row: (row.coat_order, row.coat, row.area, row.began, row.id))
    drawings = [
        histogram(
            row.values_nm, unit=facts.unit, minimum_nm=row.minimum_nm, nominal_nm=row.nominal_nm,
            maximum_nm=row.maximum_nm, title=f"{row.area}, {row.coat}", width=BREADTH / ACROSS - 8, height=118,
        )
        for row in ordered
    ]  # fmt: skip
    if not drawings:
        return []
    words = "Single readings, without voided ones, less the profile correction. Hatched bars lie outside the limits."
    rows = [
        Table(
            [[*drawings[at : at + ACROSS], *([""] * (at + ACROSS - len(drawings)))]],
            [BREADTH / ACROSS] * ACROSS,
            style=[("LEFTPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 4)],
            hAlign="LEFT",
        )
        for at in range(0, len(drawings), ACROSS)
    ]
    return section("Distribution of the readings", [*nothing(words), *rows])
