"""Batches of paint: received, corrected, withdrawn; extended by the maker, put in quarantine and released from it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, DataSheet, Party, Project
from inspection.projects.preconditions import in_sight, in_time, in_turn, row_faults, save_new, snapshot
from inspection.works.entering import (
    WORKERS,
    ask,
    digest_of,
    keep_file,
    note_faults,
    party_for,
    require_change,
    sent_before,
)
from inspection.works.lots.withdrawn_paint import areas_of_mixes
from inspection.works.models import BatchStep, Mix, PaintBatch
from inspection.works.paint.fitness import fitness
from inspection.works.paint.models import DECLARED, WITHDRAWN
from inspection.works.signals import batch_restored, paint_about_to_move, tell_of_paint

What = BatchStep.What
NAMING = {"project", "party", "file", "entered_by", "withdrawn_by", "digest"}
SAID = tuple(name for name in DECLARED if name not in ("file", "file_name"))


@transaction.atomic
def receive_batch(
    by: Person, *, id: UUID, project: Project, party: Party | None = None, file: UploadedContent | None = None,  # noqa: A002 - made by the sender, so that the same sent twice is one batch
    confirmed: bool = False, **said: Any,
) -> tuple[PaintBatch, bool]:  # fmt: skip
    """Enter a batch as it was received; True when it is new. Takes the columns of `PaintBatch` by name.

    Raises Refused naming the field, Asked for what is doubtful until it is confirmed, Conflict for a batch that is
    entered already or other content under a used id.
    """
    require(by, *WORKERS, to="enter batches of paint")
    in_sight(by, project, *([party] if party else []))
    digest = digest_of(by, project=project, party=party, file=file, **{name: said.get(name) for name in SAID})
    in_turn(project.pk)
    if stored := sent_before(by, PaintBatch, id, digest):
        return stored, False
    goes_on(project)
    batch = _worded(PaintBatch(id=id, project=project, party=party_for(by, project, party), digest=digest), said)
    batch.entered_by = by
    if faults := list(faults_of(batch)):
        raise Refused(faults)
    ask(questions_of(batch), confirmed=confirmed)
    batch.file, batch.file_name = keep_file(by, file, "the batch certificate")
    save_new(batch, already=_already(batch), field="number")
    journal.record("batch.received", batch, by=by, project_id=project.pk, after=snapshot(batch))
    return batch, True


@transaction.atomic
def receive_delivery(
    by: Person, *, project: Project, party: Party | None, rows: Sequence[dict[str, Any]]
) -> list[PaintBatch]:
    """Enter the batches of a table, all or none. A fault carries the place of its row, from 1.

    What is doubtful was shown in the preview, so nothing is asked.
    """
    received = []
    for place, row in enumerate(rows, start=1):
        try:
            batch, _ = receive_batch(by, id=new_id(), project=project, party=party, confirmed=True, **row)
        except NotAllowed:
            raise
        except Refused as refusal:
            raise Refused([replace(fault, row=place) for fault in refusal.faults]) from refusal
        received.append(batch)
    return received


@transaction.atomic
def correct_batch(
    by: Person, *, batch: PaintBatch, reason: str, file: UploadedContent | None = None, confirmed: bool = False,
    **said: Any,
) -> PaintBatch:  # fmt: skip
    """Put right what was entered of a batch; the journal keeps what stood. A new file takes the place of the old."""
    held = _held(by, batch, to="correct a batch")
    before = snapshot(held)
    _worded(held, said)
    faults = [*faults_of(held), *reason_faults(reason)]
    mixed = held.parts.that_count().order_by("mix__number").first()
    if mixed and (held.component, held.unit) != (before["component"], before["unit"]):
        told = f"Mix {mixed.mix.number} was made of it as it stands; correct that mix first."
        faults.append(Fault(told, "component" if held.component != before["component"] else "unit"))
    if faults:
        raise Refused(faults)
    if file:
        held.file, held.file_name = keep_file(by, file, "the batch certificate")
    after = snapshot(held)
    changed = {name for name in after if after[name] != before[name]}
    if not changed:
        raise Refused("Nothing differs from what is stored.")
    ask(questions_of(held), confirmed=confirmed)
    _about_to_move(held)
    try:
        with transaction.atomic():
            held.save(update_fields=list(DECLARED))
    except IntegrityError:
        raise Conflict(Fault(_already(held), "number")) from None
    journal.record(
        "batch.corrected", held, by=by, project_id=held.project_id, reason=reason.strip(),
        before={name: before[name] for name in changed}, after={name: after[name] for name in changed},
    )  # fmt: skip
    _tell(by, held, f"{held} was corrected: {reason.strip()}")
    return held


@transaction.atomic
def withdraw_batch(by: Person, *, batch: PaintBatch, reason: str, told: set[UUID] | None = None) -> PaintBatch:
    """Say that the batch does not count: entered by mistake, or not to be used. What was mixed of it says so then.

    A maker calls a batch back whenever it does, so of a closed project as well. `told` is given the ids of the people
    who were written to.
    """
    held = _held(by, batch, to="withdraw a batch", closed_too=True)
    if faults := reason_faults(reason):
        raise Refused(faults)
    if held.withdrawn_at:
        raise Conflict(f"{held} was withdrawn already.")
    _about_to_move(held)
    _set_withdrawn(held, by, reason)
    journal.record("batch.withdrawn", held, by=by, project_id=held.project_id, reason=reason.strip())
    _tell(by, held, f"{held} was withdrawn: {reason.strip()}", told)
    return held


@transaction.atomic
def restore_batch(
    by: Person, *, batch: PaintBatch, reason: str, told: set[UUID] | None = None, alone: bool = True
) -> PaintBatch:
    """Take a withdrawal back. `told` is given the ids of the people who were written to.

    `alone`: by itself, so that whatever recalled the batch is to follow.
    """
    told = set() if told is None else told
    held = _held(by, batch, to="take the withdrawal of a batch back", closed_too=True)
    if faults := reason_faults(reason):
        raise Refused(faults)
    if held.withdrawn_at is None:
        raise Conflict(f"{held} is not withdrawn.")
    if by.is_contractors and held.withdrawn_by and not held.withdrawn_by.is_contractors:
        raise NotAllowed(f"{held.withdrawn_by} of the inspection company withdrew it; they alone bring it back.")
    held.withdrawn_at, held.withdrawn_by, held.withdrawn_why = None, None, ""
    try:
        with transaction.atomic():
            held.save(update_fields=list(WITHDRAWN))
    except IntegrityError:
        raise Conflict(_already(held)) from None
    journal.record("batch.restored", held, by=by, project_id=held.project_id, reason=reason.strip())
    _tell(by, held, f"The withdrawal of {held} was taken back: {reason.strip()}", told)
    if alone:
        batch_restored.send(sender=PaintBatch, by=by, batch=held, reason=reason, told=told)
    return held


# --- steps ------------------------------------------------------------------------------------------------------------


@transaction.atomic
def extend_batch(
    by: Person, *, batch: PaintBatch, id: UUID, dated: date, expires_on: date, reference: str, why: str = "",  # noqa: A002 - as above
    file: UploadedContent | None = None,
) -> BatchStep:  # fmt: skip
    """Keep that the maker extended the shelf life in writing: until when, by which letter of which day."""
    held = _held(by, batch, to="extend the shelf life of a batch")
    step = BatchStep(
        id=id, batch=held, what=What.EXTENDED, at=timezone.now(), dated=dated, expires_on=expires_on,
        reference=reference.strip(), why=why.strip(), entered_by=by,
    )  # fmt: skip
    if stored := _step_before(by, step, file):
        return stored
    faults = [*note_faults(why, "why"), *row_faults(step)]
    today = timezone.now().astimezone(held.project.zone).date()
    until = fitness(held, timezone.now()).until
    if not step.reference:
        faults.append(Fault("Name the letter by its number or as it is dated; an extension is one in writing.",
                            "reference"))  # fmt: skip
    if dated > today:
        faults.append(Fault("The letter is dated in the future; check its day.", "dated"))
    if until and expires_on <= until:
        faults.append(Fault(f"It may be used until {until:%Y-%m-%d} as it is; an extension is to a later day.",
                            "expires_on"))  # fmt: skip
    elif expires_on <= dated:
        faults.append(Fault("It ends before the letter was written; check both days.", "expires_on"))
    if faults:
        raise Refused(faults)
    step.file, step.file_name = keep_file(by, file, "the letter")
    return _keep_step(by, step)


@transaction.atomic
def quarantine_batch(by: Person, *, batch: PaintBatch, id: UUID, why: str, at: datetime | None = None) -> BatchStep:  # noqa: A002 - as above
    """Set a batch apart: nothing is to be mixed of it until it is released."""
    return _move(by, batch, id, What.QUARANTINED, why, at)


@transaction.atomic
def release_batch(by: Person, *, batch: PaintBatch, id: UUID, why: str, at: datetime | None = None) -> BatchStep:  # noqa: A002 - as above
    """Release a batch from quarantine, with what was found."""
    return _move(by, batch, id, What.RELEASED, why, at)


def _move(by: Person, batch: PaintBatch, pk: UUID, what: BatchStep.What, why: str, at: datetime | None) -> BatchStep:
    into = what == What.QUARANTINED
    held = _held(by, batch, to="put a batch in quarantine" if into else "release a batch from quarantine")
    step = BatchStep(id=pk, batch=held, what=what, at=at or timezone.now(), why=why.strip(), entered_by=by)
    if stored := _step_before(by, step, None, timed=at is not None):
        return stored
    needed = "Say why it is set apart." if into else "Say what was found, so that it may be used."
    if faults := [*in_time(step.at, "at"), *note_faults(why, "why", needed=needed)]:
        raise Refused(faults)
    if fitness(held, step.at).in_quarantine == into:
        told = "is in quarantine already" if into else "is not in quarantine"
        raise Conflict(f"{held} {told} at that time; look at its steps.")
    return _keep_step(by, step)


@transaction.atomic
def withdraw_step(by: Person, *, step: BatchStep, reason: str) -> BatchStep:
    """Take back a step that was entered wrong; it stays readable."""
    in_sight(by, step)
    _held(by, step.batch, to="take back what befell a batch")
    locked = BatchStep.objects.select_for_update(of=("self",)).select_related("batch__project").get(pk=step.pk)
    if faults := reason_faults(reason):
        raise Refused(faults)
    if locked.withdrawn_at:
        raise Conflict("This was taken back already.")
    _about_to_move(locked.batch)
    _set_withdrawn(locked, by, reason)
    journal.record(
        "batch.step_withdrawn", locked.batch, by=by, project_id=locked.batch.project_id, reason=reason.strip(),
        before={"step": locked.pk, "what": locked.what},
    )  # fmt: skip
    told = f"“{locked.get_what_display()}” of {locked.batch} was taken back: {reason.strip()}"
    _tell(by, locked.batch, told)
    return locked


def _step_before(by: Person, step: BatchStep, file: UploadedContent | None, *, timed: bool = False) -> BatchStep | None:
    """The stored step where the same was sent before. Raises Conflict where the id holds another."""
    stored = BatchStep.objects.filter(pk=step.pk).first()
    if stored is None:
        return None
    names = (
        "batch_id",
        "what",
        "dated",
        "expires_on",
        "reference",
        "why",
        "entered_by_id",
        *(("at",) if timed else ()),
    )
    if any(getattr(stored, name) != getattr(step, name) for name in names):
        raise Conflict(Fault("This id is used already, with other content. Nothing was changed.", "id"))
    return stored


def _keep_step(by: Person, step: BatchStep) -> BatchStep:
    _about_to_move(step.batch)
    save_new(step, already="This was entered at the same moment; look at the batch.", field="id")
    journal.record(
        f"batch.{step.what}", step.batch, by=by, project_id=step.batch.project_id, reason=step.why,
        after={"step": step.pk, "at": step.at, "dated": step.dated, "expires_on": step.expires_on,
               "reference": step.reference},
    )  # fmt: skip
    _tell(by, step.batch, f"{step.batch}, {step.get_what_display().lower()}: {step.why or step.reference}")
    return step


# --- what they share --------------------------------------------------------------------------------------------------


def _set_withdrawn(row: PaintBatch | BatchStep, by: Person, reason: str) -> None:
    row.withdrawn_at, row.withdrawn_by, row.withdrawn_why = timezone.now(), by, reason.strip()
    row.save(update_fields=list(WITHDRAWN))


def _areas_of(batch: PaintBatch) -> list[UUID]:
    return areas_of_mixes(Mix.objects.that_count().filter(parts__batch=batch, parts__taken_out_at=None))


def _about_to_move(batch: PaintBatch) -> None:
    paint_about_to_move.send(sender=PaintBatch, areas=_areas_of(batch))


def _tell(by: Person, batch: PaintBatch, because: str, told: set[UUID] | None = None) -> None:
    written_to = tell_of_paint(PaintBatch, by, _areas_of(batch), because)
    if told is not None:
        told |= written_to


def _held(by: Person, batch: PaintBatch, *, to: str, closed_too: bool = False) -> PaintBatch:
    in_sight(by, batch)
    rows = PaintBatch.objects.select_for_update(of=("self",)).select_related("project", "party__organisation")
    held: PaintBatch = rows.get(pk=batch.pk)
    require_change(by, held.party, to=to)
    if not closed_too:
        goes_on(held.project)
    return held


def _worded(batch: PaintBatch, said: dict[str, Any]) -> PaintBatch:
    for name, value in said.items():
        if name not in SAID:
            raise TypeError(f"{name} is no column of a batch")
        setattr(batch, name, value.strip() if isinstance(value, str) else value)
    return batch


def _already(batch: PaintBatch) -> str:
    return f"{batch} is entered already in {batch.project.code}; correct that one, or give the number of this one."


def _column_faults(batch: PaintBatch) -> list[Fault]:
    """What its own columns find wrong, without asking the database for what they name: a table has many rows."""
    try:
        batch.clean_fields(exclude=NAMING)
    except ValidationError as wrong:
        return [Fault(" ".join(messages), name) for name, messages in wrong.message_dict.items()]
    return []


def faults_of(batch: PaintBatch) -> Iterator[Fault]:
    """What is wrong in itself with a batch as entered."""
    found = [*_column_faults(batch), *note_faults(batch.note, "note")]
    yield from found
    told = {fault.field for fault in found}
    if "received" not in told and batch.received <= 0:
        yield Fault("Give what was received, more than 0.", "received")
    if batch.containers == 0:
        yield Fault("Give the number of containers, or leave it out.", "containers")
    if "received_at" in told:
        return
    yield from in_time(batch.received_at, "received_at")
    came = batch.received_at.astimezone(batch.project.zone).date()
    made, expires = batch.made_on, batch.expires_on
    if made and made > came:
        yield Fault(f"It was received on {came:%Y-%m-%d}, before it was made; check both days.", "made_on")
    if made and expires and expires <= made:
        yield Fault("It expires before it was made; check both days.", "expires_on")
    low, high = batch.storage_min_c, batch.storage_max_c
    if low is not None and high is not None and low >= high:
        yield Fault("The upper temperature of storage is the greater one.", "storage_max_c")


def questions_of(batch: PaintBatch, products: set[str] | None = None) -> Iterator[Fault]:
    """What is doubtful about a batch as entered; `products` where those of the project are known already."""
    came = batch.received_at.astimezone(batch.project.zone).date()
    if batch.expires_on and batch.expires_on < came:
        yield Fault(f"It had expired on {batch.expires_on:%Y-%m-%d}, before it was received.", "expires_on")
    known = products_of(batch.project) if products is None else products
    if known and batch.product.casefold() not in {name.casefold() for name in known}:
        named = ", ".join(sorted(known)[:20])
        told = f"“{batch.product}” is no product of the project’s coating systems, which have {named}."
        yield Fault(told, "product")


def products_of(project: Project) -> set[str]:
    """The products that the project's coating systems and their data sheets name, thinners among them."""
    coats = Coat.objects.filter(system__in=project.systems.in_force()).values_list("product", "data_sheet")
    sheets = DataSheet.objects.filter(pk__in=[sheet for _, sheet in coats if sheet]).values_list("product", "thinner")
    return {product for product, _ in coats} | {name for pair in sheets for name in pair if name}
