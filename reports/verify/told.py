"""What the journal tells of a row, beside the row."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any, TypeVar

from django.db.models import Model, QuerySet

from accounts import journal
from accounts.models import JournalEntry

Row = TypeVar("Row", bound=Model)
AT_ONCE = 20


def told_of(
    rows: QuerySet[Row], verbs: tuple[str, ...], at_once: int = AT_ONCE
) -> Iterator[list[tuple[Row, JournalEntry | None]]]:
    """The rows in batches, each row with the entry of its making; None where the journal tells of none."""
    every = rows.iterator(chunk_size=at_once)
    while batch := list(islice(every, at_once)):
        entries = JournalEntry.objects.filter(
            object_type=rows.model._meta.label_lower, object_id__in=[str(row.pk) for row in batch], verb__in=verbs
        )
        of = {entry.object_id: entry for entry in entries.order_by("-pk")}
        yield [(row, of.get(str(row.pk))) for row in batch]


def disagreements(what: str, stored: dict[str, Any], entry: JournalEntry | None) -> Iterator[str]:
    """A sentence for each thing that the row and the entry tell differently."""
    if entry is None:
        yield f"{what}: the journal does not tell of it"
        return
    after = entry.after or {}
    for name, value in stored.items():
        if name in after and after[name] != journal.plain(value):
            yield f"{what}: {name} is {_short(value)}, journal entry {entry.pk} tells {_short(after[name])}"


def _short(value: Any) -> str:
    text = str(value)
    return f"{text[:12]}…" if len(text) > 40 else text
