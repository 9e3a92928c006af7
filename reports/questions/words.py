"""A question about readings in words, with its arithmetic: on the page and in the API, alike."""

from __future__ import annotations

from typing import Any

from inspection.fieldwork.models import Record
from inspection.foundation.units import in_unit
from inspection.standards.reading_questions import FLAT_FROM_STEPS
from reports.questions.models import ReadingQuestion

Kind = ReadingQuestion.Kind
NO_VERDICT = (
    "A question, not a verdict: fewer than 1 in 1,000 honest records are asked about, and with many records some are. "
    "Ask what explains it before anything else."
)


def told(question: ReadingQuestion) -> list[str]:
    """The question and its arithmetic, a sentence each."""
    figures: dict[str, Any] = question.figures
    ways = {Kind.REPEATED: _repeated, Kind.SCATTER: _scatter, Kind.PLACES: _places, Kind.DIGITS: _digits}
    return ways[Kind(question.kind)](question, figures)


def place_of(record: Record) -> str:
    """Where, when and by whom a record was taken."""
    after = f" after {record.coat.name}" if record.coat else ""
    at = record.taken_at.astimezone(record.project.zone)
    return f"{record.project.code} {record.area.label}{after}, {at:%Y-%m-%d %H:%M}, by {record.by_name}"


def _repeated(question: ReadingQuestion, figures: dict[str, Any]) -> list[str]:
    other = place_of(question.other) if question.other else "another record"
    asked = (
        f"Why do {figures['length']} readings in a row, from the {_th(figures['first'])} on, stand in the same order "
        f"in {other}, from the {_th(figures['other_first'])} on?"
    )
    arithmetic = (
        f"Held against {figures['compared']:,} readings, a run of {figures['least']} or more agrees by chance in fewer "
        "than 1 of 4,000 records: n m qᴸ, with the share q of equal readings as found in this record."
    )
    return [asked, arithmetic]


def _scatter(question: ReadingQuestion, figures: dict[str, Any]) -> list[str]:
    scatter, gauge = in_unit(figures["scatter_nm"], "um", 2), in_unit(figures["gauge_nm"], "um", 2)
    asked = (
        f"Why do the readings scatter by {scatter} µm only, where the same gauge scatters by {gauge} µm on its "
        "standards?"
    )
    arithmetic = (
        f"Standard deviations with {figures['freedom']} and {figures['gauge_freedom']} degrees of freedom. By "
        "Snedecor’s F, a film without any scatter of its own would show so little with a chance of "
        f"{_chance(figures['chance'])}."
    )
    return [asked, arithmetic]


def _places(question: ReadingQuestion, figures: dict[str, Any]) -> list[str]:
    other, record = question.other, question.record
    if other is None:
        return []
    same = (("the same person", figures["same_person"]), ("the same gauge", figures["same_gauge"]))
    who = " and ".join(words for words, applies in same if applies)
    zone = record.project.zone
    here, there = ([at.astimezone(zone) for at in (each.taken_at, each.ended_at)] for each in (record, other))
    arithmetic = (
        f"Here from {here[0]:%Y-%m-%d %H:%M} to {here[1]:%H:%M}, there from {there[0]:%Y-%m-%d %H:%M} to "
        f"{there[1]:%H:%M}, on another structure; five minutes are allowed for clocks that differ."
    )
    return [f"How could {who} record here and, at the same time, {place_of(other)}?", arithmetic]


def _digits(question: ReadingQuestion, figures: dict[str, Any]) -> list[str]:
    counts = figures["counts"]
    most = max(range(10), key=lambda digit: counts[digit])
    arithmetic = (
        f"Digits 0 to 9: {', '.join(map(str, counts))}. Even would be {sum(counts) / 10:.1f} of each; chi-square "
        f"{figures['chi_square']:.1f} with 9 degrees of freedom has a chance of {_chance(figures['chance'])}. Asked "
        f"only where readings scatter by {FLAT_FROM_STEPS:.0f} steps of the display or more from one to the next."
    )
    return [f"Why does the last digit {most} stand {counts[most]} times among {sum(counts)} readings?", arithmetic]


def _chance(chance: float) -> str:
    return f"1 in {round(1 / chance):,}" if chance > 1e-12 else "less than 1 in a million million"


def _th(number: int) -> str:
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
