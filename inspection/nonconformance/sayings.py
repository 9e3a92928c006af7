"""What may be said about a nonconformance beside rework, concession and closing: who says it, and in which words.

The stages are those common in the trade's quality plans, the classes minor, major and critical too: common practice,
no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Max

from accounts.models import Person, Role
from inspection.fieldwork.models import Record
from inspection.nonconformance.models import Disposition, Nonconformance

Kind, Choice = Disposition.Kind, Disposition.Choice
WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
GRADES = (Choice.MINOR, Choice.MAJOR, Choice.CRITICAL)
AGAINST = (
    Choice.AREA, Choice.LOT, Choice.BATCH, Choice.QUALIFICATION, Choice.INSTRUMENT, Choice.PROCEDURE, Choice.DOCUMENT,
)  # fmt: skip
DECISIONS = (Choice.REWORK, Choice.REPAIR, Choice.AS_IT_IS, Choice.REJECT)
EFFECTS = (Choice.REACHED, Choice.NOT_REACHED)


@dataclass(frozen=True)
class Saying:
    """One kind of entry: who may make it, what it asks for besides its text, and when it is still made."""

    kind: Disposition.Kind
    title: str
    to: str
    text: str
    fields: tuple[str, ...] = ()
    choices: tuple[Disposition.Choice, ...] = ()
    roles: tuple[Role, ...] = WORKERS
    on_drafts: bool = True
    once_closed: bool = False

    @property
    def asks(self) -> tuple[str, ...]:
        return (*(("choice",) if self.choices else ()), "text", *self.fields)


SAYINGS = {
    saying.kind.value: saying
    for saying in (
        Saying(Kind.GRADE, "Give it a class", "give a nonconformance its class",
               "The clause that is not kept, and why this class", choices=GRADES),
        Saying(Kind.AGAINST, "Say what it is against", "say what a nonconformance is against",
               "Which: the number, the code or the title", choices=AGAINST),
        Saying(Kind.CONTAINED, "Record what contains it", "record what contains a nonconformance",
               "What was stopped, set apart or protected", fields=("done_at",)),
        Saying(Kind.CAUSE, "Name the root cause", "name the cause of a nonconformance",
               "The root cause, and how it was found"),
        Saying(Kind.DECISION, "Decide what is to be done", "decide what is done about a nonconformance",
               "How, and by which procedure", choices=DECISIONS, roles=(Role.QUALITY_MANAGER,), on_drafts=False),
        Saying(Kind.ACTION, "Ask for a corrective action", "ask for a corrective action",
               "What is to be done so that it does not come again", fields=("done_by", "due"),
               roles=(Role.QUALITY_MANAGER,), on_drafts=False, once_closed=True),
        Saying(Kind.COMPLETED, "Say that an action is done", "say that a corrective action is done",
               "What was done", fields=("about", "done_at"), on_drafts=False, once_closed=True),
        Saying(Kind.EFFECT, "Look at the effect", "look at the effect", "What was seen",
               choices=EFFECTS, on_drafts=False, once_closed=True),
        Saying(Kind.CONFIRMED, "Confirm the closing", "confirm a closing", "What was looked at",
               on_drafts=False, once_closed=True),
        Saying(Kind.COMMENT, "Comment on it", "comment on a nonconformance", "The inspector’s comment",
               once_closed=True),
    )
}  # fmt: skip


def said_of(rows: Iterable[UUID]) -> dict[UUID, list[Disposition]]:
    """By nonconformance, the entries that nobody took back, oldest first, in one query."""
    found: dict[UUID, list[Disposition]] = {pk: [] for pk in rows}
    entries = Disposition.objects.filter(nonconformance__in=list(found), withdrawn_by=None)
    for entry in entries.exclude(kind=Kind.WITHDRAWAL).order_by("at", "pk"):
        found[entry.nonconformance_id].append(entry)
    return found


def last(entries: Iterable[Disposition], kind: str) -> Disposition | None:
    return next((entry for entry in reversed(list(entries)) if entry.kind == kind), None)


def still_to_do(entries: Iterable[Disposition]) -> list[Disposition]:
    """The corrective actions of which nobody said that they are done, the first due first."""
    entries = list(entries)
    done = {entry.about_id for entry in entries if entry.kind == Kind.COMPLETED}
    open_ones = [entry for entry in entries if entry.kind == Kind.ACTION and entry.pk not in done]
    return sorted(open_ones, key=lambda entry: (entry.due or date.max, entry.pk))


def is_decided(entries: Iterable[Disposition]) -> bool:
    """Whether a person's decision closes it: a concession, or a closure after which no effect was found wanting."""
    closed = False
    for entry in entries:
        if entry.kind in (Kind.CONCESSION, Kind.CLOSURE):
            closed = True
        elif entry.kind == Kind.EFFECT and entry.choice == Choice.NOT_REACHED:
            closed = False
    return closed


