"""The words of a reminder: plain text, a line for each thing with what to do, and the address at which to do it."""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from django.conf import settings
from django.urls import reverse

from accounts.models import Letter, Person, Role
from inspection.instruments.models import InstrumentRules
from reports.attention.models import Reminded
from reports.attention.running_out import Item, Key, Told, days

LONGEST_SUBJECT = Letter._meta.get_field("subject").max_length or 0
CONSEQUENCE = {
    InstrumentRules.Overdue.BLOCK: "No work can be begun with what has run out.",
    InstrumentRules.Overdue.WARN: "Work may be begun with what has run out, but what rests on it will be in question.",
}


def digest(
    person: Person,
    new: list[Item],
    still: list[Item],
    *,
    day: date,
    rules: InstrumentRules,
    told: Mapping[Key, Told],
) -> tuple[str, str]:
    """Subject and body: what is new to the person, in the order given, then what else of theirs is overdue."""
    escalated = [item for item in new if item.is_escalated(day, rules)]
    overdue = [item for item in new if item.is_overdue(day) and item not in escalated]
    coming = [item for item in new if not item.is_overdue(day)]
    parts = []
    for heading, items in (
        ("Escalated to the administrators, because it is still overdue", escalated),
        ("Overdue", overdue),
        ("Running out", coming),
    ):
        if items:
            entries = (_entry(item, person, day, told[item.key] if item in escalated else None) for item in items)
            parts.append(f"{heading}\n\n" + "\n\n".join(entries))
    if still:
        parts.append("Also overdue, as told before\n\n" + "\n".join(_brief(item, person, day) for item in still))
    if escalated or overdue or still:
        parts.append(CONSEQUENCE[InstrumentRules.Overdue(rules.overdue)])
    parts.append(_closing(person))
    if len(new) == 1:
        subject = f"{_name(new[0], person)} {new[0].when(day)}{' (escalated)' if escalated else ''}"
    else:
        subject = _counted(("escalated", escalated), ("overdue", overdue), ("running out", coming))
    return textwrap.shorten(subject, LONGEST_SUBJECT, placeholder="…"), "\n\n".join(parts) + "\n"


def _counted(*groups: tuple[str, list[Item]]) -> str:
    counts = ", ".join(f"{len(items)} {what}" for what, items in groups if items)
    return f"Certificates and qualifications: {counts}"


def _entry(item: Item, person: Person, day: date, told: Told | None) -> str:
    lines = [f"- {_fact(item, person, day)}. {_to_do(item, person, day)}", f"  {_address(item, person)}"]
    if told is not None:
        lines.append(f"  {_told_in_words(told)}")
    return "\n".join(lines)


def _fact(item: Item, person: Person, day: date) -> str:
    held = _held(item, person)
    if item.kind == Reminded.Kind.EQUIPMENT:
        return f"{held} {item.when(day)}"
    return f"{_name(item, person)} {item.when(day)}" + (f": {held}" if held else "")


def _name(item: Item, person: Person) -> str:
    if item.person is None:
        return item.name
    return f"Your qualification {item.name}" if item.person == person else f"{item.name} of {item.person.name}"


def _brief(item: Item, person: Person, day: date) -> str:
    held = _held(item, person)
    since = days(item.days_over(day))
    if item.kind == Reminded.Kind.EQUIPMENT:
        return f"- {held}: no certificate for {since}"
    return f"- {_name(item, person)}, {since}" + (f": {held}" if held else "")


def _held(item: Item, person: Person) -> str:
    """The equipment by who holds it: `G-01, S-50 (you); S-125 (in store)`."""
    by_holder: dict[str, list[str]] = defaultdict(list)
    for thing in item.equipment:
        holder = "in store" if thing.holder is None else "you" if thing.holder == person else thing.holder.name
        by_holder[holder].append(str(thing))
    return "; ".join(f"{', '.join(things)} ({holder})" for holder, things in by_holder.items())


def _to_do(item: Item, person: Person, day: date) -> str:
    it = "it" if len(item.equipment) == 1 else "them"
    if person.has_role(Role.QUALITY_MANAGER):
        return {
            Reminded.Kind.CERTIFICATE: f"Have {it} calibrated, or record the new certificate.",
            Reminded.Kind.QUALIFICATION: "See that it is renewed, and record the new one.",
            Reminded.Kind.EQUIPMENT: "Record its certificate, or take it out of service.",
        }[item.kind]
    if item.kind == Reminded.Kind.QUALIFICATION and item.person == person:
        return "Renew it, and show the new one to a quality manager."
    if not any(thing.holder == person for thing in item.equipment):
        return "Settle it with the quality managers."
    if item.is_overdue(day):
        return f"Put {it} aside, and hand {it} in."
    return f"Hand {it} in for calibration."


def _address(item: Item, person: Person) -> str:
    own = item.kind == Reminded.Kind.QUALIFICATION and item.person == person
    return f"{settings.SITE_URL}{reverse('me') if own else item.path}"


def _told_in_words(told: Told) -> str:
    if not told.by_person:
        return "Nobody had been told before."
    people = sorted(told.by_person.items(), key=lambda one: one[0].name)
    return "Told before: " + ", ".join(f"{person.name} ({_times(when)})" for person, when in people) + "."


def _times(when: Iterable[date]) -> str:
    when = sorted(when)
    return f"on {when[0]:%Y-%m-%d}" if len(when) == 1 else f"{len(when)} times, last on {when[-1]:%Y-%m-%d}"


def _closing(person: Person) -> str:
    if person.has_role(Role.QUALITY_MANAGER):
        return f"All that needs a decision of yours:\n{settings.SITE_URL}{reverse('decisions')}"
    return f"All instruments and standards:\n{settings.SITE_URL}{reverse('equipment')}"
