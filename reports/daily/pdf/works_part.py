"""The work in its order: what was seen on the steel, paint received and mixed, lots, what was seen on the film."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from reportlab.platypus import Flowable

from inspection.fieldwork.kinds import KINDS
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from reports.daily.facts import DayFacts
from reports.daily.pdf.photo_part import photos
from reports.daily.pdf.pieces import (
    came_late,
    clock,
    lines_under,
    listed,
    not_met,
    nothing,
    raised_on,
    section,
    subheading,
    table,
)
from reports.daily.work_facts import BatchTold, LotTold, MixTold

ORDER = {kind.name: place for place, kind in enumerate(KINDS)}
# In the order of the kinds, what comes before the climate is seen on the steel, and what comes after the thickness on
# the dry film.
CLIMATE, DRY = ORDER[ClimateRecord.KIND], ORDER[ThicknessRecord.KIND]


def before_paint(facts: DayFacts) -> list[Flowable]:
    """Each kind that is recorded of the steel, before anything is coated."""
    return _kinds(facts, lambda kind: ORDER[kind] < CLIMATE)


def wet_paint(facts: DayFacts) -> list[Flowable]:
    """Each of the paint while it is wet."""
    return _kinds(facts, lambda kind: CLIMATE < ORDER[kind] < DRY)


def dry_paint(facts: DayFacts) -> list[Flowable]:
    """And each of the dry film but its thickness."""
    return _kinds(facts, lambda kind: ORDER[kind] > DRY)


def _kinds(facts: DayFacts, wanted: Callable[[str], bool]) -> list[Flowable]:
    """A part for each of these kinds of record of the day: what was found, in a line."""
    parts: list[Flowable] = []
    for title in dict.fromkeys(row.title for row in facts.observed if wanted(row.kind)):
        found = [row for row in facts.observed if row.title == title]
        rows = [
            (
                clock(facts, row.at), f"{row.area}, {row.coat}" if row.coat else row.area, row.found, row.verdict,
                row.standing, f"{row.by}, {row.gauge}" if row.gauge else row.by,
            )
            for row in found
        ]  # fmt: skip
        heads, widths = ("Time", "Area", "Found", "Verdict", "Standing", "By"), (36, 80, 190, 64, 64, 76)
        reasons = [f"{row.area}, {clock(facts, row.at)}: {' '.join(row.reasons)}" for row in found if row.reasons]
        notes = [f"{row.area}, {clock(facts, row.at)}: {row.note}" for row in found if row.note]
        failed = [(row.area, clock(facts, row.at), row.failed) for row in found]
        content = [
            *table(heads, widths, rows, marks=(3, 4)),
            *not_met(failed, facts.unit, "Area", "Time"),
            *raised_on(facts, found),
            *lines_under("What stands against their standing", reasons),
            *came_late(facts, found),
            *lines_under("Notes", notes),
            *photos(facts, {row.id for row in found}),
        ]
        parts += section(title, content)
    return parts


# --- paint ------------------------------------------------------------------------------------------------------------


def paint(facts: DayFacts) -> list[Flowable]:
    """Batches that came or were used, and what was mixed of them; nothing where no paint is told of."""
    content = [*subheaded("Batches", _batches(facts)), *subheaded("Mixes", _mixes(facts))]
    if not content:
        return []
    doubts = [f"Mix {mix.number}: {' '.join(mix.gone_over)}{_because(mix.reason)}" for mix in facts.mixes
              if mix.gone_over]  # fmt: skip
    notes = [f"Mix {mix.number}: {mix.note}" for mix in facts.mixes if mix.note]
    late = _entered_late(facts, [*facts.batches, *facts.mixes])
    content += [*lines_under("Gone over when it was mixed", doubts), *late, *lines_under("Notes", notes)]
    return section("Paint", content)


def subheaded(words: str, content: list[Flowable]) -> list[Flowable]:
    return subheading(words, content) if content else []


def _batches(facts: DayFacts) -> list[Flowable]:
    rows = [
        (
            row.what, row.number, row.received, f"{row.made_on:%Y-%m-%d}" if row.made_on else "–", row.stood,
            "pass" if row.is_fit else "fail", _mixed_of(row), "; ".join(row.that_day) or "–",
        )
        for row in facts.batches
    ]  # fmt: skip
    then, mixed, that = (f"{words} {facts.stretch}" for words in ("At the", "Mixed that", "That"))
    heads = ("Paint", "Batch", "Received", "Made", f"{then}’s end", "Fit", mixed, that)
    return table(heads, (110, 58, 46, 50, 82, 44, 54, 66), rows, marks=(5,))


def _mixed_of(row: BatchTold) -> str:
    used = [f"{amount:g} {unit}" for amount, unit in ((row.used_l, "l"), (row.used_kg, "kg")) if amount]
    return " and ".join(used) or "–"


def _mixes(facts: DayFacts) -> list[Flowable]:
    rows = [
        (
            f"{row.number}", clock(facts, row.mixed_at), row.coat or "–", "\n".join(row.parts),
            "\n".join(_how_mixed(row)), _usable(facts, row), row.by,
        )
        for row in facts.mixes
    ]  # fmt: skip
    heads = ("Mix", "Mixed", "Coat", "Of", "How", "Usable", "By")
    return table(heads, (26, 42, 66, 136, 110, 70, 60), rows)


def _how_mixed(row: MixTold) -> Iterable[str]:
    yield row.stirred
    if row.ratio:
        yield f"ratio {row.ratio}"
    if row.thinner_pct is not None:
        yield f"thinner {row.thinner_pct:g} %"
    if row.paint_c is not None:
        yield f"paint at {row.paint_c:g} °C".replace("-", "−")


def _usable(facts: DayFacts, row: MixTold) -> str:
    until = f"{clock(facts, row.usable_from)} to {clock(facts, row.usable_until)}" if row.usable_until else ""
    used = f"used up {clock(facts, row.used_until)}" if row.used_until else ""
    return "\n".join(words for words in (until or "pot life not stated", used) if words)


# --- lots -------------------------------------------------------------------------------------------------------------


def lots(facts: DayFacts) -> list[Flowable]:
    """What each crew prepared or coated in one go; nothing where no lot is told of."""
    if not facts.lots:
        return []
    rows = [
        (
            f"{row.number}", row.what, _hours(facts, row), row.crew, f"{row.m2:,.1f}",
            listed(f"{area} {m2:g}" for area, m2 in row.places) or "–", "\n".join(_how_done(row)),
        )
        for row in facts.lots
    ]  # fmt: skip
    heads = ("Lot", "What was done", "Hours", "Crew", "m²", "Areas, with m²", "How, and paint")
    content = table(heads, (24, 84, 56, 76, 38, 106, 126), rows, numbers=(4,))
    doubts = [f"Lot {row.number}: {' '.join(row.gone_over)}" for row in facts.lots if row.gone_over]
    notes = [f"Lot {row.number}: {row.note}" for row in facts.lots if row.note]
    return section(
        "Lots prepared and coated",
        [
            *content,
            *lines_under("Gone over when they were begun", doubts),
            *_entered_late(facts, facts.lots),
            *lines_under("Notes", notes),
        ],
    )


def _hours(facts: DayFacts, row: LotTold) -> str:
    return f"{clock(facts, row.begun_at)} to {clock(facts, row.ended_at) if row.ended_at else 'under way'}"


def _how_done(row: LotTold) -> Iterable[str]:
    yield f"{row.method}{f': {row.settings}' if row.settings else ''}"
    yield from row.paint
    if row.follows:
        yield f"Follows lot {listed(str(number) for number in row.follows)}"


# --- progress ---------------------------------------------------------------------------------------------------------


def progress(facts: DayFacts) -> list[Flowable]:
    """By coat the m² of the whole project, and what the day added; nothing where nothing is done yet."""
    rows = [
        (row.step, f"{row.of_m2:,.1f}", *(words for pair in (row.done, row.inspected, row.released)
                                          for words in _in_all(pair)))
        for row in facts.progress
    ]  # fmt: skip
    added = f"That {facts.stretch}"
    heads = ("Step", "Of m²", "Done", added, "Passed", added, "Released", added)
    content = table(heads, (132, 54, 54, 54, 54, 54, 54, 54), rows, numbers=range(1, 8))
    if not content:
        return []
    words = (
        f"Of the whole project at the {facts.stretch}’s end, in m². Done as lots claim it; passed where the thickness "
        "that stood passes; released where a point was released and no hold was open."
    )
    return section("Progress", [*content, *nothing(words)])


def _in_all(pair: tuple[float, float]) -> tuple[str, str]:
    whole, added = pair
    return f"{whole:,.1f}", f"{added:+,.1f}".replace("-", "−") if added else "–"


def _because(reason: str) -> str:
    return f" Why it was: {reason}" if reason else ""


def _entered_late(facts: DayFacts, rows: Iterable[BatchTold | MixTold | LotTold]) -> list[Flowable]:
    """What was entered after the day had ended, with when."""
    return lines_under(
        "Entered late, after the day had ended",
        [f"{clock(facts, row.late)}: {_named(row)}" for row in rows if row.late],
    )


def _named(row: BatchTold | MixTold | LotTold) -> str:
    if isinstance(row, BatchTold):
        return f"batch {row.number} of {row.what}"
    return f"mix {row.number}" if isinstance(row, MixTold) else f"lot {row.number}"
