"""The kinds of entries of a day: which columns each has and needs, and how one is told in a line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from inspection.diary.models import DiaryEntry

Kind = DiaryEntry.Kind
COLUMNS = ("crew", "party", "organisation", "who", "people", "hours", "clock", "cause", "state", "way", "text")


@dataclass(frozen=True, kw_only=True)
class EntryKind:
    """`labels` names the columns of the kind in the order of its form, `needs` those that must be filled."""

    name: Kind
    title: str
    add: str
    labels: Mapping[str, str]
    needs: frozenset[str]
    hints: Mapping[str, str] = field(default_factory=dict)
    # Read by the company alone: no report prints it.
    own: bool = False


_OUTSIDE = "Or another organisation"
_OUTSIDE_HINT = "Where it is no party of this project"
_AT = "When"

KINDS: tuple[EntryKind, ...] = (
    EntryKind(
        name=Kind.CREW, title="Crews on site", add="Enter a crew",
        labels={"crew": "Crew", "party": "Or party", "organisation": _OUTSIDE, "people": "People",
                "hours": "Hours of each", "text": "What they did"},
        needs=frozenset({"people", "hours"}),
        hints={"crew": "Where it has a crew here, its party follows", "organisation": _OUTSIDE_HINT},
    ),
    EntryKind(
        name=Kind.EQUIPMENT, title="Equipment", add="Enter equipment",
        labels={"who": "What", "state": "State", "hours": "Hours in that state", "party": "Whose",
                "organisation": _OUTSIDE, "text": "More of it"},
        needs=frozenset({"who", "state"}),
        hints={"who": "Such as: compressor 2, blast pot 200 l, dehumidifier", "organisation": _OUTSIDE_HINT},
    ),
    EntryKind(
        name=Kind.VISITOR, title="Visitors", add="Enter a visitor",
        labels={"who": "Name", "organisation": "Organisation", "clock": _AT, "text": "Reason"},
        needs=frozenset({"who", "organisation", "text"}),
    ),
    EntryKind(
        name=Kind.INSTRUCTION, title="Instructions received", add="Enter an instruction",
        labels={"who": "From whom", "organisation": "Organisation", "way": "How", "clock": _AT,
                "text": "What was instructed"},
        needs=frozenset({"who", "way", "text"}),
        hints={"text": "As it was said or written, not what became of it"},
    ),
    EntryKind(
        name=Kind.DELAY, title="Delays", add="Enter a delay",
        labels={"cause": "Cause", "hours": "Hours lost", "clock": "From", "party": "By whom it came about",
                "organisation": _OUTSIDE, "text": "What happened"},
        needs=frozenset({"cause", "hours"}),
        hints={"party": "Nobody, such as for weather: leave it out", "organisation": _OUTSIDE_HINT},
    ),
    EntryKind(
        name=Kind.NARRATIVE, title="Narrative of the day", add="Write the narrative",
        labels={"text": "Narrative"}, needs=frozenset({"text"}),
    ),
    EntryKind(
        name=Kind.PLAN, title="Plan for tomorrow", add="Write the plan",
        labels={"text": "Plan"}, needs=frozenset({"text"}),
    ),
    EntryKind(
        name=Kind.HANDOVER, title="Notes to the next shift", add="Write a note",
        labels={"text": "Note"}, needs=frozenset({"text"}), own=True,
        hints={"text": "Shown to whoever works here next, until they have read it. No report prints it."},
    ),
)  # fmt: skip
BY_NAME = {kind.name.value: kind for kind in KINDS}


def whose(entry: DiaryEntry) -> str:
    """The organisation that an entry names, a party of the project or one that is none; by its name of that time."""
    return entry.party.organisation.name_at(entry.entered_at) if entry.party else entry.organisation


def head_of(entry: DiaryEntry) -> str:
    """What the entry tells in a line, without its words."""
    hours = "" if entry.hours is None else f"{entry.hours.normalize():f} h"
    parts: dict[str, tuple[str, ...]] = {
        Kind.CREW: (
            str(entry.crew or ""), whose(entry), f"{entry.people} {'person' if entry.people == 1 else 'people'}",
            f"{hours} each" if entry.people != 1 else hours,
        ),
        Kind.EQUIPMENT: (entry.who, entry.get_state_display().lower(), hours, whose(entry)),
        Kind.VISITOR: (entry.who, entry.organisation),
        Kind.INSTRUCTION: (f"{entry.who}", entry.organisation, entry.get_way_display().lower()),
        Kind.DELAY: (entry.get_cause_display(), hours, whose(entry)),
    }  # fmt: skip
    return ", ".join(part for part in parts.get(entry.kind, ()) if part)
