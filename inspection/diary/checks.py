"""What is wrong with an entry of a day that was sent, and what is doubtful about it before it is stored."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal

from django.utils import timezone

from accounts.models import Person
from inspection.diary.kinds import BY_NAME, COLUMNS, EntryKind, head_of
from inspection.diary.models import DiaryEntry
from inspection.foundation.refusals import Fault
from inspection.foundation.text import wrong_in_a_note
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import FIRST_MOMENT
from inspection.works.models import LONGEST_SHIFT, Crew

LONGEST_TEXT = 5_000
# Declared limits (common practice, no source): what is more is a slip of the keys.
MOST_PEOPLE = 2_000
HOURS_OF_A_DAY = 24
LONGEST_SHIFT_H = LONGEST_SHIFT.total_seconds() / 3600
# A day has one of these by each person; a second one is mostly meant as its correction.
ONCE = (DiaryEntry.Kind.NARRATIVE, DiaryEntry.Kind.PLAN)


@dataclass(frozen=True, kw_only=True)
class EntrySent:
    """An entry as it was sent; see the columns of `DiaryEntry`."""

    kind: str
    day: date
    crew: Crew | None = None
    party: Party | None = None
    organisation: str = ""
    who: str = ""
    people: int | None = None
    hours: Decimal | None = None
    clock: time | None = None
    cause: str = ""
    state: str = ""
    way: str = ""
    text: str = ""


def day_faults(project: Project, day: date) -> list[Fault]:
    """What is wrong with a day of the project on which something is said to have been."""
    if day > project.day_of(timezone.now()):
        return [Fault(f"{day:%Y-%m-%d} has not come yet; give today or a day before.", "day")]
    if day < FIRST_MOMENT.date():
        return [Fault(f"{day} is too long ago; check the year.", "day")]
    return []


def faults_of(project: Project, sent: EntrySent) -> list[Fault]:
    """All that is wrong with it, field by field; nothing for a possible one."""
    kind = BY_NAME.get(sent.kind)
    if kind is None:
        return [Fault(f"Give one of {', '.join(BY_NAME)}.", "kind")]
    return [*day_faults(project, sent.day), *_columns(kind, sent), *_figures(sent), *_whose(project, sent)]


def _columns(kind: EntryKind, sent: EntrySent) -> Iterator[Fault]:
    for name in COLUMNS:
        filled = getattr(sent, name) not in (None, "")
        if filled and name not in kind.labels:
            yield Fault(f"An entry of the kind “{kind.name.label}” has no such figure or word; leave it out.", name)
        elif not filled and name in kind.needs:
            yield Fault("Fill this in.", name)
    for name, choices in (
        ("cause", DiaryEntry.Cause.values), ("state", DiaryEntry.State.values), ("way", DiaryEntry.Way.values),
    ):  # fmt: skip
        if (value := getattr(sent, name)) and value not in choices:
            yield Fault(f"Give one of {', '.join(choices)}.", name)
    if len(sent.text) > LONGEST_TEXT:
        yield Fault(f"This has {len(sent.text)} characters; at most {LONGEST_TEXT} can be kept.", "text")
    elif wrong := wrong_in_a_note(sent.text):
        yield Fault(wrong, "text")


def _figures(sent: EntrySent) -> Iterator[Fault]:
    if sent.people is not None and not 1 <= sent.people <= MOST_PEOPLE:
        yield Fault(f"Give the number of people, from 1 to {MOST_PEOPLE}.", "people")
    if sent.hours is not None and not 0 < sent.hours <= HOURS_OF_A_DAY:
        yield Fault("Give the hours of this day: more than 0 and at most 24.", "hours")
    elif sent.hours is not None and sent.hours != round(sent.hours, 2):
        yield Fault("Give the hours to two places at most, such as 7.75.", "hours")


def _whose(project: Project, sent: EntrySent) -> Iterator[Fault]:
    if sent.crew and sent.crew.project_id != project.pk:
        yield Fault(f"{sent.crew} is no crew of {project.code}.", "crew")
    if sent.party and sent.party.project_id != project.pk:
        yield Fault(f"{sent.party} is no party of {project.code}.", "party")
    elif sent.crew and sent.party and sent.crew.party_id != sent.party.pk:
        yield Fault(f"Crew {sent.crew} is of {sent.crew.party.organisation}; leave the party out.", "party")
    if sent.party and sent.organisation:
        yield Fault("Give a party of the project or another organisation, not both.", "organisation")
    if sent.crew and sent.organisation:
        yield Fault(f"Crew {sent.crew} is of {sent.crew.party.organisation}; leave this out.", "organisation")
    if sent.kind == DiaryEntry.Kind.CREW and not (sent.crew or sent.party or sent.organisation):
        yield Fault("Say whose people they are: a crew, a party, or another organisation.", "crew")


def doubts_of(by: Person, project: Project, sent: EntrySent, replaces: DiaryEntry | None) -> list[Fault]:
    """What is asked about before it is stored; a person who means it says so."""
    found = []
    if sent.kind == DiaryEntry.Kind.CREW and sent.hours and float(sent.hours) > LONGEST_SHIFT_H:
        found.append(
            Fault(f"{sent.hours.normalize():f} h each is more than a shift of {LONGEST_SHIFT_H:.0f} h.", "hours")
        )
    rows = DiaryEntry.objects.that_count().filter(project=project, day=sent.day, kind=sent.kind)
    if replaces:
        rows = rows.exclude(pk=replaces.pk)
    if sent.crew and (there := rows.filter(crew=sent.crew).select_related("crew", "party__organisation").first()):
        found.append(Fault(f"This crew is entered for the day already: {head_of(there)}.", "crew"))
    if sent.kind in ONCE and rows.filter(entered_by=by).exists():
        found.append(Fault("You wrote one for this day already; correct that one if it is meant to take its place."))
    elif sent.kind not in ONCE and not sent.crew and rows.filter(**_same(sent)).exists():
        found.append(Fault("Just this is entered for the day already."))
    return found


def _same(sent: EntrySent) -> dict[str, object]:
    return {name: getattr(sent, name) for name in COLUMNS}
