"""What the correction of a record would change, of whatever kind: it is carried out, looked at, and taken back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from itertools import zip_longest
from typing import Any

from django import forms
from django.utils import timezone

from accounts.rehearsal import rehearse
from inspection.fieldwork.kind import RecordKind, TakenByForm
from inspection.fieldwork.models import Record

# Of the form, and nothing of what was observed.
BESIDE = ("id", "replacement_reason")


@dataclass(frozen=True)
class Change:
    """One thing as it is stored and as it would be; empty where there is nothing."""

    what: str
    before: str
    after: str


@dataclass(frozen=True)
class Foreseen:
    """What a correction would change."""

    # Of what was typed: a field each, and of a table typed as lines a row each.
    changes: tuple[Change, ...]
    # What was found of it, in a line.
    found: Change
    verdict: str
    verdict_words: str
    # Why the version would be doubted though it is stored.
    warnings: tuple[str, ...]
    # What else would follow, in the journal's words.
    touched: tuple[str, ...]
    # Whether another verdict or another figure follows, be it of what was specified meanwhile.
    is_judged_otherwise: bool

    @property
    def is_nothing(self) -> bool:
        return not self.changes and not self.is_judged_otherwise


def foresee(
    kind: RecordKind, taken: TakenByForm, form: forms.Form, before: Record, store: Callable[[], tuple[Record, bool]]
) -> Foreseen:
    """What storing the correction would change; nothing is stored. Raises what `store` raises."""
    seen: list[Foreseen] = []

    def act() -> None:
        stored, _ = store()
        # As it is read back, so that one figure is not written in two ways.
        after: Any = kind.model._default_manager.get(pk=stored.pk)
        found = Change("Found", kind.sentence(before), kind.sentence(after))
        seen.append(
            Foreseen(
                changes=tuple(changes(taken, form, before, after)), found=found, verdict=after.verdict,
                verdict_words=after.get_verdict_display(), warnings=tuple(kind.warnings(after)), touched=(),
                is_judged_otherwise=found.before != found.after or before.verdict != after.verdict,
            )
        )  # fmt: skip

    touched = rehearse(act, but=kind.verbs[1])
    return Foreseen(**{**vars(seen[0]), "touched": tuple(touched)})


def changes(taken: TakenByForm, form: forms.Form, before: Any, after: Any) -> Iterator[Change]:
    """Everything the form asks that is another, in its order."""
    was, then = taken.as_recorded(before), taken.as_recorded(after)
    for name, field in form.fields.items():
        if name in BESIDE:
            continue
        label = str(field.label or form[name].label)
        old, new = (_told(field, getattr(record, name, None), sent.get(name))
                    for record, sent in ((before, was), (after, then)))  # fmt: skip
        if old == new:
            continue
        if isinstance(form.cleaned_data.get(name), list):
            yield from table_changes(label.partition(",")[0], old.splitlines(), new.splitlines())
        else:
            yield Change(label, old, new)


def _told(field: forms.Field, kept: Any, sent: Any) -> str:
    """What stands in a field, in the words that it shows; of what is chosen among things, the thing itself."""
    if isinstance(field, forms.ModelChoiceField):
        return "" if kept is None else str(kept)
    if isinstance(field, forms.BooleanField):
        return "yes" if sent else "no"
    if sent is None or sent == "":
        return ""
    if isinstance(field, forms.ChoiceField):
        return str(dict(field.choices).get(str(sent), sent))  # type: ignore[arg-type]  # none of ours is in groups
    if isinstance(sent, datetime):
        # The page makes the project's zone the current one.
        return f"{timezone.localtime(sent):%Y-%m-%d %H:%M:%S}".removesuffix(":00")
    return str(sent)


def table_changes(label: str, before: list[str], after: list[str]) -> Iterator[Change]:
    """The rows that are others, with the number each has; one more in between moves none of those below it."""
    if len(before) < 2 and len(after) < 2:
        yield Change(label, "".join(before), "".join(after))
        return
    for tag, old_from, old_to, new_from, new_to in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        pairs = zip_longest(range(old_from, old_to), range(new_from, new_to))
        for old, new in pairs:
            number = (old if new is None else new) + 1
            yield Change(
                f"{label}, row {number}", "" if old is None else before[old], "" if new is None else after[new]
            )
