"""The front of the report: what day it was, at a glance, who was there, what was measured, in what climate."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any
from xml.sax.saxutils import escape

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from inspection.fieldwork.kind import Discipline
from inspection.foundation.charts import QUIET, RULE, many_of
from reports.daily.facts import Climate, DayFacts, Stamp
from reports.daily.pdf.logo import LOGO_WIDE, logo
from reports.daily.pdf.photo_part import photos
from reports.daily.pdf.pieces import (
    BREADTH,
    MARKS,
    PAIRS,
    SOFT,
    TITLE,
    came_late,
    cell,
    clock,
    degrees,
    lines_under,
    listed,
    not_met,
    nothing,
    of_point,
    section,
    subheading,
    table,
)

EMPTY = {"shift": "in this shift", "discipline": "of this discipline on this day"}
JUDGED = ("pass", "fail", "incomplete", "not judged")
STANDINGS = ("sound", "provisional", "in_question", "")
ARISEN = ("raised", "raised and closed", "closed", "open")
PART_TOLD = {
    "shift": "What was done and recorded in the hours of the shift.",
    "discipline": "What was done and recorded of this discipline on the day.",
}  # fmt: skip


def head(facts: DayFacts, stamp: Stamp | None) -> list[Flowable]:
    begins, ends = facts.local(facts.begins), facts.local(facts.ends)
    hours = f"{begins:%Y-%m-%d %H:%M} to {ends:%Y-%m-%d %H:%M}, {facts.zone}"
    if stamp is None:
        revision = "Draft, not issued"
    else:
        issued = facts.local(stamp.issued_at)
        revision = f"{stamp.revision}, issued {issued:%Y-%m-%d %H:%M} by {stamp.issued_by}"
        revision += f"\nWhy there is a new revision: {stamp.reason}" if stamp.reason else ""
    pairs = [
        ("Project", f"{facts.project_code} {facts.project_name}", "Report", facts.number),
        ("Client", facts.client, "Day", f"{facts.day:%A %d %B %Y}"),
        ("Contractor", facts.contractor or "–", "Shift runs" if facts.one_a == "shift" else "Day runs", hours),
        ("Structure", listed(facts.structures) or "–", "Revision", revision),
    ]  # fmt: skip
    if facts.part:
        rest = "The rest of the day is told in its other papers."
        pairs.insert(2, (facts.one_a.capitalize(), facts.part, "Tells of", f"{PART_TOLD[facts.one_a]} {rest}"))
    if facts.order_number or facts.references or facts.distribution:
        refers = [*([f"Order {facts.order_number}"] if facts.order_number else []), *facts.references]
        pairs.append(("References", "\n".join(refers) or "–", "Sent to", "\n".join(facts.distribution) or "–"))
    widths = (58, 190, 52, BREADTH - 300)
    rows = [[a, cell(b, widths[1]), c, cell(d, widths[3])] for a, b, c, d in pairs]
    style = [
        *PAIRS, ("TEXTCOLOR", (0, 0), (0, -1), QUIET), ("TEXTCOLOR", (2, 0), (2, -1), QUIET),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]  # fmt: skip
    return [*_title(facts), Spacer(0, 4), Table(rows, widths, style=style, hAlign="LEFT")]


def _title(facts: DayFacts) -> list[Flowable]:
    """The title; beside it the company's logo, and its name and address beneath it, where they are entered."""
    title = Paragraph("Daily coating inspection report", TITLE)
    ours = [facts.company, *facts.address.splitlines()] if facts.address else []
    under = [Paragraph("<br/>".join(escape(each) for each in ours), SOFT)] if ours else []
    picture = logo(facts.logo)
    if picture is None:
        return [title, *under]
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("ALIGN", (1, 0), (1, 0), "RIGHT"),
             ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0)]  # fmt: skip
    return [Table([[[title, *under], picture]], [BREADTH - LOGO_WIDE, LOGO_WIDE], style=style, hAlign="LEFT")]


