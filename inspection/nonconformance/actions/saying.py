"""What is said about a nonconformance on its way: class, containment, cause, disposition, actions, effect, comment."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction

from accounts.models import Person
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.nonconformance.actions.dispositions import add_entry, held, refuse_closed
from inspection.nonconformance.actions.raising import text_of
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.sayings import SAYINGS, Saying, awaits_another, last, said_of, still_to_do
from inspection.projects.preconditions import in_time

Kind, Choice = Disposition.Kind, Disposition.Choice
# What the fields of an entry are called where one is missing.
MISSING = {
    "choice": "Choose one of: {choices}.",
    "text": "Say it in words: {text}.",
    "done_by": "Say who is to do it.",
    "done_at": "Say when it was done.",
    "due": "Say by which day it is to be done.",
    "about": "Choose the corrective action that is done.",
}


@transaction.atomic
def say(
    by: Person, *, nonconformance: Nonconformance, kind: str, id: UUID | None = None, **sent: Any  # noqa: A002 - the entry's own name for it, as in the API
) -> tuple[Disposition, bool]:  # fmt: skip
    """Say one thing about it; True when it is new. The same content under the same id answers with the stored.

    `sent`: choice, text, done_by, done_at, due, about, as the kind asks. Raises Refused naming the field, Conflict for
    other content under a used id or where the nonconformance has moved on.
    """
    saying = SAYINGS.get(kind)
    if saying is None:
        raise Refused(f"“{kind[:20]}” is no entry; give one of {', '.join(SAYINGS)}.", field="kind")
    require(by, *saying.roles, to=saying.to)
    locked = held(by, nonconformance)
    said = {"kind": saying.kind.value, **_as_asked(saying, sent)}
    if id is not None and (stored := Disposition.objects.filter(pk=id).first()):
        if stored.nonconformance_id == locked.pk and stored.person_id == by.pk and _same(stored, said):
            return stored, False
        raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
    _refuse_out_of_turn(by, locked, saying, said)
    named = {"id": id} if id else {}
    return add_entry(by, locked, f"nonconformance.{saying.kind.value}", **named, **said), True


def _same(stored: Disposition, said: dict[str, Any]) -> bool:
    return all(getattr(stored, name) == value for name, value in said.items())


def _as_asked(saying: Saying, sent: dict[str, Any]) -> dict[str, Any]:
    """The fields that the kind asks for; what is missing and what does not belong to it is refused."""
    given = {name: value for name, value in sent.items() if value not in (None, "")}
    choices, faults = {choice.value: choice.label for choice in saying.choices}, []
    for name in given:
        if name not in saying.asks:
            faults.append(Fault(f"An entry “{saying.kind.label}” has none; leave it out.", name))
    given["text"] = text_of(str(given.get("text", "")), "text")
    if given.get("done_by"):
        given["done_by"] = line(given["done_by"], field="done_by", most=200)
    for name in saying.asks:
        if not given.get(name) or (name == "choice" and given[name] not in choices):
            words = MISSING[name].format(choices=", ".join(choices), text=saying.text[0].lower() + saying.text[1:])
            faults.append(Fault(words, name))
    if faults:
        raise Refused(faults)
    if "done_at" in given and (wrong := in_time(given["done_at"], "done_at")):
        raise Refused(wrong)
    return given


def _refuse_out_of_turn(by: Person, locked: Nonconformance, saying: Saying, said: dict[str, Any]) -> None:
    if not saying.once_closed:
        refuse_closed(locked)
    if not saying.on_drafts and locked.state == Nonconformance.State.DRAFT:
        raise Conflict("It is a draft; issue it first.")
    entries = said_of([locked.pk])[locked.pk]
    if saying.kind == Kind.ACTION:
        _refuse_past(locked, said["due"])
    if saying.kind == Kind.COMPLETED and said["about"].pk not in {entry.pk for entry in still_to_do(entries)}:
        raise Refused("It is no corrective action of this nonconformance that is still to be done.", field="about")
    if saying.kind == Kind.CONFIRMED:
        _refuse_confirming(by, locked, entries)
    if saying.kind == Kind.EFFECT:
        _refuse_effect(by, locked, entries, said)


def _refuse_past(locked: Nonconformance, due: date) -> None:
    raised = locked.raised_at.astimezone(locked.project.zone).date()
    if due < raised:
        raise Refused(f"It was raised on {raised}; an action is due on that day or later.", field="due")


def _refuse_confirming(by: Person, locked: Nonconformance, entries: list[Disposition]) -> None:
    if not awaits_another(locked, entries):
        raise Conflict("Its closing does not wait for another person to confirm it.")
    rework = last(entries, Kind.REWORK)
    if rework is not None and rework.person_id == by.pk:
        raise Refused("Another person confirms the closing than the one who entered the rework.")


def _refuse_effect(by: Person, locked: Nonconformance, entries: list[Disposition], said: dict[str, Any]) -> None:
    rework = last(entries, Kind.REWORK)
    if rework is None:
        raise Refused("No rework is recorded yet, so that there is no effect to look at.")
    if rework.person_id == by.pk:
        raise Refused("Another person looks at the effect than the one who entered the rework.")
    closed = locked.state == Nonconformance.State.CLOSED
    if closed and locked.record_id and said["choice"] == Choice.NOT_REACHED:
        raise Refused("A measurement raised it: measure again, and what fails opens it again.", field="choice")
