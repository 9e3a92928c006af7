"""Repaired parts and what remains without them: digests and verdicts computed again, and against the journal."""

from __future__ import annotations

from collections.abc import Iterator

from accounts import journal
from accounts.models import JournalEntry
from inspection.fieldwork.judging import judge_remainder
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.queries import readings_of
from inspection.foundation.refusals import Refused
from inspection.nonconformance.models import Nonconformance, Remainder, RepairedPart

AT_ONCE = 100
MADE, JUDGED, UNDONE = "nonconformance.part_made", "nonconformance.remainder_judged", "nonconformance.part_undone"


def differences() -> Iterator[str]:
    parts = RepairedPart.objects.select_related("nonconformance", "part").order_by("pk")
    for row in parts.iterator(chunk_size=AT_ONCE):
        told = [(entry.verb, {**(entry.before or {}), **(entry.after or {})}) for entry in _entries(row)]
        yield from (f"repaired part {row.pk} ({row}): {words}" for words in _part(row, told))
        rests = row.remainders.select_related("record").order_by("judged_at", "pk")
        for rest in rests:
            yield from (f"{rest} ({row}): {words}" for words in _rest(row, rest, told))


def _entries(row: RepairedPart) -> list[JournalEntry]:
    """Those that tell of the part, of all that the journal has of its nonconformance."""
    about = JournalEntry.objects.filter(
        object_type=Nonconformance._meta.label_lower, object_id=str(row.nonconformance_id),
        verb__in=(MADE, JUDGED, UNDONE),
    )  # fmt: skip
    return [
        entry
        for entry in about.order_by("pk")
        if {**(entry.before or {}), **(entry.after or {})}.get("repaired") == str(row.pk)
    ]


def _part(row: RepairedPart, told: list[tuple[str, dict[str, object]]]) -> Iterator[str]:
    if journal.digest_of(row.content) != row.digest:
        yield "what it was made of does not match its digest"
    if (MADE, row.digest) not in [(verb, of.get("digest")) for verb, of in told]:
        yield "the journal does not tell that it was made so"
    made = next((of for verb, of in told if verb == MADE), {})
    if made.get("asked", row.confirmed) != row.confirmed:
        yield "what was asked about it and meant so is not what the journal tells"
    # Told since it is: of those made before, the journal names the area by its label alone, which may change.
    if made.get("part_area", str(row.part_id)) != str(row.part_id):
        yield "it is another area than the journal tells"
    if (row.undone_at is not None) != (UNDONE in [verb for verb, _ in told]):
        yield f"it is {'undone' if row.undone_at else 'in force'}, the journal tells otherwise"


def _rest(row: RepairedPart, rest: Remainder, told: list[tuple[str, dict[str, object]]]) -> Iterator[str]:
    if journal.digest_of(rest.content) != rest.digest:
        yield "what was judged does not match its digest"
    record = ThicknessRecord.objects.get(pk=rest.record_id)
    try:
        verdict = judge_remainder(record, readings_of(record), row.left_out).verdict
    except Refused as refusal:
        verdict = str(refusal)
    if verdict != rest.verdict:
        yield f"its verdict is {rest.verdict}, the readings that remain give {verdict}"
    kept = [of.get("remainder") for _, of in told]
    if rest.digest not in [each.get("digest") for each in kept if isinstance(each, dict)]:
        yield "the journal does not tell of it"
