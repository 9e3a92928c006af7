"""The diary: each entry against its digest and the journal, each signature against what was signed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from inspection.diary import actions, work
from inspection.diary.models import DaySignature, DiaryEntry
from reports.verify.told import disagreements, told_of


def differences() -> Iterator[str]:
    yield from _entries()
    yield from _signatures()


def _entries() -> Iterator[str]:
    rows = DiaryEntry.objects.select_related("project", "entered_by", "crew", "party").order_by("pk")
    for batch in told_of(rows, ("diary.entered", "diary.corrected")):
        for entry, told in batch:
            what = f"diary entry {entry.pk} ({entry})"
            digest = actions.digest_of(
                entry.entered_by, entry.project, entry, replaces=entry.replaces_id, why=entry.why
            )
            if digest != entry.digest:
                yield f"{what}: it does not match its digest"
            yield from disagreements(what, {"digest": entry.digest, "kind": entry.kind, "day": entry.day}, told)


def _signatures() -> Iterator[str]:
    rows = DaySignature.objects.select_related("project", "by").order_by("pk")
    for batch in told_of(rows, ("day.signed",)):
        whole = {signature.pk for signature, _ in batch if _is_whole(signature)}
        stand = _stored(line for signature, _ in batch if signature.pk in whole for line in signature.content)
        for signature, told in batch:
            what = f"signature {signature.pk} ({signature})"
            if signature.pk not in whole:
                yield f"{what}: what was signed does not match its digest"
            for line in signature.content if signature.pk in whole else ():
                if stand[line["kind"]].get(line["id"]) != line["fixed"]:
                    yield f"{what}: {work.name_of(line)} {line['id']} is not what was signed"
            stored = {"digest": signature.digest, "number": signature.number, "day": signature.day}
            yield from disagreements(what, stored, told)


def _is_whole(signature: DaySignature) -> bool:
    return work.digest_of(signature.project, signature.day, signature.by, signature.content) == signature.digest


def _stored(lines: Iterable[work.Line]) -> dict[str, dict[str, str]]:
    """By kind, the digests of what stands of the things that were signed."""
    ids: dict[str, set[str]] = defaultdict(set)
    for line in lines:
        ids[line["kind"]].add(line["id"])
    return defaultdict(dict, {kind: work.stored(kind, ids[kind]) for kind in ids})
