"""Who and what was there, in the order of the diary; and who signed what they recorded and wrote."""

from __future__ import annotations

from collections.abc import Iterable

from reportlab.platypus import Flowable

from inspection.diary.models import DiaryEntry
from reports.daily.diary_facts import DiaryLine
from reports.daily.facts import DayFacts
from reports.daily.pdf.pieces import clock, lines_under, section, subheading, table

Kind = DiaryEntry.Kind
# Those that were there or befell the work, a line each; and those that are told in words alone.
LISTED = (
    (Kind.CREW, "Crews on site"), (Kind.EQUIPMENT, "Equipment"), (Kind.VISITOR, "Visitors"),
    (Kind.INSTRUCTION, "Instructions received"), (Kind.DELAY, "Delays"),
)  # fmt: skip
IN_WORDS = ((Kind.NARRATIVE, "Narrative of the day"), (Kind.PLAN, "Plan for tomorrow"))


def diary(facts: DayFacts) -> list[Flowable]:
    """Nothing where nothing was entered."""
    content: list[Flowable] = []
    for kind, title in LISTED:
        rows = [
            (line.clock or "–", line.told, "\n".join(_words(facts, line)) or "–", line.by) for line in _of(facts, kind)
        ]
        if told := table(("Time", "What", "In words", "By"), (36, 180, 214, 80), rows):
            content += subheading(title, told)
    content += _totals(facts)
    for kind, title in IN_WORDS:
        content += lines_under(
            title, [f"{' '.join(_words(facts, line))} ({line.by})" for line in _of(facts, kind)]
        )  # fmt: skip
    return section("Who and what was there", content) if content else []


def signatures(facts: DayFacts) -> list[Flowable]:
    rows = [
        (
            row.signed_as, clock(facts, row.at), row.covers, f"changed after signing: {row.since}" if row.since
            else "as signed", row.digest,
        )
        for row in facts.signed
    ]  # fmt: skip
    heads = ("Signed by", "At", "All they recorded and wrote that day", "Now", "SHA-256 of it")
    content = table(heads, (120, 70, 100, 90, 130), rows)
    return section("Signed by those who recorded", content) if content else []


def _of(facts: DayFacts, kind: str) -> Iterable[DiaryLine]:
    return (line for line in facts.diary if line.kind == kind)


def _words(facts: DayFacts, line: DiaryLine) -> list[str]:
    """What was written, that it was corrected, and that it came late."""
    told = [line.text] if line.text else []
    told += [f"Corrected: {line.why.rstrip('.')}."] if line.why else []
    return told + ([f"Entered {clock(facts, line.late)}, after the day had ended."] if line.late else [])


def _totals(facts: DayFacts) -> list[Flowable]:
    people = [
        f"{row.whose}: {row.people} {'person' if row.people == 1 else 'people'}, {row.hours:g} h together"
        for row in facts.person_hours
    ]
    lost = [
        f"{row.cause}{f', {row.whose}' if row.whose else ''}: {row.hours:g} h" for row in facts.hours_lost
    ]  # fmt: skip
    return [*lines_under("Hours of people", people), *lines_under("Hours lost", lost)]
