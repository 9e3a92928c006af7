"""A batch of paint recalled with all that follows from it, as one step; and taking that back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.dispatch import receiver
from django.urls import reverse

from accounts import journal, post
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.charts import many_of
from inspection.foundation.refusals import Conflict
from inspection.holdpoints import actions as holdpoints
from inspection.nonconformance.models import Nonconformance
from inspection.projects.preconditions import in_sight
from inspection.recall.batches import Touched, people_concerned, touched_by_batch
from inspection.recall.foreseen import REINSTATED, WITHDRAWN
from inspection.recall.models import Recall
from inspection.works.models import PaintBatch
from inspection.works.paint import batches
from inspection.works.signals import batch_restored

TO = "recall a batch of paint"


@transaction.atomic
def recall_batch(by: Person, *, batch: PaintBatch, reason: str) -> Recall:
    """Withdraw the batch with all that follows; all of it or nothing.

    The readings stay as accurate as they were: what is in doubt is the film. Released points after its coats, and after
    those over them, fall into doubt; each area and coat of those gets a nonconformance; everybody concerned is told
    once. Raises Conflict where it is withdrawn already.
    """
    held = _held(by, batch)
    if held.withdrawn_at:
        raise Conflict(f"{held} is withdrawn already; take that back first, or look at what it touched.")
    told: set[UUID] = set()
    batches.withdraw_batch(by, batch=held, reason=reason, told=told)
    # The points are held by now: none is released over it any more without seeing this.
    touched = touched_by_batch(held)
    because = f"{held} was {WITHDRAWN}: {reason.strip()}"
    raised = holdpoints.raise_for_lost_ground(by, points=touched.points, because=because, already=_raised_before(held))
    return _completed(by, held, WITHDRAWN, reason, touched, because=because, told=told, raised=raised)


@transaction.atomic
def reinstate_batch(by: Person, *, batch: PaintBatch, reason: str) -> Recall:
    """Take the withdrawal back, as a step of its own; releases that nothing else stands against stand again.

    Nonconformances that recalls of the batch raised are closed where nobody has begun to repair; others stay open, for
    somebody to look at. Raises Conflict where it is not withdrawn.
    """
    held, told = _held(by, batch), set[UUID]()
    batches.restore_batch(by, batch=held, reason=reason, told=told, alone=False)
    return _taken_back(by, held, reason, told)


@receiver(batch_restored, dispatch_uid="recall")
def follow_restored(sender: Any, by: Person, batch: PaintBatch, reason: str, told: set[UUID], **sent: Any) -> None:
    """A batch that was recalled and is restored on its own page: what the recall raised follows as if taken back there.

    Whoever may restore it may let that follow: it was withdrawn by the company, so that no contractor's people do.
    """
    last = Recall.objects.filter(batch=batch).order_by("-at", "-pk").first()
    if last and last.way == WITHDRAWN:
        _taken_back(by, batch, reason, told)


def _taken_back(by: Person, batch: PaintBatch, reason: str, told: set[UUID]) -> Recall:
    """Close what recalls of the batch raised and stands again; keep, journal and tell it."""
    because = f"The withdrawal of {batch} was taken back: {reason.strip()}"
    closed = holdpoints.close_regained_ground(by, raised=_raised_before(batch), because=because)
    touched = touched_by_batch(batch)
    return _completed(by, batch, REINSTATED, reason, touched, because=because, told=told, closed=closed)


def _held(by: Person, batch: PaintBatch) -> PaintBatch:
    require(by, Role.QUALITY_MANAGER, to=TO)
    in_sight(by, batch)
    rows = PaintBatch.objects.select_for_update(of=("self",)).select_related("project", "party")
    held: PaintBatch = rows.get(pk=batch.pk)
    return held


def _raised_before(batch: PaintBatch) -> list[UUID]:
    kept = Recall.objects.filter(batch=batch).values_list("touched__nonconformances", flat=True)
    return [UUID(pk) for ids in kept for pk in ids or ()]


def _completed(
    by: Person, batch: PaintBatch, way: str, reason: str, touched: Touched, *, because: str, told: set[UUID],
    raised: Sequence[Nonconformance] = (), closed: Sequence[Nonconformance] = (),
) -> Recall:  # fmt: skip
    people = people_concerned(batch, touched)
    kept: dict[str, Any] = journal.plain({
        "way": way, **touched.ids, "nonconformances": [row.pk for row in raised], "closed": [row.pk for row in closed],
        "people": [person.pk for person in people],
    })  # fmt: skip
    done = Recall.objects.create(batch=batch, by=by, reason=reason.strip(), touched=kept)
    counts = {name: len(value) for name, value in kept.items() if isinstance(value, list)}
    verb = "batch.recalled" if way == WITHDRAWN else "batch.recall_taken_back"
    after = {"recall": done.pk, **counts}
    journal.record(verb, batch, by=by, project_id=batch.project_id, after=after, reason=done.reason)
    for person in people:
        if person.pk not in told:
            _write(done, batch, touched, person, because)
    return done


def _write(done: Recall, batch: PaintBatch, touched: Touched, person: Person, because: str) -> None:
    """One letter. A painting contractor's people are told of their paint, and not what others found on it."""
    lines = [f"- {many_of(many, noun)}" for noun, many in _told(touched) if many]
    rests = ["", "What rests on it:", *(lines or ["- nothing that is recorded"])]
    manages = person.has_role(Role.QUALITY_MANAGER)
    page = reverse("recalled", args=[done.pk]) if manages else reverse("batch", args=[batch.pk])
    stop = [] if done.way == REINSTATED else ["Mix and apply nothing of it."]
    body = [because, *stop, *([] if person.is_contractors else rests), "", f"{settings.SITE_URL}{page}", ""]
    post.write(
        "recall", str(done.pk), to=person, project=batch.project_id, subject=because.split(":", maxsplit=1)[0],
        body="\n".join(body),
    )  # fmt: skip


def _told(touched: Touched) -> list[tuple[str, int]]:
    """How many of each, so that a letter can say it."""
    nouns = {"lots": "lot", "areas": "area", "records": "record", "points": "released point",
             "reports": "issued report"}  # fmt: skip
    return [(noun, touched.counts[name]) for name, noun in nouns.items()]
