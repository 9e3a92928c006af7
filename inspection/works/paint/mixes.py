"""Mixes of paint: recorded with what is doubtful about them, corrected, told when they were used, withdrawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Coat, Party, Project
from inspection.projects.preconditions import in_sight, in_time, in_turn, row_faults, save_new, snapshot
from inspection.works.entering import (
    WORKERS,
    ask,
    digest_of,
    note_faults,
    party_for,
    require_change,
    sent_before,
)
from inspection.works.lots.withdrawn_paint import areas_of_mixes
from inspection.works.models import Mix, MixPart, PaintBatch
from inspection.works.paint.fitness import fitness
from inspection.works.paint.models import MIXED, WITHDRAWN, Component
from inspection.works.paint.reckoning import PartSent, Reckoned, part_faults, reckon
from inspection.works.signals import tell_of_paint

MOST_PARTS = 40
# What whole containers come to is rounded to the thousandth.
ROUNDING = Decimal("0.05")
WHY = "It was mixed all the same: say why, or who allowed it. It is kept with the mix."
DO_NOT = "Do not begin: it is not to be mixed. If it was mixed all the same, say why."


@dataclass(frozen=True, kw_only=True)
class MixSent:
    """A mix as it is told: of which coat, when, how stirred, how warm, of what, and when it was used."""

    coat: Coat | None = None
    mixed_at: datetime
    stirred: str
    parts: Sequence[PartSent]
    paint_c: Decimal | None = None
    used_from: datetime | None = None
    used_until: datetime | None = None
    note: str = ""
    # Why it was mixed of what is not to be mixed.
    reason: str = ""

    def digest(self, by: Person, project: Project, party: Party | None) -> str:
        parts = sorted(
            [str(part.batch.pk), part.containers, None if part.amount is None else float(part.amount), part.measured_in]
            for part in self.parts
        )
        told = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "parts"}
        return digest_of(by, project=project, party=party, **told, parts=parts)


@transaction.atomic
def record_mix(
    by: Person, *, id: UUID, project: Project, sent: MixSent, party: Party | None = None, confirmed: bool = False  # noqa: A002 - made by the sender
) -> tuple[Mix, bool]:  # fmt: skip
    """Keep what was mixed; True when it is new. The same sent again answers with what is stored.

    Raises Refused naming field and row, Asked for what is doubtful until it is confirmed. Of a batch that was expired,
    in quarantine or withdrawn it is kept with the reason only.
    """
    require(by, *WORKERS, to="record mixes of paint")
    batches = [part.batch for part in sent.parts]
    in_sight(by, project, *batches, *([sent.coat] if sent.coat else []), *([party] if party else []))
    digest = sent.digest(by, project, party)
    in_turn(project.pk)
    if stored := sent_before(by, Mix, id, digest):
        return stored, False
    goes_on(project)
    last = Mix.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0
    mix = Mix(
        id=id, project=project, party=party_for(by, project, party), number=last + 1, entered_by=by, digest=digest
    )
    _fill(mix, sent, confirmed=confirmed)
    save_new(mix, already="This mix was stored at the same moment; look at the list.", field="id")
    _put_in(mix, sent.parts)
    journal.record("mix.recorded", mix, by=by, project_id=project.pk, after=_told(mix))
    return mix, True


@transaction.atomic
def correct_mix(by: Person, *, mix: Mix, sent: MixSent, why: str, confirmed: bool = False) -> Mix:
    """Put right what was told of a mix, whole; the journal keeps what stood before, and what was taken out stays."""
    held = _held(by, mix, to="correct a mix")
    in_sight(by, *[part.batch for part in sent.parts], *([sent.coat] if sent.coat else []))
    before = _told(held)
    if faults := [Fault(fault.message, "why") for fault in reason_faults(why)]:
        raise Refused(faults)
    _fill(held, sent, confirmed=confirmed)
    held.save(update_fields=list(MIXED))
    wanted = {(part.batch.pk, part.containers, part.used, part.measured_in): part for part in sent.parts}
    for part in held.parts.filter(taken_out_at=None):
        if wanted.pop((part.batch_id, part.containers, part.amount, part.unit), None) is None:
            part.taken_out_at = timezone.now()
            part.save(update_fields=["taken_out_at"])
    _put_in(held, list(wanted.values()))
    after = _told(held)
    changed = {name for name in after if after[name] != before[name]}
    if not changed:
        raise Refused("Nothing differs from what is stored.")
    journal.record(
        "mix.corrected", held, by=by, project_id=held.project_id, reason=why.strip(),
        before={name: before[name] for name in changed}, after={name: after[name] for name in changed},
    )  # fmt: skip
    tell_of_paint(Mix, by, areas_of_mixes([held]), f"{held} was corrected: {why.strip()}")
    return held


@transaction.atomic
def tell_use(
    by: Person, *, mix: Mix, used_from: datetime, used_until: datetime | None = None, confirmed: bool = False
) -> Mix:
    """Say when its use began and ended. What was told already is put right by a correction."""
    held = _held(by, mix, to="say when a mix was used")
    if held.used_from not in (None, used_from) or held.used_until not in (None, used_until):
        raise Conflict("When it was used is told already; correct the mix to put that right.")
    before = _told(held)
    held.used_from, held.used_until = used_from, used_until
    if faults := list(_use_faults(held)):
        raise Refused(faults)
    asked = ask(_use_questions(held), confirmed=confirmed)
    held.gone_over = [*held.gone_over, *(each for each in asked if each not in held.gone_over)]
    after = _told(held)
    changed = {name for name in after if after[name] != before[name]}
    if not changed:
        return held
    held.save(update_fields=["used_from", "used_until", "gone_over"])
    journal.record(
        "mix.used", held, by=by, project_id=held.project_id, before={name: before[name] for name in changed},
        after={name: after[name] for name in changed},
    )  # fmt: skip
    return held


@transaction.atomic
def withdraw_mix(by: Person, *, mix: Mix, reason: str) -> Mix:
    """Say that a mix was entered by mistake; its paint counts as not used."""
    held = _held(by, mix, to="withdraw a mix")
    if faults := reason_faults(reason):
        raise Refused(faults)
    held.withdrawn_at, held.withdrawn_by, held.withdrawn_why = timezone.now(), by, reason.strip()
    held.save(update_fields=list(WITHDRAWN))
    journal.record("mix.withdrawn", held, by=by, project_id=held.project_id, reason=reason.strip())
    tell_of_paint(Mix, by, areas_of_mixes([held]), f"{held} was withdrawn: {reason.strip()}")
    return held


@transaction.atomic
def restore_mix(by: Person, *, mix: Mix, reason: str) -> Mix:
    """Take a withdrawal back."""
    held = _held(by, mix, to="take the withdrawal of a mix back", withdrawn=True)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held.withdrawn_at, held.withdrawn_by, held.withdrawn_why = None, None, ""
    held.save(update_fields=list(WITHDRAWN))
    journal.record("mix.restored", held, by=by, project_id=held.project_id, reason=reason.strip())
    tell_of_paint(Mix, by, areas_of_mixes([held]), f"The withdrawal of {held} was taken back: {reason.strip()}")
    return held


# --- what they share --------------------------------------------------------------------------------------------------


def _held(by: Person, mix: Mix, *, to: str, withdrawn: bool = False) -> Mix:
    in_sight(by, mix)
    rows = Mix.objects.select_for_update(of=("self",)).select_related("project", "party__organisation", "coat")
    held: Mix = rows.get(pk=mix.pk)
    require_change(by, held.party, to=to)
    goes_on(held.project)
    if bool(held.withdrawn_at) != withdrawn:
        raise Conflict(f"{held} is {'not' if withdrawn else 'already'} withdrawn.")
    return held


def _fill(mix: Mix, sent: MixSent, *, confirmed: bool) -> Reckoned:
    """Give the mix what was told and what follows from it. Raises Refused and Asked."""
    mix.coat, mix.mixed_at, mix.stirred, mix.paint_c = sent.coat, sent.mixed_at, sent.stirred, sent.paint_c
    mix.used_from, mix.used_until, mix.note, mix.reason = (
        sent.used_from, sent.used_until, sent.note.strip(), sent.reason.strip(),
    )  # fmt: skip
    faults = [*row_faults(mix), *_faults(mix, sent), *part_faults(sent.parts)]
    if faults:
        raise Refused(faults)
    batches = _batches(sent.parts)
    sheet = sent.coat.data_sheet if sent.coat else None
    found = reckon(sent.parts, sheet=sheet, mixed_at=sent.mixed_at, paint_c=sent.paint_c)
    for name in ("ratio_by", "ratio_wanted", "ratio_mixed", "deviation_pct", "thinner_pct", "usable_from",
                 "usable_until", "pot_life_told"):  # fmt: skip
        setattr(mix, name, getattr(found, name))
    mix.sheet_told = str(sheet)[:200] if sheet else ""
    unfit = [
        Fault(doubt, "batch", row)
        for row, part in enumerate(sent.parts, start=1)
        for doubt in fitness(batches[part.batch.pk], sent.mixed_at).doubts
    ]
    questions = [*unfit, *_given_out(mix, sent.parts), *_odd(sent, batches), *found.questions, *_use_questions(mix)]
    if unfit and not sent.reason.strip():
        questions.append(Fault(DO_NOT, "reason"))
    mix.gone_over = ask(questions, confirmed=confirmed)
    if unfit and not sent.reason.strip():
        raise Refused(WHY, field="reason")
    return found


def _batches(parts: Sequence[PartSent]) -> dict[UUID, PaintBatch]:
    """The batches with their steps, held in one order, so that no two mixes take the last litre of one."""
    ids = sorted({part.batch.pk for part in parts})
    rows = PaintBatch.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk")
    return {batch.pk: batch for batch in rows.select_related("project").prefetch_related("steps")}


def _faults(mix: Mix, sent: MixSent) -> Iterator[Fault]:
    if timezone.is_naive(mix.mixed_at):
        yield from in_time(mix.mixed_at, "mixed_at")
        return
    yield from in_time(mix.mixed_at, "mixed_at")
    yield from _use_faults(mix)
    yield from note_faults(sent.note, "note")
    yield from note_faults(sent.reason, "reason")
    if sent.paint_c is not None and not -10 <= sent.paint_c <= 80:
        yield Fault("Give the temperature of the paint in °C, from −10 to 80.", "paint_c")
    if sent.coat and sent.coat.system.project_id != mix.project_id:
        yield Fault("Choose a coat of the same project.", "coat")
    if len(sent.parts) > MOST_PARTS:
        yield Fault(f"Give at most {MOST_PARTS} batches.", "parts")
    for row, part in enumerate(sent.parts, start=1):
        if part.batch.project_id != mix.project_id:
            yield Fault("This batch belongs to another project; a mix is made of batches of its own.", "batch", row)


def _use_faults(mix: Mix) -> Iterator[Fault]:
    began, ended = mix.used_from, mix.used_until
    for name, at in (("used_from", began), ("used_until", ended)):
        if at is not None and (faults := in_time(at, name)):
            yield from faults
            return
    if ended and not began:
        yield Fault("Say when its use began, too.", "used_from")
    elif began and began < mix.mixed_at:
        yield Fault("Its use began before it was mixed; check both times.", "used_from")
    elif began and ended and ended < began:
        yield Fault("Its use ended before it began; check both times.", "used_until")


def _use_questions(mix: Mix) -> Iterator[Fault]:
    zone = mix.project.zone
    if mix.used_from and mix.usable_from and mix.used_from < mix.usable_from:
        told = f"Its use began before the induction time had passed, at {mix.usable_from.astimezone(zone):%H:%M}."
        yield Fault(told, "used_from")
    late = mix.used_until or mix.used_from
    if late and mix.usable_until and late > mix.usable_until:
        told = f"It was used after its pot life had ended, at {mix.usable_until.astimezone(zone):%Y-%m-%d %H:%M}."
        yield Fault(told, "used_until" if mix.used_until else "used_from")


def _given_out(mix: Mix, parts: Sequence[PartSent]) -> Iterator[Fault]:
    """Batches that would have given more than they received, in the unit in which they were received."""
    others = MixPart.objects.that_count().filter(batch__in=[part.batch.pk for part in parts]).exclude(mix=mix)
    given = {
        (row["batch"], row["unit"]): row["sum"] for row in others.values("batch", "unit").annotate(sum=Sum("amount"))
    }
    for row, part in enumerate(parts, start=1):
        batch = part.batch
        if part.measured_in != batch.unit:
            continue
        before = given.get((batch.pk, batch.unit), Decimal(0))
        if before + part.used > batch.received + ROUNDING:
            left = max(batch.received - before, Decimal(0))
            told = (
                f"{part.used.normalize():f} {batch.unit} of {batch}: {batch.amount} were received, and "
                f"{left.normalize():f} {batch.unit} are left by the other mixes."
            )
            yield Fault(told, "amount", row)


def _odd(sent: MixSent, batches: dict[UUID, PaintBatch]) -> Iterator[Fault]:
    for row, part in enumerate(sent.parts, start=1):
        batch = batches[part.batch.pk]
        if batch.received_at > sent.mixed_at:
            yield Fault(f"{batch} was received after this was mixed; check both times.", "batch", row)
        of_paint = batch.component != Component.THINNER
        if sent.coat and of_paint and batch.product.casefold() != sent.coat.product.casefold():
            yield Fault(f"{sent.coat} is of {sent.coat.product}, and {batch} is not.", "batch", row)


def _put_in(mix: Mix, parts: Sequence[PartSent]) -> None:
    MixPart.objects.bulk_create(
        MixPart(mix=mix, batch=part.batch, containers=part.containers, amount=part.used, unit=part.measured_in)
        for part in parts
    )


def _told(mix: Mix) -> dict[str, Any]:
    parts = mix.parts.filter(taken_out_at=None).select_related("batch").order_by("batch__component", "batch__number")
    return {**snapshot(mix), "parts": [[str(part.batch), f"{part.amount.normalize():f} {part.unit}"] for part in parts]}
