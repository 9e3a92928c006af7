"""What a line says, as plain values: for digests, for comparing lines, and for telling in which they differ."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from accounts.journal import digest_of
from inspection.plan.models import PlanLine, PlanRevision
from inspection.plan.wording import coat_told, interventions_told, lead_told, requirements_told

WORDS = {
    "activity": "Activity", "title": "Title", "scope": "Scope", "frequency": "Frequency", "criterion": "Criterion",
    "method": "Method", "coat": "After coat", "requires": "Records", "parties": "Parties", "lead": "Notice",
}  # fmt: skip


def said_by(line: PlanLine) -> dict[str, str]:
    """The line in words, by what is said; two lines that say the same are the same."""
    return {
        "activity": line.get_activity_display(), "title": line.title, "scope": line.get_scope_display(),
        "frequency": line.frequency, "criterion": line.criterion, "method": line.method,
        "coat": coat_told(line.coat_order), "requires": requirements_told(line.requirements.all()),
        "parties": interventions_told(line.interventions.all()), "lead": lead_told(line),
    }  # fmt: skip


def content_of(lines: Iterable[PlanLine]) -> list[dict[str, Any]]:
    """The lines as they are signed: codes, not words."""
    return [
        {
            "number": line.number, "activity": line.activity, "title": line.title, "scope": line.scope,
            "frequency": line.frequency, "criterion": line.criterion, "method": line.method,
            "coat_order": line.coat_order, "lead": [line.lead, line.lead_unit],
            "requirements": sorted(
                ([each.kind, each.how_many, each.fresh_hours] for each in line.requirements.all()), key=str
            ),
            "interventions": sorted(

                    [each.party_kind, str(each.party_id or ""), each.letter, each.meaning]
                    for each in line.interventions.all()

            ),
        }
        for line in lines
    ]  # fmt: skip


def digest_of_revision(revision: PlanRevision, lines: Iterable[PlanLine]) -> str:
    return digest_of({"plan": revision.plan_id, "revision": revision.number, "lines": content_of(lines)})


@dataclass(frozen=True)
class Difference:
    """One line that differs between two revisions: added, removed, or what was said before and is said now."""

    line: PlanLine
    what: str
    changes: list[tuple[str, str, str]]


def differences(before: Iterable[PlanLine], after: Iterable[PlanLine]) -> list[Difference]:
    """In the order of the later revision's lines, then those removed; a line is known by what it carries on."""
    left = {line.pk: line for line in before}
    found = []
    for line in after:
        was = left.pop(line.carries_on_id, None) if line.carries_on_id else None
        if was is None:
            found.append(Difference(line, "Added", []))
        elif changes := changes_of(was, line):
            found.append(Difference(line, "Changed", changes))
    return [*found, *(Difference(line, "Removed", []) for line in left.values())]


def changes_of(was: PlanLine, line: PlanLine) -> list[tuple[str, str, str]]:
    """What differs, each as word, before and now; the number among it."""
    before, now = {"number": was.number, **said_by(was)}, {"number": line.number, **said_by(line)}
    return [(WORDS.get(name, "Number"), before[name], now[name]) for name in now if before[name] != now[name]]


# A template names kinds of parties only and its letters may be others, so those are no override.
OF_THE_PROJECT = ("parties",)


def overrides(line: PlanLine) -> list[str]:
    """In which the line differs from that of its template, a sentence each."""
    if line.template_line is None:
        return []
    before, now = said_by(line.template_line), said_by(line)
    return [
        f"{WORDS[name]} differs from the template: “{before[name] or 'none'}”"
        for name in now
        if name not in OF_THE_PROJECT and before[name] != now[name]
    ]