def at_a_glance(facts: DayFacts) -> list[Flowable]:
    """What a hurried reader wants first: how much was measured, how it came out, what is open."""
    if facts.nothing_recorded:
        where = EMPTY.get(facts.one_a, "on this day")
        return [Spacer(0, 8), *nothing(f"Nothing was recorded {where}.")]

    boxes = _boxes(facts)
    widths = (82, BREADTH / 2 - 82, 82, BREADTH / 2 - 82)
    pairs = list(zip(boxes[::2], boxes[1::2], strict=True))
    rows = [[a[0], cell(a[1], widths[1]), b[0], cell(b[1], widths[3])] for a, b in pairs]
    style = [
        *PAIRS, ("TEXTCOLOR", (0, 0), (0, -1), QUIET), ("TEXTCOLOR", (2, 0), (2, -1), QUIET),
        ("BOX", (0, 0), (-1, -1), 0.6, RULE),
        ("TOPPADDING", (0, 0), (-1, -1), 3), ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
    ]  # fmt: skip
    return [Spacer(0, 6), Table(rows, widths, style=style, hAlign="LEFT")]


def _boxes(facts: DayFacts) -> list[tuple[str, str]]:
    """What stands in the boxes, an even number of them: what it is of, and how it stands."""

    def count(rows: Iterable[Any], name: str, *values: str) -> str:
        found = {value: sum(1 for row in rows if getattr(row, name) == value) for value in values}
        return "   ".join(f"{MARKS[value][0]} {number}" for value, number in found.items() if number) or "none"

    readings = sum(len(row.values_nm) for row in facts.thicknesses)
    measured = f"{many_of(len(facts.thicknesses), 'record')}, {many_of(readings, 'reading')}"
    states = [replace(point, state=of_point(point.state)) for point in facts.points]
    held = count(states, "state", "released", "passed", "refused", "waived", "waiting", "not applicable")
    over = sum(1 for point in facts.points if point.passed_over)
    if over:
        held += f"   {MARKS['passed over'][0]} {over}"
    of_kinds, climates = count(facts.observed, "verdict", *JUDGED), count(facts.climates, "verdict", "pass", "fail")
    boxes = [
        (Discipline.INSPECTION, "Thickness", measured),
        (Discipline.INSPECTION, "Verdicts", count(facts.thicknesses, "verdict", *JUDGED)),
        (Discipline.INSPECTION, "Standing", count(facts.thicknesses, "standing", *STANDINGS)),
        (Discipline.COATING, "Climate", f"{many_of(len(facts.climates), 'record')}   {climates}"),
        (Discipline.INSPECTION, "Hold points", held),
        (None, "Nonconformances", count(facts.nonconformances, "that_day", *ARISEN)),
    ]
    if facts.one_a == "discipline":
        # What the others of the day tell is not said to be none.
        own = [box for box in boxes if box[0] is None or facts.tells(box[0])]
        boxes = [
            (None, "Other records", f"{len(facts.observed)}   {of_kinds}"),
            (None, "Lots", f"{len(facts.lots)}"),
            *own,
        ]
        boxes += [(None, "", "")] * (len(boxes) % 2)
    return [(label, text) for _, label, text in boxes]


def people(facts: DayFacts) -> list[Flowable]:
    rows = [
        (one.name, one.organisation, one.recorded, "\n".join(one.qualifications) or "none on record that day")
        for one in facts.people
    ]
    content = table(("Name", "Organisation", "Recorded", "Qualifications"), (105, 110, 130, 165), rows)
    return section(
        "People on site", content or nothing("Nobody took a record, checked an instrument or wrote in the diary.")
    )


def work(facts: DayFacts) -> list[Flowable]:
    """Areas and coats that were measured, one line a coat."""
    measured: dict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    for row in facts.thicknesses:
        measured[row.coat, row.product][row.area] = row.area_m2
    rows = [
        (coat, product, f"{len(areas)}", f"{sum(areas.values()):,.1f}", listed(sorted(areas)))
        for (coat, product), areas in measured.items()
    ]
    known = {coat for coat, _ in measured}
    taken = [row for row in facts.climates if row.coat and not row.station]
    for coat in dict.fromkeys(row.coat for row in taken if row.coat not in known):
        areas = listed(sorted(row.area for row in taken if row.coat == coat))
        rows.append((coat, "climate only", "–", "–", areas))
    content = table(("Coat", "Product", "Areas", "m²", "Which"), (80, 110, 36, 50, 234), rows, numbers=(2, 3))
    return section("Areas and coats measured", content or nothing("No area was measured."))


