"""The thickness part: a table for each coat, what was not met, how far each record stands, and the distributions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import groupby

from reportlab.platypus import Flowable, Table

from inspection.foundation.charts import histogram
from reports.daily.facts import DayFacts, Thickness
from reports.daily.pdf.multiples import multiples
from reports.daily.pdf.photo_part import photos
from reports.daily.pdf.pieces import (
    BREADTH,
    MARKS,
    came_late,
    clock,
    film,
    label,
    lines_under,
    listed,
    not_met,
    nothing,
    raised_on,
    section,
    subheading,
    table,
)  # fmt: skip

ACROSS = 3
# More histograms than this are drawn small, so that a day of many areas still reads well.
MANY = 12
WORDS = "Single readings, without voided ones, less the profile correction."


def thickness(facts: DayFacts) -> list[Flowable]:
    if not facts.thicknesses:
        return section("Dry film thickness", nothing("No thickness was recorded."))
    content: list[Flowable] = []
    ordered = sorted(facts.thicknesses, key=lambda row: (row.coat_order, row.coat, row.area, row.began, row.id))
    for words, rows in groupby(ordered, key=lambda row: _judged_by(row, facts.unit)):
        content += subheading(words, _coat_table(facts, list(rows)))
    content += not_met([(row.area, row.coat, row.failed) for row in ordered], facts.unit, "Area", "Coat")
    content += raised_on(facts, ordered)
    content += lines_under("Readings still wanted", [_wanted(row) for row in ordered if row.verdict == "incomplete"])
    content += lines_under("Why records are not sound", _standings(ordered))
    content += came_late(facts, ordered)
    notes = [f"{row.area}, {row.coat}: {row.note}" for row in ordered if row.note]
    content += [*lines_under("Notes", notes), *photos(facts, {row.id for row in ordered})]
    return section("Dry film thickness", content)


def _judged_by(row: Thickness, unit: str) -> str:
    named = (("minimum", row.minimum_nm), ("nominal", row.nominal_nm), ("maximum", row.maximum_nm))
    limits = [f"{name} {film(limit, unit)}" for name, limit in named if limit is not None]
    limits += ["no maximum"] if row.maximum_nm is None else []
    edition = f" ({row.edition})" if row.edition else ""
    control = " · for control, its result decides nothing" if row.for_control else ""
    return f"{row.coat}, {row.product} · {row.rule}{edition} · {', '.join(limits)} {label(unit)}{control}"


def _coat_table(facts: DayFacts, rows: Sequence[Thickness]) -> list[Flowable]:
    unit = label(facts.unit)
    heads = ("Area", "Time", "Gauge", "By", "Readings", f"Mean {unit}", f"Lowest {unit}", f"Highest {unit}", "Verdict",
             "Standing")  # fmt: skip
    widths = (82, 54, 36, 66, 52, 36, 40, 42, 46, 56)
    told = [
        (
            f"{row.area} {row.area_name}", f"{clock(facts, row.began)}–{clock(facts, row.ended)}",
            row.gauge, row.by, _counted(row), film(row.mean_nm, facts.unit),
            film(row.lowest_nm, facts.unit), film(row.highest_nm, facts.unit), row.verdict, row.standing,
        )
        for row in rows
    ]  # fmt: skip
    return [*table(heads, widths, told, numbers=range(4, 8), marks=(8, 9)), *_ways(facts, rows)]


def _counted(row: Thickness) -> str:
    """How many readings there are, and how many the rule wants where they are fewer."""
    taken = len(row.values_nm)
    return f"{taken}" if taken >= row.wanted else f"{taken} of {row.wanted}"


def _ways(facts: DayFacts, rows: Sequence[Thickness]) -> list[Flowable]:
    """How the profile under the film was dealt with; the same way is told once for all its areas."""
    ways: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        taken = f" ({film(row.correction_nm, facts.unit)} {label(facts.unit)})" if row.correction_nm else ""
        ways[f"{row.profile_way}{taken}"].append(row.area)
    told = "; ".join(f"{way}" if len(ways) == 1 else f"{way}: {listed(areas)}" for way, areas in ways.items())
    return nothing(f"Surface profile: {told}.")


def _wanted(row: Thickness) -> str:
    return (
        f"{row.area}, {row.coat}: {len(row.values_nm)} readings of {row.wanted}; no verdict before the rest are taken."
    )


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
    """One histogram a record, several across, and of many records small ones; the figures are in the table above."""
    ordered = sorted(facts.thicknesses, key=lambda row: (row.coat_order, row.coat, row.area, row.began, row.id))
    if len(ordered) > MANY:
        content = multiples(facts, ordered)
        words = f"{WORDS} Bars beyond a full line lie outside the limits; ✘ marks a record that fails."
        return section("Distribution of the readings", [*nothing(words), *content], room=150) if content else []
    drawings = [
        histogram(
            row.values_nm, unit=facts.unit, minimum_nm=row.minimum_nm, nominal_nm=row.nominal_nm,
            maximum_nm=row.maximum_nm, title=f"{row.area}\n{row.coat}", width=BREADTH / ACROSS - 8, height=124,
        )
        for row in ordered
    ]  # fmt: skip
    if not drawings:
        return []
    rows = [
        Table(
            [[*drawings[at : at + ACROSS], *([""] * (at + ACROSS - len(drawings)))]],
            [BREADTH / ACROSS] * ACROSS,
            style=[
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
            ],
            hAlign="LEFT",
        )
        for at in range(0, len(drawings), ACROSS)
    ]
    return section(
        "Distribution of the readings", [*nothing(f"{WORDS} Hatched bars lie outside the limits."), *rows], room=185
    )
