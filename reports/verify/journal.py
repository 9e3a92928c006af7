"""The journal against its digests, its chain, the heads that left the house, and what it tells of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from django.apps import apps
from django.db.models import QuerySet

from accounts import chain, keys, post
from accounts.chain import Head
from accounts.journal import altered, entry_digest
from accounts.models import ChainLink, JournalEntry, Letter
from reports.verify.files import issued_heads

AT_ONCE = 500
# Entries with these endings tell of a row that is there for good.
MADE = (
    "recorded", "corrected", "issued", "raised", "released", "refused", "incident_reported", "entered", "signed",
    "reviewed", "review_taken_back", "commented", "word_taken_back", "company_head", "project_head",
    "declared",
)  # fmt: skip


def differences(heads: Iterable[Head]) -> Iterator[str]:
    unlinked = _unlinked()
    left = _heads_that_left(heads)
    yield from _links(left)
    # Those being chained while this ran are chained by now.
    for pk in sorted(unlinked & _unlinked()):
        yield f"journal entry {pk} is not in the chain (manage.py journal --chain)"
    yield from _what_is_gone()


def _unlinked() -> set[int]:
    return set(JournalEntry.objects.filter(link=None).order_by("pk").values_list("pk", flat=True)[:AT_ONCE])


def _heads_that_left(given: Iterable[Head]) -> dict[int, list[tuple[str, str]]]:
    """By number: code and where it is from. As many as letters and papers; a line each."""
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for head in given:
        found[head.number].append((head.code, "the head that was given"))
    if noted := chain.noted_head():
        found[noted.number].append((noted.code, "the head noted beside the database"))
    letters = Letter.objects.filter(kind__in=post.HEADED).exclude(sent_at=None)
    for pk, body in letters.values_list("pk", "body").iterator(chunk_size=AT_ONCE):
        for head in chain.heads_in(body):
            found[head.number].append((head.code, f"letter {pk}"))
    for issue, head in issued_heads():
        found[head.number].append((head.code, f"{issue}"))
    return found


def _links(left: dict[int, list[tuple[str, str]]]) -> Iterator[str]:
    known = keys.chain_keys()
    lost: dict[str, int] = defaultdict(int)
    number, before = 0, ""
    for link in ChainLink.objects.order_by("number").select_related("entry").iterator(chunk_size=AT_ONCE):
        if link.number != number + 1:
            yield f"journal: links {number + 1} to {link.number - 1} of the chain are missing"
            before = ""
        entry = link.entry
        if altered(entry):
            yield f"journal entry {entry.pk} ({entry}) does not match its digest"
        elif link.key not in known:
            lost[link.key] += 1
        elif (before or link.number == 1) and link.code != chain.code_of(
            known[link.key], before, link.number, entry.pk, entry_digest(entry)
        ):
            yield f"journal entry {entry.pk} ({entry}) is not what the chain holds as its number {link.number}"
        for code, place in left.pop(link.number, ()):
            if code != link.code:
                yield f"journal: link {link.number} is not the one of {place}"
        number, before = link.number, link.code
    for name, many in lost.items():
        yield f"journal: {many} links were made with key {name}, which is not in VAR_DIR/keys; restore it to check them"
    for beyond in sorted(left):
        for _, place in left[beyond]:
            many = beyond - number
            yield f"journal: the chain ends at {number}, but {place} tells of {beyond}: {many} entries are missing"


def _what_is_gone() -> Iterator[str]:
    """What the journal tells of and is not there any more."""
    waiting: dict[str, dict[str, JournalEntry]] = defaultdict(dict)
    for entry in JournalEntry.objects.order_by("pk").defer("before", "after").iterator(chunk_size=AT_ONCE):
        if entry.verb.rpartition(".")[2] in MADE:
            waiting[entry.object_type][entry.object_id] = entry
            if len(waiting[entry.object_type]) >= AT_ONCE:
                yield from _gone(entry.object_type, waiting.pop(entry.object_type))
    for object_type, entries in waiting.items():
        yield from _gone(object_type, entries)


def _gone(object_type: str, entries: dict[str, JournalEntry]) -> Iterator[str]:
    rows: QuerySet = apps.get_model(object_type)._default_manager.filter(pk__in=list(entries))
    there = {str(pk) for pk in rows.values_list("pk", flat=True)}
    for pk, entry in entries.items():
        if pk not in there:
            yield f"journal entry {entry.pk} tells of {object_type} {pk} ({entry.object_text}), which is not there"