def awaits_another(row: Nonconformance, entries: Iterable[Disposition]) -> bool:
    """Whether a measurement settled it that was taken by who entered the rework, and nobody else confirmed it since.

    It is closed by the facts, and holds nothing back; by the rule of closing by hand another person than who entered
    the rework looks at it.
    """
    entries = list(entries)
    rework, confirmed = last(entries, Kind.REWORK), last(entries, Kind.CONFIRMED)
    if row.closing_record is None or row.closed_at is None or rework is None:
        return False
    if rework.person_id != row.closing_record.taken_by_id:
        return False
    return confirmed is None or confirmed.at < row.closed_at


def last_recorded(areas: Iterable[UUID]) -> dict[UUID, datetime]:
    """By area, when its newest record of any kind was begun, in one query."""
    rows = Record.objects.filter(area__in=set(areas)).order_by().values_list("area").annotate(Max("taken_at"))
    return {area: at for area, at in rows if area and at}


def not_yet(row: Nonconformance, entries: Iterable[Disposition], recorded: datetime | None) -> list[str]:
    """What has to come before somebody closes one that no measurement raised, a sentence each.

    `recorded`: when the newest record of its area was begun.
    """
    entries = list(entries)
    rework, decided, effect = (last(entries, kind) for kind in (Kind.REWORK, Kind.DECISION, Kind.EFFECT))
    if decided is None:
        return ["Nothing is decided about it: a quality manager says whether it is reworked, repaired or rejected."]
    if decided.choice == Choice.AS_IT_IS:
        return ["It was decided to use it as it is: it closes by the client’s concession alone."]
    if rework is None or rework.done_at is None:
        return ["No rework is recorded yet."]
    done = f"{rework.done_at.astimezone(row.project.zone):%Y-%m-%d %H:%M}"
    looked_at = effect is not None and effect.at >= rework.at
    if looked_at and effect and effect.choice == Choice.NOT_REACHED:
        return [f"The effect of the rework of {done} was looked at and is not reached: rework it again."]
    if not looked_at and (recorded is None or recorded < rework.done_at):
        since = f"Nothing was recorded since the rework, which was done at {done}: record the area again, or"
        since = since if row.area_id else f"Nobody looked at the effect of the rework, which was done at {done}:"
        return [f"{since} let another person look at the effect."]
    return []


def sayings_open_to(person: Person, row: Nonconformance, entries: Iterable[Disposition]) -> list[Saying]:
    """What the person may say about it as it is now."""
    draft, closed = (row.state == state for state in (Nonconformance.State.DRAFT, Nonconformance.State.CLOSED))
    entries = list(entries)
    may = [
        saying
        for saying in SAYINGS.values()
        if person.has_role(*saying.roles) and (saying.once_closed or not closed) and (saying.on_drafts or not draft)
    ]
    hidden = set()
    if not still_to_do(entries):
        hidden.add(Kind.COMPLETED)
    rework = last(entries, Kind.REWORK)
    if rework is None and not closed:
        hidden.add(Kind.EFFECT)
    if not awaits_another(row, entries) or rework is None or rework.person_id == person.pk:
        hidden.add(Kind.CONFIRMED)
    return [saying for saying in may if saying.kind not in hidden]
