"""The rest of the report: instruments and their checks, hold points, nonconformances, corrections, sign-off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from xml.sax.saxutils import escape

from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table

from inspection.foundation.charts import QUIET
from reports.daily.facts import (
    CheckPoint,
    ComparedPoint,
    DayFacts,
    GaugeCheck,
    Instrument,
    Nonconforming,
    Point,
    Said,
    Stamp,
    StandardUsed,
)
from reports.daily.pdf.pieces import (
    BREADTH,
    MARKS,
    PAIRS,
    SOFT,
    SUB,
    TEXT,
    Heading,
    cell,
    clock,
    film,
    label,
    lines_under,
    listed,
    nothing,
    numbered,
    of_point,
    section,
    signed,
    subheading,
    table,
)  # fmt: skip

CAUTION = (
    "The software computes and advises; a qualified person accepts. Local codes, the contract and the paint maker's "
    "data sheet come first. Thicknesses are those of all coats down to the metal, judged against the sum of what was "
    "specified up to the coat (common practice, no source)."
)


# --- instruments -----------------------------------------------------------------------------------------------------


def instruments(facts: DayFacts) -> list[Flowable]:
    content: list[Flowable] = []
    for one in facts.instruments:
        content += _instrument(facts, one)
    return section("Instruments used", content or nothing("No instrument was named."))


def _instrument(facts: DayFacts, one: Instrument) -> list[Flowable]:
    paper = (
        f"certificate {one.certificate}, expires {one.expires:%Y-%m-%d}" if one.expires else "no certificate on record"
    )
    state = f"▲ {one.unusable}" if one.unusable and one.certificate else "✔ valid that day" if one.certificate else "▲"
    title = f"{one.identity}, {one.kind.lower()}{f', {one.described}' if one.described else ''}"
    papers = Paragraph(escape(f"{paper[0].upper()}{paper[1:]}: {state}"), TEXT)
    if not one.checks:
        return subheading(
            title, [papers, *(nothing("No check on reference standards is on record.") if one.judged else [])]
        )
    rows = [row for check in one.checks for row in _check_rows(facts, check)]
    unit = _unit_of(facts, one)
    figures = (f"Certified {unit}", "Readings", f"Mean {unit}", f"Error {unit}", f"Tolerance {unit}")
    heads = ("Reference standards", *figures, "Verdict")
    checks = table(heads, (170, 62, 52, 60, 58, 62, 46), rows, numbers=range(1, 6), marks=(6,))
    notes = [
        f"{clock(facts, check.at)}: {words}" for check in one.checks for words in (check.as_found, check.note) if words
    ]
    return [
        Paragraph(escape(title), SUB),
        papers,
        *checks,
        *lines_under("Certificates of the standards", _papers(one.checks)),
        *lines_under("Notes", notes),
    ]


def _check_rows(facts: DayFacts, check: GaugeCheck) -> list[tuple[str, ...]]:
    """A banner that says which check it was and how it came out, then a row for each point."""
    lowest, highest = (film(nm, facts.unit) for nm in (check.verified_from_nm, check.verified_to_nm))
    verified = f"Verified from {lowest} to {highest} {label(facts.unit)}." if check.verified_to_nm is not None else ""
    words = (
        f"{clock(facts, check.at)}  {check.purpose}: {MARKS[check.verdict][0]}.",
        f"Adjustment: {check.adjustment.lower()}{'' if check.compared else f', on {check.surface.lower()}'}.",
        verified or ("" if check.compared else "No range verified."),
        f"Tolerance: accuracies combined {check.combination}." if check.points else "",
        f"By {check.by}.",
    )
    return [
        (" ".join(part for part in words if part),),
        *(
            (
                " + ".join(standard.identity for standard in point.standards), film(point.certified_nm, facts.unit),
                str(point.readings), film(point.mean_nm, facts.unit), signed(point.error_nm, facts.unit),
                "–" if point.tolerance_nm is None else f"±{film(point.tolerance_nm, facts.unit)}", point.verdict,
            )
            for point in check.points
        ),
        *(
            (
                point.standard, f"{point.reference:g}", str(point.readings), f"{point.mean:.4g}", f"{point.error:+.3g}",
                f"±{point.tolerance:.4g}", point.verdict,
            )
            for point in check.compared
        ),
    ]  # fmt: skip


def _unit_of(facts: DayFacts, one: Instrument) -> str:
    """In which unit the checks of the instrument are told."""
    return next((point.unit for check in one.checks for point in check.compared), label(facts.unit))


def _papers(checks: Sequence[GaugeCheck]) -> list[str]:
    """Each certificate once, with the standards it covers."""
    points: list[CheckPoint] = [point for check in checks for point in check.points]
    covers: dict[str, list[str]] = {}
    used = [standard for point in points for standard in point.standards]
    compared = [point for check in checks for point in check.compared]
    named: list[tuple[str, StandardUsed | ComparedPoint]] = [
        *((standard.identity, standard) for standard in used),
        *((point.standard, point) for point in compared),
    ]
    for identity, standard in named:
        state = f"▲ {standard.unusable}" if standard.unusable else "✔ valid that day"
        words = f"{standard.certificate}, expires {standard.expires:%Y-%m-%d}, {state}"
        covers.setdefault(words, []).append(identity)
    return [f"{words}: {listed(sorted(identities))}" for words, identities in covers.items()]


# --- hold points, nonconformances, corrections -----------------------------------------------------------------------


def points(facts: DayFacts) -> list[Flowable]:
    rows = [
        (row.title, row.kind, row.area, row.coat, of_point(row.state), "\n".join(_said_of(facts, row)) or "–")
        for row in facts.points
    ]
    heads = ("Point", "Kind", "Area", "Coat", f"At the {facts.stretch}'s end", "What was said of it, and by whom")
    content = table(heads, (94, 50, 46, 60, 76, 184), rows, marks=(4,))
    return section("Hold and witness points", content or nothing("No point was decided or is waiting on this work."))


def _said_of(facts: DayFacts, point: Point) -> Iterator[str]:
    if point.passed_over:
        yield f"Passed over: work went on at {clock(facts, point.passed_over)} while it held."
    outcome = point.noted or of_point(point.state).capitalize()
    last = [Said(outcome, point.at, point.signed_as, point.reason)] if point.at else []
    yield from _words(facts, (*point.also, *last))


def nonconformances(facts: DayFacts) -> list[Flowable]:
    rows = [
        (
            numbered(row), _titled(row), f"{row.area}, {row.coat}" if row.coat else row.area, row.that_day,
            f"{clock(facts, row.raised_at)}{', late' if row.late else ''}", clock(facts, row.closed_at),
            row.repair or "–",
        )
        for row in facts.nonconformances
    ]  # fmt: skip
    heads = ("Number", "What", "Against", f"That {facts.stretch}", "Raised", "Closed", "Repair")
    content = table(heads, (42, 128, 80, 94, 50, 50, 66), rows, marks=(3,))
    said = [f"{numbered(row)}: {words}" for row in facts.nonconformances for words in _words(facts, row.said)]
    which = f"None on {facts.part.lower()}" if facts.one_a == "discipline" else "None"
    none = nothing(f"{which} was raised or closed, and none is open.")
    entered = lines_under(f"What was entered about them that {facts.stretch}", said)
    return section("Nonconformances", [*content, *entered] or none)


def _titled(row: Nonconforming) -> str:
    told = (row.title, "a draft, not issued" if row.draft else "", row.grade, f"on {row.on}" if row.on else "")
    return ", ".join(words for words in told if words)


def _words(facts: DayFacts, said: Iterable[Said]) -> Iterator[str]:
    for each in said:
        yield f"{each.outcome} {clock(facts, each.at)}, {each.signed_as}{': ' if each.reason else ''}{each.reason}"


def rework(facts: DayFacts) -> list[Flowable]:
    """What was rejected in the course of the work and looked at again; nothing where nothing was."""
    rows = [
        (
            row.what, row.place, row.area, row.coat or "–",
            f"{clock(facts, row.opened_at)}{f', came in {clock(facts, row.late)}' if row.late else ''}", row.state,
            "\n".join(_words(facts, row.said)) or row.done or "–",
        )
        for row in facts.rework
    ]  # fmt: skip
    then = f"At the {facts.stretch}'s end"
    heads = ("To be put right", "Place", "Area", "Coat", "Opened", then, "Done and looked at")
    content = table(heads, (76, 90, 40, 54, 54, 62, 134), rows)
    return section("Rework", content) if content else []


def corrections(facts: DayFacts) -> list[Flowable]:
    rows = [
        (row.what, row.change, row.reason or "–", row.by, clock(facts, row.at) if row.at else "–")
        for row in facts.corrections
    ]
    content = table(("Record", "Change", "Reason", "By", "Entered"), (120, 130, 130, 70, 60), rows)
    which = f"No record of {facts.part.lower()}" if facts.one_a == "discipline" else "No record"
    return section("Corrections", content or nothing(f"{which} was corrected and no reading voided."))


def notices(facts: DayFacts) -> list[Flowable]:
    """Inspections of the next days, and notices given that day; nothing where there are none."""
    rows = [
        (
            f"N-{row.number:03d}", f"{clock(facts, row.begins_at)} to {facts.local(row.ends_at):%H:%M}",
            "\n".join(row.what), row.meeting_place, listed(row.to) or "–",
            "\n".join(filter(None, (f"{row.given_by}{', short notice' if row.short else ''}", row.became))),
        )
        for row in facts.notices
    ]  # fmt: skip
    heads = ("Notice", "When", "Of what", "Where to meet", "Given to", "Given by")
    content = table(heads, (40, 84, 150, 80, 78, 78), rows)
    return section(f"Notices of inspection given that {facts.stretch} or for the next days", content) if content else []


# --- sign-off --------------------------------------------------------------------------------------------------------


def sign_off(facts: DayFacts, stamp: Stamp | None) -> list[Flowable]:
    prepared = listed(person.name for person in facts.people) or "–"
    reviewed = "Not yet reviewed" if stamp is None else _when(facts, stamp.reviewed_by, stamp.reviewed_at)
    if stamp and stamp.not_reviewed:
        reviewed = f"Not reviewed by another person: {stamp.not_reviewed}"
    issued = "Not yet issued" if stamp is None else _when(facts, stamp.issued_by, stamp.issued_at)
    part = BREADTH / 4
    rows = [
        ["Prepared from the records of", "Reviewed by", "Issued by", "For the client"],
        [cell(prepared, part), cell(reviewed, part), cell(issued, part),
         cell(f"{facts.client}\nName, date and signature", part, SOFT)],
        ["", "", "", ""],
    ]  # fmt: skip
    style = [
        *PAIRS, ("TEXTCOLOR", (0, 0), (-1, 0), QUIET), ("BOX", (0, 0), (-1, -1), 0.7, QUIET),
        ("LINEAFTER", (0, 0), (2, -1), 0.4, QUIET),
    ]  # fmt: skip
    block = Table(rows, [part] * 4, [14, None, 34], style=style, hAlign="LEFT")
    return [KeepTogether([Heading("Sign-off"), block, Spacer(0, 6), Paragraph(CAUTION, SOFT)])]


def _when(facts: DayFacts, who: str, at: datetime | None) -> str:
    return f"{who}\n{facts.local(at):%Y-%m-%d %H:%M}" if at else who or "–"
