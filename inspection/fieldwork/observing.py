"""Storing a record that is taken in one go: checked, judged, asked about, stored once, journalled, made known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db import transaction

from accounts import journal
from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.fieldwork.storing import coat_judged_by, may_record, of_changed_area, replacing, store, stored_before
from inspection.foundation.refusals import Asked, Fault
from inspection.instruments import overdue
from inspection.instruments.signals import evidence_changed

AnyRecord = TypeVar("AnyRecord", bound=Record)


@dataclass(frozen=True)
class Observing:
    """What a kind of record says of storing one; each is asked of the row, with what was sent in its columns."""

    # Raises Refused for what the columns cannot hold or no rule has to judge.
    refuse_faulty: Callable[[Any], None]
    # SHA-256 of what the sender sent.
    digest: Callable[[Any], str]
    # Fills in inputs, answer, verdict and the figures found. Raises Refused naming the field.
    judge: Callable[[Any], None]
    # What is asked about before it is stored.
    questions: Callable[[Any], list[Fault]]
    # What the journal tells of it, beside place, verdict and digest.
    told: Callable[[Any], dict[str, Any]]
    # In which of the signal's lists it goes, and the sentence why.
    evidence: str
    because: Callable[[Any], str]


@transaction.atomic
def observe(record: AnyRecord, how: Observing, *, ask: bool = False) -> tuple[AnyRecord, bool]:
    """Store the record with the verdict it gives; True when it is new.

    The same content under the same id answers with the stored record. Raises Refused naming the field, Conflict for
    other content under a used id or a record that was corrected meanwhile, NotAllowed and Http404; for a new record by
    the page also where its instrument has no certificate to rely on, unless the company only warns. With `ask`, what
    is doubtful raises Asked, and nothing is stored.
    """
    by, replaces = record.taken_by, record.replaces
    may_record(by, project=record.project, area=record.area, coat=record.coat, gauge=record.gauge, what=record.KIND)
    if record.coat:
        record.coat = coat_judged_by(
            record.id, area=record.area, coat=record.coat, at=record.taken_at, replaces=replaces
        )
    how.refuse_faulty(record)
    record.digest = how.digest(record)
    stored = stored_before(record)
    if stored is not None:
        return stored, False
    replacing(replaces, record.replacement_reason, by=by, project=record.project)
    run_out = run_out_of(record)
    if record.source == Record.Source.PAGE and not replaces:
        overdue.begin(run_out)
    how.judge(record)
    if ask and (questions := how.questions(record)):
        raise Asked(questions)
    record, new = store(record)
    if new:
        _journal(by, record, how, overdue.words(run_out))
        _announce(by, record, how)
    return record, new


def run_out_of(record: Record) -> list[Fault]:
    """That the instrument had no certificate to rely on that day; nothing for one of somebody else's."""
    return overdue.faults(record.project.day_of(record.taken_at), gauge=record.gauge)


def _journal(by: Person, record: Record, how: Observing, run_out: list[str]) -> None:
    before = record.replaces
    journal.record(
        f"{record.KIND}.{'corrected' if before else 'recorded'}",
        record,
        by=by,
        project_id=record.project_id,
        before={"record": before.pk, "verdict": before.verdict} if before else None,
        after={
            "area": record.area.label,
            **({"coat": record.coat.name} if record.coat else {}),
            **how.told(record),
            "verdict": record.verdict,
            "digest": record.digest,
            **({"run_out": run_out} if run_out else {}),
            **({"changed_area": changed} if (changed := of_changed_area(record)) else {}),
        },
        reason=record.replacement_reason,
    )


def _announce(by: Person, record: Record, how: Observing) -> None:
    """Say that there is new evidence, where it lies and where the version that it replaces lay."""
    records = [row.pk for row in (record, record.replaces) if row]
    evidence_changed.send(sender=type(record), by=by, because=how.because(record), **{how.evidence: records})
