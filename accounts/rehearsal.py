"""What an action would do, told before it is done: it is carried out, its journal read, and all of it taken back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

from django.db import transaction

from accounts import journal
from accounts.journal import digest_of
from accounts.models import JournalEntry


def rehearse(act: Callable[[], Any], *, but: str) -> list[str]:
    """One sentence for each thing that changes besides the deed itself (the verb `but`). Raises what the act raises.

    What others do meanwhile is none of it.
    """
    with transaction.atomic():
        last = JournalEntry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        act()
        new = JournalEntry.objects.filter(pk__gt=last, request_id=journal.request_id())
        entries = list(new.exclude(verb=but).order_by("pk"))
        transaction.set_rollback(True)
    return [sentence for entry in entries for sentence in _told(entry)]


def told_first(
    values: dict[str, Any],
    confirmed: str,
    store: Callable[[], Any],
    *,
    but: str,
    foreseen: Callable[[], list[str]] = list,
) -> list[str]:
    """Carry `store` out, unless it changes more than was confirmed: then what it would change, and nothing is stored.

    What was confirmed is known by the digest of the values it was shown for (`digest_of`). What the journal would not
    tell is `foreseen` by the room that knows it.
    """
    touched = [] if confirmed == digest_of(values) else rehearse(store, but=but) + foreseen()
    if not touched:
        store()
    return touched


def _told(entry: JournalEntry) -> list[str]:
    if entry.verb != "standing.changed":
        return [f"{entry.verb.replace('.', ' ').replace('_', ' ').capitalize()}: {entry.object_text}"]
    before, after = entry.before or {}, entry.after or {}
    # One that had none before is the deed's own, and none that is judged again.
    moves = Counter((before[pk], state) for pk, state in after.items() if before.get(pk))
    return [
        f"{entry.object_text}: {count} record{'s' if count > 1 else ''} judged again, "
        f"{was.replace('_', ' ')} before, {then.replace('_', ' ')} then"
        for (was, then), count in sorted(moves.items())
    ]
