"""Entries of a day: written, corrected by a new version, withdrawn and brought back; notes marked as read."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.diary.checks import EntrySent, doubts_of, faults_of
from inspection.diary.kinds import COLUMNS, head_of
from inspection.diary.models import DiaryEntry, NoteRead
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.foundation.text import line
from inspection.projects.corrections import reason_faults
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, in_turn
from inspection.works import entering

WRITERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
LONGEST_WORD = 120


@transaction.atomic
def write_entry(
    by: Person, *, id: UUID, project: Project, sent: EntrySent, confirmed: bool = False,  # noqa: A002 - the entry's own name for it, as in the API
) -> tuple[DiaryEntry, bool]:  # fmt: skip
    """Keep an entry of a day; True when it is new, the same sent again answers with what is stored.

    Raises Refused naming the fields, Conflict for other content under a used id, Asked for what is doubtful.
    """
    require(by, *WRITERS, to="write in the diary")
    sent = _checked(by, project, sent)
    digest = digest_of(by, project, sent)
    in_turn(project.pk)
    if stored := entering.sent_before(by, DiaryEntry, id, digest):
        return stored, False
    return _store(by, id, project, sent, digest=digest, confirmed=confirmed)


@transaction.atomic
def correct_entry(
    by: Person, *, entry: DiaryEntry, id: UUID, sent: EntrySent, reason: str, confirmed: bool = False,  # noqa: A002 - as above
) -> tuple[DiaryEntry, bool]:  # fmt: skip
    """Put an entry right by a new version; kind and day stay. True when it is new."""
    refuse_strangers(by, entry)
    if faults := reason_faults(reason):
        raise Refused(faults)
    sent = _checked(by, entry.project, replace(sent, kind=entry.kind, day=entry.day))
    digest = digest_of(by, entry.project, sent, replaces=entry.pk, why=reason)
    DiaryEntry.objects.select_for_update(of=("self",)).get(pk=entry.pk)
    if stored := entering.sent_before(by, DiaryEntry, id, digest):
        return stored, False
    held = _current(entry)
    if all(getattr(held, name) == getattr(sent, name) for name in COLUMNS):
        raise Refused("Nothing differs from what is stored.")
    return _store(by, id, held.project, sent, digest=digest, confirmed=confirmed, replaces=held, why=reason.strip())


@transaction.atomic
def withdraw_entry(by: Person, *, entry: DiaryEntry, reason: str, at: datetime | None = None) -> DiaryEntry:
    """Say that it was entered by mistake. It stays readable, and counts for nothing."""
    refuse_strangers(by, entry)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held = _current(entry)
    return _set_withdrawn(by, held, "diary.withdrawn", reason, at=at or timezone.now(), who=by)


@transaction.atomic
def restore_entry(by: Person, *, entry: DiaryEntry, reason: str) -> DiaryEntry:
    """Take a withdrawal back."""
    refuse_strangers(by, entry)
    if faults := reason_faults(reason):
        raise Refused(faults)
    held = _held(entry)
    if held.withdrawn_at is None:
        raise Conflict("The entry is not withdrawn.")
    return _set_withdrawn(by, held, "diary.restored", reason, at=None, who=None)


@transaction.atomic
def mark_read(by: Person, *, entry: DiaryEntry, at: datetime | None = None) -> tuple[NoteRead, bool]:
    """Say that the person has read a note to the next shift. True when that is new."""
    require(by, *WRITERS, to="mark a note as read")
    in_sight(by, entry)
    if entry.kind != DiaryEntry.Kind.HANDOVER:
        raise Refused("Only a note to the next shift is marked as read.")
    if entry.entered_by_id == by.pk:
        raise Refused("You wrote this note yourself.")
    if already := entry.reads.filter(person=by, taken_back_at=None).first():
        return already, False
    try:
        with transaction.atomic():
            read = NoteRead.objects.create(entry=entry, person=by, at=at or timezone.now())
    except IntegrityError:
        return entry.reads.get(person=by, taken_back_at=None), False
    journal.record("diary.note_read", entry, by=by, project_id=entry.project_id)
    return read, True


@transaction.atomic
def mark_unread(by: Person, *, entry: DiaryEntry, at: datetime | None = None) -> None:
    """The way back for a note marked as read by mistake: the person is shown it again."""
    require(by, *WRITERS, to="mark a note as not read")
    in_sight(by, entry)
    changed = NoteRead.objects.filter(entry=entry, person=by, taken_back_at=None).update(
        taken_back_at=at or timezone.now()
    )
    if not changed:
        raise Conflict("You have not marked this note as read.")
    journal.record("diary.note_unread", entry, by=by, project_id=entry.project_id)


def may_change(by: Person, entry: DiaryEntry) -> bool:
    """Whoever wrote it, while they write for the company at all, and quality managers."""
    return by.has_role(Role.QUALITY_MANAGER) or (entry.entered_by_id == by.pk and by.has_role(*WRITERS))


def refuse_strangers(by: Person, entry: DiaryEntry) -> None:
    """Raise Http404 for what is not seen, NotAllowed unless the person may correct and withdraw the entry."""
    in_sight(by, entry)
    if not may_change(by, entry):
        raise NotAllowed("Only whoever wrote the entry and quality managers may change it.")


def digest_of(
    by: Person, project: Project, sent: EntrySent | DiaryEntry, *, replaces: UUID | None = None, why: str = ""
) -> str:
    """SHA-256 of what was sent; of a stored entry the same again, by which it is verified."""
    columns = {name: getattr(sent, name) for name in COLUMNS}
    columns["clock"] = columns["clock"].isoformat() if columns["clock"] else None
    more = {"replaces": str(replaces), "why": why} if replaces else {}
    return entering.digest_of(by, project=project, day=sent.day, kind=sent.kind, **columns, **more)


def _checked(by: Person, project: Project, sent: EntrySent) -> EntrySent:
    """What was sent made fit to keep. Raises Refused with all that is wrong."""
    in_sight(by, project, *(thing for thing in (sent.crew, sent.party) if thing))
    words: dict[str, Any] = {
        name: line(getattr(sent, name), field=name, most=LONGEST_WORD, needed=False) for name in ("who", "organisation")
    }
    sent = replace(sent, **words, text=sent.text.strip())
    if faults := faults_of(project, sent):
        raise Refused(faults)
    return replace(sent, party=sent.crew.party) if sent.crew else sent


def _store(
    by: Person, pk: UUID, project: Project, sent: EntrySent, *, digest: str, confirmed: bool,
    replaces: DiaryEntry | None = None, why: str = "",
) -> tuple[DiaryEntry, bool]:  # fmt: skip
    """The entry, kept and journalled; or what the same sender stored under the id at the same moment, and False."""
    gone_over = entering.ask(doubts_of(by, project, sent, replaces), confirmed=confirmed)
    entry = DiaryEntry(
        id=pk, project=project, day=sent.day, kind=sent.kind, version=replaces.version + 1 if replaces else 1,
        entered_by=by, digest=digest, replaces=replaces, why=why, gone_over=gone_over,
        **{name: getattr(sent, name) for name in COLUMNS},
    )  # fmt: skip
    try:
        with transaction.atomic():
            entry.save(force_insert=True)
    except IntegrityError:
        if stored := entering.sent_before(by, DiaryEntry, pk, digest):
            return stored, False
        raise
    told: dict[str, Any] = {
        "kind": entry.kind, "day": entry.day, "told": head_of(entry), "gone_over": gone_over, "digest": digest,
    }  # fmt: skip
    before = {"entry": replaces.pk, "digest": replaces.digest} if replaces else None
    verb = "diary.corrected" if replaces else "diary.entered"
    journal.record(verb, entry, by=by, project_id=project.pk, before=before, after=told, reason=why)
    return entry, True


def _set_withdrawn(
    by: Person, entry: DiaryEntry, verb: str, reason: str, *, at: datetime | None, who: Person | None
) -> DiaryEntry:
    entry.withdrawn_at, entry.withdrawn_by, entry.withdrawn_why = at, who, reason.strip() if at else ""
    entry.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    journal.record(verb, entry, by=by, project_id=entry.project_id, reason=reason.strip())
    return entry


def _held(entry: DiaryEntry) -> DiaryEntry:
    rows = DiaryEntry.objects.select_for_update(of=("self",)).select_related(
        "project", "crew", "party__organisation"
    )  # fmt: skip
    held = rows.get(pk=entry.pk)
    if later := DiaryEntry.objects.filter(replaces=held).first():
        raise Conflict(f"The entry was corrected meanwhile, by version {later.version}; look at that one.")
    return held


def _current(entry: DiaryEntry) -> DiaryEntry:
    held = _held(entry)
    if held.withdrawn_at:
        raise Conflict("The entry is withdrawn; bring it back first.")
    return held
