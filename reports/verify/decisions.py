"""Hold points and nonconformances: each decision and each state against what the journal tells, in order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import islice
from typing import Any
from uuid import UUID

from accounts import journal
from accounts.models import JournalEntry
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.nonconformance.models import Nonconformance, ReworkEntry, ReworkItem
from inspection.nonconformance.rework import state_by
from inspection.projects.models import Project

AT_ONCE = 100
CLOSED = "nonconformance.closed"
MOVED = (CLOSED, "nonconformance.reopened")
REWORK_TOLD = tuple(
    f"rework_item.{verb}" for verb in ("opened", "done", "closed", "not_in_order", "dropped", "taken_back")
)
DECIDED = tuple(f"holdpoint.{outcome.value}" for outcome in Decision.Outcome)


def differences() -> Iterator[str]:
    yield from _points()
    yield from _nonconformances()
    yield from _rework_items()


def _points() -> Iterator[str]:
    points = HoldPoint.objects.select_related("area").order_by("pk").iterator(chunk_size=AT_ONCE)
    while batch := list(islice(points, AT_ONCE)):
        made: dict[str, list[Decision]] = defaultdict(list)
        for decision in Decision.objects.filter(point__in=batch).order_by("number"):
            made[str(decision.point_id)].append(decision)
        told = _entries(HoldPoint, batch, DECIDED)
        for point in batch:
            pk = str(point.pk)
            yield from (f"hold point {point.pk} ({point}): {words}" for words in _decided(point, made[pk], told[pk]))


def _decided(point: HoldPoint, made: list[Decision], told: list[JournalEntry]) -> Iterator[str]:
    state = made[-1].left_as if made else HoldPoint.State.WAITING
    if point.state != state:
        yield f"its state is {point.state}, its decisions leave it {state}"
    if len(made) != len(told):
        yield f"it has {len(made)} decisions, the journal tells of {len(told)}"
    for decision, entry in zip(made, told, strict=False):
        if journal.digest_of(decision.evidence) != decision.evidence_digest:
            yield f"the evidence of decision {decision.number} does not match its digest"
        stored = (
            f"holdpoint.{decision.outcome}", decision.evidence_digest, decision.reason, decision.at, decision.person_id,
        )  # fmt: skip
        if stored != (entry.verb, (entry.after or {}).get("evidence"), entry.reason, entry.at, entry.actor_id):
            yield f"decision {decision.number} ({decision.outcome}) is not what journal entry {entry.pk} tells"


def _nonconformances() -> Iterator[str]:
    rows = Nonconformance.objects.order_by("pk").iterator(chunk_size=AT_ONCE)
    while batch := list(islice(rows, AT_ONCE)):
        told = _entries(Nonconformance, batch, MOVED)
        together = _told_together(batch)
        for row in batch:
            entries = [*told[str(row.pk)], *together[row.project_id, row.number]]
            last = max(entries, key=lambda entry: entry.pk, default=None)
            closed = last is not None and last.verb == CLOSED
            if closed != (row.state == Nonconformance.State.CLOSED):
                what = f"journal entry {last.pk} tells otherwise" if last else "the journal tells nothing of that"
                yield f"nonconformance {row.pk} ({row}): it is {row.state}, {what}"


def _rework_items() -> Iterator[str]:
    """Each item of rework is in the state that its entries make of it, and the journal tells of them all."""
    rows = ReworkItem.objects.select_related("record").order_by("pk").iterator(chunk_size=AT_ONCE)
    while batch := list(islice(rows, AT_ONCE)):
        entries: dict[UUID, list[ReworkEntry]] = defaultdict(list)
        found = ReworkEntry.objects.filter(item__in=batch).select_related("withdrawn_by").order_by("at", "pk")
        for entry in found:
            entries[entry.item_id].append(entry)
        told = _entries(ReworkItem, batch, REWORK_TOLD)
        for item in batch:
            what, made = f"item of rework {item.pk} ({item})", entries[item.pk]
            counting = [each for each in made if not hasattr(each, "withdrawn_by") and not each.withdraws_id]
            if item.state != state_by(counting):
                yield f"{what}: it is {item.state}, its entries make it {state_by(counting)}"
            if len(told[str(item.pk)]) != len(made) + 1:
                yield f"{what}: it has {len(made)} entries, the journal tells of {len(told[str(item.pk)]) - 1}"


def _told_together(batch: list[Nonconformance]) -> dict[tuple[UUID, int], list[JournalEntry]]:
    """By project and number, the entries that tell of several at once."""
    found: dict[tuple[UUID, int], list[JournalEntry]] = defaultdict(list)
    for entry in JournalEntry.objects.filter(
        object_type=Project._meta.label_lower, project_id__in={row.project_id for row in batch}, verb__in=MOVED
    ):
        for number in (entry.after or {}).get("numbers", ()):
            if entry.project_id:
                found[entry.project_id, number].append(entry)
    return found


def _entries(model: Any, batch: list[Any], verbs: tuple[str, ...]) -> dict[str, list[JournalEntry]]:
    found: dict[str, list[JournalEntry]] = defaultdict(list)
    entries = JournalEntry.objects.filter(
        object_type=model._meta.label_lower, object_id__in=[str(row.pk) for row in batch], verb__in=verbs
    )
    for entry in entries.order_by("pk"):
        found[entry.object_id].append(entry)
    return found
