"""Specifications of a project: revisions as they came, deviations asked for and answered, what is taken back."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from accounts import journal, vault
from accounts.models import Person, Role, StoredFile
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent, file_faults, media_type_of
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Deviation, DeviationAnswer, Project, Specification, SpecificationRevision
from inspection.projects.preconditions import in_sight, save_new, snapshot

FIRST_DAY = date(1980, 1, 1)
# A paper may be dated a little ahead of the day on which it comes into force.
LONGEST_AHEAD = timedelta(days=366)
Withdrawn = SpecificationRevision | Deviation | DeviationAnswer


@transaction.atomic
def add_specification(by: Person, *, project: Project, number: str, title: str) -> Specification:
    require(by, Role.QUALITY_MANAGER, to="add a specification")
    in_sight(by, project)
    goes_on(project)
    number, title = line(number, field="number", most=60), line(title, field="title", most=160)
    already = f"{project.code} already has a specification {number}."
    if Specification.objects.filter(project=project, number__iexact=number).exists():
        raise Refused(already, field="number")
    specification = Specification(project=project, number=number, title=title)
    save_new(specification, already=already, field="number")
    journal.record("specification.added", specification, by=by, project_id=project.pk, after=snapshot(specification))
    return specification


@transaction.atomic
def correct_specification(
    by: Person, *, specification: Specification, number: str, title: str, reason: str
) -> Specification:
    """Put right its number or title; its revisions are named by the new one."""
    locked = _held(by, specification, to="correct a specification")
    before = snapshot(locked)
    locked.number, locked.title = line(number, field="number", most=60), line(title, field="title", most=160)
    same = Specification.objects.filter(project=locked.project_id, number__iexact=locked.number).exclude(pk=locked.pk)
    faults = reason_faults(reason)
    if same.exists():
        faults.append(Fault(f"{locked.project.code} already has a specification {locked.number}.", "number"))
    if not faults and snapshot(locked) == before:
        faults.append(Fault("Nothing differs from what is stored."))
    if faults:
        raise Refused(faults)
    locked.save(update_fields=["number", "title"])
    journal.record(
        "specification.corrected", locked, by=by, project_id=locked.project_id, before=before, after=snapshot(locked),
        reason=reason.strip(),
    )  # fmt: skip
    return locked


@transaction.atomic
def remove_specification(by: Person, *, specification: Specification, reason: str) -> None:
    """Take one away that was added by mistake, while nothing hangs on it."""
    locked = _held(by, specification, to="remove a specification")
    if faults := reason_faults(reason):
        raise Refused(faults)
    if locked.revisions.exists() or locked.deviations.exists():
        raise Conflict("Revisions or deviations are recorded of it, so it stays; take those back that are wrong.")
    journal.record(
        "specification.removed", locked, by=by, project_id=locked.project_id, before=snapshot(locked),
        reason=reason.strip(),
    )  # fmt: skip
    locked.delete()


@transaction.atomic
def add_revision(
    by: Person, *, specification: Specification, revision: str, dated: date, clauses: str = "", reviewer: str = "",
    note: str = "", file: UploadedContent | None = None,
) -> SpecificationRevision:  # fmt: skip
    """Record a revision as it was received, with its paper where there is one. Coating systems then name it."""
    locked = _held(by, specification, to="add a revision of a specification")
    revision = line(revision, field="revision", most=20)
    already = f"{locked.number} already has a revision {revision}."
    faults = _day_faults(dated, "dated", ahead=LONGEST_AHEAD) + (file_faults(file, "the specification") if file else [])
    if locked.revisions.filter(revision__iexact=revision, withdrawn_at=None).exists():
        faults.append(Fault(already, "revision"))
    row = SpecificationRevision(
        specification=locked, revision=revision, dated=dated, clauses=clauses.strip(), reviewer=reviewer.strip(),
        note=note.strip(), added_by=by,
    )  # fmt: skip
    if faults:
        raise Refused(faults)
    if file:
        row.file, row.file_name = _kept(by, file), vault.name_of(file.name)
    save_new(row, already=already, field="revision")
    journal.record(
        "specification.revision_added", row, by=by, project_id=locked.project_id, after=snapshot(row)
    )  # fmt: skip
    return row


def _kept(by: Person, file: UploadedContent) -> StoredFile:
    return vault.store(file.content, name=file.name, media_type=media_type_of(file.content), by=by)


@transaction.atomic
def ask_deviation(
    by: Person, *, specification: Specification, asked: str, asked_for: str, asked_on: date, clause: str = ""
) -> Deviation:
    """Record that something else than the specification says was asked for, by whom and when."""
    locked = _held(by, specification, to="ask for a deviation")
    if faults := _day_faults(asked_on, "asked_on"):
        raise Refused(faults)
    number = (locked.deviations.aggregate(last=Max("number"))["last"] or 0) + 1
    row = Deviation(
        specification=locked, number=number, asked=asked.strip(), asked_on=asked_on, entered_by=by,
        asked_for=line(asked_for, field="asked_for", most=160), clause=clause.strip(),
    )  # fmt: skip
    save_new(row, already="Somebody asked at the same moment; send it again.")
    journal.record("deviation.asked", row, by=by, project_id=locked.project_id, after=snapshot(row))
    return row


@transaction.atomic
def answer_deviation(
    by: Person, *, deviation: Deviation, outcome: str, answer: str, answered_by: str, answered_on: date
) -> DeviationAnswer:
    """Record what was answered. One answer stands; a wrong one is taken back before another is recorded."""
    require(by, Role.QUALITY_MANAGER, Role.CLIENT, to="answer a deviation")
    in_sight(by, deviation)
    locked = Deviation.objects.select_for_update(of=("self",)).select_related("specification__project").get(
        pk=deviation.pk
    )  # fmt: skip
    goes_on(locked.specification.project)
    faults = _day_faults(answered_on, "answered_on")
    if answered_on < locked.asked_on:
        faults.append(Fault(f"It was asked on {locked.asked_on:%Y-%m-%d}; the answer came after.", "answered_on"))
    if outcome not in DeviationAnswer.Outcome.values:
        faults.append(Fault("Choose accepted, accepted with conditions, or declined.", "outcome"))
    if faults:
        raise Refused(faults)
    stands = "It is answered already; take that answer back first if it is wrong."
    if locked.withdrawn_at:
        raise Conflict("The request was taken back, so there is nothing to answer.")
    if locked.answers.filter(withdrawn_at=None).exists():
        raise Conflict(stands)
    row = DeviationAnswer(
        deviation=locked, outcome=outcome, answer=answer.strip(), answered_on=answered_on, entered_by=by,
        answered_by=line(answered_by, field="answered_by", most=160),
    )  # fmt: skip
    save_new(row, already=stands)
    project = locked.specification.project_id
    journal.record("deviation.answered", row, by=by, project_id=project, after=snapshot(row))
    return row


VERBS = {
    SpecificationRevision: "specification.revision_withdrawn",
    Deviation: "deviation.withdrawn",
    DeviationAnswer: "deviation.answer_withdrawn",
}


@transaction.atomic
def withdraw(by: Person, *, row: Withdrawn, reason: str) -> None:
    """Take back what was entered by mistake: it stays readable, with the reason. A client's own answer is theirs."""
    own_answer = isinstance(row, DeviationAnswer) and row.entered_by_id == by.pk
    if not own_answer:
        require(by, Role.QUALITY_MANAGER, to="take back what was recorded of a specification")
    in_sight(by, row)
    specification = row.deviation.specification if isinstance(row, DeviationAnswer) else row.specification
    goes_on(specification.project)
    if faults := reason_faults(reason):
        raise Refused(faults)
    if isinstance(row, SpecificationRevision) and (system := row.systems.filter(taken_back_at=None).first()):
        raise Conflict(f"{system} stands on it; issue a revision of the system that does not, or take that one back.")
    at = timezone.now()
    values: dict[str, Any] = {"withdrawn_at": at, "withdrawn_by": by, "withdrawn_why": reason.strip()}
    if not type(row)._default_manager.filter(pk=row.pk, withdrawn_at=None).update(**values):
        raise Conflict("It was taken back already.")
    journal.record(
        VERBS[type(row)], row, by=by, project_id=specification.project_id, before={"withdrawn_at": None},
        after={"withdrawn_at": at}, reason=reason.strip(),
    )  # fmt: skip


def _held(by: Person, specification: Specification, *, to: str) -> Specification:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, specification)
    rows = Specification.objects.select_for_update(of=("self",)).select_related("project")
    locked = rows.get(pk=specification.pk)
    goes_on(locked.project)
    return locked


def _day_faults(day: date, field: str, ahead: timedelta = timedelta(days=1)) -> list[Fault]:
    """What is wrong with a day on which something is said to have been."""
    if day > timezone.now().date() + ahead:
        return [Fault(f"{day:%Y-%m-%d} lies in the future; check the date.", field)]
    if day < FIRST_DAY:
        return [Fault(f"{day:%Y-%m-%d} is too long ago; check the year.", field)]
    return []
