"""From the facts about one record to its standing by the checks of its gauge. Pure: no database, no clock.

The rules are those of SSPC-PA 2 for the checks of a gauge (accuracy verified at the beginning and the end of each work
shift, from memory; where a check fails, all readings since the last passing one are suspect, stored source) and of
docs/explanation/standing.md for the rest. Of other instruments that are checked on site the same
holds (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from inspection.foundation.units import Unit, in_unit
from inspection.instruments.verified_range import BEYOND_PCT, covers

SOUND, PROVISIONAL, IN_QUESTION = "sound", "provisional", "in_question"


@dataclass(frozen=True)
class Check:
    """A verification of the gauge, seen with what is known now: corrected values, withdrawn certificates."""

    id: UUID
    at: datetime
    passed: bool
    from_nm: int
    to_nm: int
    # Whether the gauge was adjusted first: then it shows how the gauge is from now on, and not how it was before.
    adjusted: bool = False
    doubts: tuple[str, ...] = ()
    # Why `passed` differs from what was found then; empty when it does not.
    recomputed: str = ""
    # What the rule answers with the corrected values; None where none was corrected or it cannot be judged with them.
    now: Mapping[str, Any] | None = None
    # The certificates, in words, whose corrected values were used.
    corrected_by: str = ""

    def covers(self, nm: int) -> bool:
        """Whether the thickness lies within the covered range, widened by the allowance."""
        return covers(self.from_nm, self.to_nm, nm)


@dataclass(frozen=True)
class Incident:
    at: datetime


@dataclass(frozen=True)
class Facts:
    """What the standing of one record follows from. Thicknesses in nm as the gauge showed them, uncorrected."""

    record: UUID
    first_at: datetime
    last_at: datetime
    shift_start: datetime
    shift_end: datetime
    zone: ZoneInfo
    unit: Unit
    reading_count: int
    lowest_nm: int | None = None
    highest_nm: int | None = None
    # (value, how many) of the readings; needed only where lowest or highest leaves the range of a check.
    values: tuple[tuple[int, int], ...] = ()
    # Checks and incidents of the gauge within the shift, in any order.
    checks: tuple[Check, ...] = ()
    incidents: tuple[Incident, ...] = ()
    # What stands against where the correction was taken from, a sentence each.
    correction: tuple[str, ...] = ()
    # What of the gauge is doubted after a failed check, and by whom.
    suspect: str = "all readings since the last passing check are suspect (SSPC-PA 2)"


@dataclass(frozen=True)
class Judgement:
    state: str
    reasons: tuple[str, ...]
    opening: UUID | None
    closing: UUID | None
    due_at: datetime


def judge(facts: Facts, at: datetime) -> Judgement:
    """The standing of the record at the moment, with a sentence for each thing against it or still awaited."""
    checks = sorted(facts.checks, key=lambda check: (check.at, check.id))
    opening, closing = bracket(facts, checks)
    against = [
        *_opening_faults(facts, opening),
        *_closing_faults(facts, closing),
        *_between(facts, checks, opening, closing),
        *_range_faults(facts, opening, closing),
        *facts.correction,
    ]
    if closing is None and facts.last_at < facts.shift_end:
        end = _clock(facts, facts.shift_end)
        if at >= facts.shift_end:
            against.append(f"There is no check after work in the shift that ends at {end}.")
        else:
            reasons = (*against, f"The check after work is still awaited; it is due by {end}.")
            state = IN_QUESTION if against else PROVISIONAL
            return Judgement(state, reasons, _id(opening), None, facts.shift_end)
    return Judgement(
        IN_QUESTION if against else SOUND,
        tuple(against),
        _id(opening),
        _id(closing),
        facts.shift_end,
    )


def bracket(facts: Facts, checks: Sequence[Check]) -> tuple[Check | None, Check | None]:
    """The latest check at or before the first reading and the first one at or after the last, in the same shift."""
    within = [check for check in checks if facts.shift_start <= check.at < facts.shift_end]
    opening = next((check for check in reversed(within) if check.at <= facts.first_at), None)
    closing = next((check for check in within if check.at >= facts.last_at and check is not opening), None)
    return opening, closing


def _opening_faults(facts: Facts, opening: Check | None) -> Iterable[str]:
    if opening is None:
        yield "The gauge was not checked in this shift before the first reading."
        return
    if not opening.passed:
        yield f"The check before work, at {_clock(facts, opening.at)}, {opening.recomputed or 'failed'}."
    for doubt in opening.doubts:
        yield f"Check before work: {doubt}."


def _closing_faults(facts: Facts, closing: Check | None) -> Iterable[str]:
    if facts.last_at >= facts.shift_end:
        yield (
            f"The readings run on past the end of the shift at {_clock(facts, facts.shift_end)}; "
            "the gauge must be checked at the end of each shift."
        )
    if closing is None:
        return
    if closing.adjusted:
        yield (
            f"The check after work, at {_clock(facts, closing.at)}, was made after adjusting the gauge; it does not "
            "show how the gauge was while the readings were taken."
        )
    if not closing.passed:
        yield (
            f"The check after work, at {_clock(facts, closing.at)}, {closing.recomputed or 'failed'}: {facts.suspect}."
        )
    for doubt in closing.doubts:
        yield f"Check after work: {doubt}."


def _between(facts: Facts, checks: Sequence[Check], opening: Check | None, closing: Check | None) -> Iterable[str]:
    """What cast doubt on the gauge between the two checks, or between the bounds of the shift where one is missing."""
    start = opening.at if opening else facts.shift_start
    end = closing.at if closing else facts.shift_end
    for check in checks:
        if check in (opening, closing) or not start <= check.at <= end:
            continue
        if not check.passed:
            yield f"A check in between, at {_clock(facts, check.at)}, {check.recomputed or 'failed'}."
        elif check.adjusted and check.at > facts.first_at:
            yield f"The gauge was adjusted in between, at {_clock(facts, check.at)}, while the readings were taken."
    # When, and not what was written of it: the gauge serves several clients, and this sentence is read by one.
    for incident in sorted(facts.incidents, key=lambda incident: incident.at):
        if start <= incident.at <= end:
            yield f"At {_clock(facts, incident.at)} an incident with the gauge was reported, such as a fall."


def _range_faults(facts: Facts, opening: Check | None, closing: Check | None) -> Iterable[str]:
    if facts.lowest_nm is None or facts.highest_nm is None:
        return
    for check, name in ((opening, "before work"), (closing, "after work")):
        if check is None or not check.passed or (check.covers(facts.lowest_nm) and check.covers(facts.highest_nm)):
            continue
        outside = sum(many for value, many in facts.values if not check.covers(value))
        yield (
            f"{outside} of {facts.reading_count} readings lie more than {BEYOND_PCT} % outside the "
            f"{in_unit(check.from_nm, facts.unit)} to {in_unit(check.to_nm, facts.unit)} {facts.unit.label} "
            f"covered by the check {name}."
        )


def _id(check: Check | None) -> UUID | None:
    return check.id if check else None


def _clock(facts: Facts, at: datetime) -> str:
    return f"{at.astimezone(facts.zone):%H:%M}"