def climate(facts: DayFacts) -> list[Flowable]:
    place = "Station or area" if any(row.station for row in facts.climates) else "Area"
    heads = ("Time", place, "Coat", "Air °C", "Wet bulb °C", "Humidity %", "Steel °C", "Dew point °C", "Margin °C",
             "Verdict", "By")  # fmt: skip
    widths = (32, 42, 66, 38, 42, 50, 40, 44, 44, 44, 68)
    rows = [
        (
            clock(facts, row.at), row.station or row.area, row.coat or "none", degrees(row.dry_bulb_c),
            degrees(row.wet_bulb_c), degrees(row.humidity_pct), degrees(row.surface_c), degrees(row.dew_point_c),
            degrees(row.margin_c), row.verdict, f"{row.by}, {row.gauge}" if row.gauge else row.by,
        )
        for row in facts.climates
    ]  # fmt: skip
    content = table(heads, widths, rows, numbers=range(3, 9), marks=(9,))
    if not content:
        return section("Climate", [*nothing("No climate was recorded."), *_stations(facts)])
    notes = [
        f"{row.station or row.area}, {clock(facts, row.at)}: {said}"
        for row in facts.climates for said in (row.more, row.note) if said
    ]  # fmt: skip
    content.append(Spacer(0, 2))
    content.append(Paragraph(escape(_climate_limits(facts.climates)), SOFT))
    failed = [(row.area, f"{row.coat}, {clock(facts, row.at)}", row.failed) for row in facts.climates]
    return section(
        "Climate",
        [
            *content,
            *not_met(failed, facts.unit, "Area", "Coat, time"),
            *came_late(facts, facts.climates),
            *_stations(facts),
            *lines_under("Notes", notes),
            *photos(facts, {row.id for row in facts.climates}),
        ],
    )


def _stations(facts: DayFacts) -> list[Flowable]:
    """How often each station was read, the times nobody read it for too long, and what its logger says of the day."""
    read = [
        (
            row.station, row.where, f"{row.serves}", f"{row.readings}",
            listed(f"{clock(facts, begin)} to {clock(facts, end)}" for begin, end in row.unread) or "none",
        )
        for row in facts.stations
    ]  # fmt: skip
    logged = [
        (
            row.station, one.limits, f"{one.within_h:.1f}", f"{one.outside_h:.1f}", f"{one.unknown_h:.1f}",
            f"{one.longest_breach_h:.1f} h from {clock(facts, one.breach_from)}" if one.breach_from else "none",
            "–" if one.least_margin_c is None else degrees(one.least_margin_c),
        )
        for row in facts.stations for one in row.logged
    ]  # fmt: skip
    heads = ("Station", "The air there", "Areas", "Readings", "Not read for longer than a reading counts")
    told = table(heads, (120, 110, 40, 50, 190), read, numbers=(2, 3))
    of_log = (
        "Station",
        "Within the limits of",
        "Within h",
        "Outside h",
        "Not known h",
        "Longest breach",
        "Least margin °C",
    )
    shares = table(of_log, (90, 110, 48, 50, 58, 98, 56), logged, numbers=(2, 3, 4, 6))
    return [
        *(subheading("Climate stations", told) if told else ()),
        *(subheading("Loggers over the day", shares) if shares else ()),
    ]


def _climate_limits(rows: Sequence[Climate]) -> str:
    limits = listed(
        f"{row.coat}: at least {degrees(row.margin_min_c)} °C above the dew point, humidity "
        f"{'' if row.humidity_min_pct is None else f'at least {degrees(row.humidity_min_pct)} % and '}"
        f"at most {degrees(row.humidity_max_pct)} %"
        for row in rows if row.coat
    )  # fmt: skip
    if not limits:
        limits = f"For no coat: at least {degrees(rows[0].margin_min_c)} °C above the dew point"
    return f"Limits. {limits}. Margin is steel temperature less dew point."
