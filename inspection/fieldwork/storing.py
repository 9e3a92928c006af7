"""What storing any field record asks: rights, sight, one project, possible moments, once only, replaced only once."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import TypeVar, cast
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Model

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.latest import keep_latest
from inspection.fieldwork.models import Record
from inspection.foundation.locks import hold_shared
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import wrong_in_a_note
from inspection.instruments.models import Gauge
from inspection.projects.breakdown import former_system, of_system, retired_words
from inspection.projects.division import parts_of
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.projects.preconditions import in_sight, in_time
from inspection.projects.revised_areas import apply_due
from inspection.projects.steps import coat_at, film_on, is_kept, is_revised, same_line, same_step

AnyRecord = TypeVar("AnyRecord", bound=Record)
LONGEST_NOTE = 4_000
LONGEST_REASON = 200
SENT_ALWAYS = (
    "taken_by_id", "project_id", "area_id", "coat_id", "taken_at", "note", "replaces_id", "replacement_reason",
)  # fmt: skip


def may_record(
    by: Person, *, project: Project, area: InspectionArea, coat: Coat | None, gauge: Gauge | None, what: str
) -> None:
    """Raise unless the person may record here and the things named belong together. What is foreign is 404."""
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to=f"record {what}")
    in_sight(by, project, area, *(thing for thing in (coat, gauge) if thing))
    if area.structure.project_id != project.pk:
        raise Refused(f"Area {area.label} belongs to another project than {project.code}.", field="area")
    apply_due(project=project)
    area.refresh_from_db(fields=["system"])
    if coat and former_system(area, coat) is None and not same_line(coat.system, area.system):
        of_system(area, coat)


def coat_judged_by(record_id: UUID, *, area: InspectionArea, coat: Coat, at: datetime, replaces: Record | None) -> Coat:
    """The coat of the named step by which the record is judged: of the revision in force where and when it was taken.

    A correction stays with the coat of what it corrects, and what is stored already with the one it was stored with.
    The coat knows what lies under it on the area.
    """
    if is_revised(coat.system):
        settled = coat_at(area, coat, at)
        told = replaces.coat if replaces and replaces.area_id == area.pk else None
        stored = Record.objects.filter(pk=record_id, area=area).select_related("coat__system").first()
        for earlier in (told, stored.coat if stored else None):
            if earlier and earlier in (coat, settled, same_step(coat, earlier.system)):
                settled = earlier
        coat = settled
    return film_on(area, coat)


def of_changed_area(record: Record) -> list[str]:
    """What the office changed of the record's area and coat before it came; the record is kept all the same."""
    words, kept = retired_words(record.area), "The record is kept there all the same."
    parts = ", ".join(part.label for part in parts_of(record.area))
    told = [" ".join(filter(None, (_ended(words), parts and f"{parts} took its place.", kept)))] if words else []
    former = former_system(record.area, record.coat) if record.coat else None
    if former and record.coat and not is_kept(record.area, record.coat):
        left = former.left_at.astimezone(record.project.zone)
        told.append(f"{record.area.label} had the system of {record.coat} until {left:%Y-%m-%d %H:%M}. {kept}")
    system = record.coat.system if record.coat else None
    if system and system.revises_id and system.issued_at and record.taken_at < system.issued_at <= record.received_at:
        told.append(
            f"{system}, which applies from {system.applies_from}, was issued after this was recorded and before it "
            f"came: {_ended(system.why)} It is judged by that."
        )
    return told


def _ended(words: str) -> str:
    """Somebody's words as a sentence."""
    return words if words.endswith((".", "!", "?")) else f"{words}."


def moments(**named: datetime) -> list[Fault]:
    return [fault for field, at in named.items() for fault in in_time(at, field)]


def words(**named: tuple[str, int]) -> list[Fault]:
    """Faults of free text: longer than it may be, or holding characters that are not kept."""
    faults = []
    for field, (text, longest) in named.items():
        if len(text) > longest:
            faults.append(Fault(f"Give at most {longest} characters; these are {len(text)}.", field))
        if wrong := wrong_in_a_note(text):
            faults.append(Fault(wrong, field))
    return faults


def replacing(replaces: AnyRecord | None, reason: str, *, by: Person, project: Project) -> None:
    """Raise unless the version named may be replaced: in sight, of this project, not replaced yet, with a reason."""
    if replaces is None:
        return
    in_sight(by, replaces)
    if replaces.project_id != project.pk:
        raise Refused("A correction stays in the project of the record it replaces.", field="replaces")
    if not reason.strip():
        raise Refused("Say why the record is corrected; both versions stay readable.", field="replacement_reason")
    newer = Record.objects.filter(replaces=replaces).select_related("taken_by").first()
    if newer:
        raise _already_replaced(newer)


def content_digest(record: Record, columns: tuple[str, ...], **more: object) -> str:
    """The digest of what the sender sent: the columns all records share, those named, and what has no column."""
    sent = {name: _canonical(getattr(record, name)) for name in (*SENT_ALWAYS, *columns)}
    return journal.digest_of({**sent, **more})


def _canonical(value: object) -> object:
    """One way to write what can be written in several: the zone of a moment, the zeros of a number."""
    if isinstance(value, datetime):
        return value.astimezone(UTC)
    return float(value) if isinstance(value, Decimal) else value


def stored_before(record: AnyRecord) -> AnyRecord | None:
    """The stored record of this id when it is the same content sent again; Conflict when it holds another.

    Where a record that the sender may not see bears the id, theirs is given another; it is stored as if the id were
    free, and sent again it is found.
    """
    other = another_id(record.id, record.taken_by, record.project)
    found = {row.pk: row for row in Record.objects.filter(pk__in=(record.id, other))}
    stored = found.get(other) or found.get(record.id)
    if stored is not None and stored.pk != other and not is_seen(record.taken_by, stored):
        record.id, stored = other, None
    if stored is None:
        return None
    if (stored.kind, stored.digest) != (record.KIND, record.digest):
        raise Conflict(
            Fault(
                "A record with this id is stored already, with other content. Nothing was changed: look at the stored "
                "one, and send a correction if it is wrong.",
                "id",
            )
        )
    return cast("AnyRecord", type(record)._default_manager.get(pk=stored.pk))


def another_id(sent: UUID, by: Person, project: Project) -> UUID:
    """What takes the place of an id that is borne by something the sender may not see; always the same one.

    Ids are made by senders, so one of another client's may be sent. To refuse it would tell that it is there.
    """
    return uuid5(sent, f"{project.pk} {by.pk}")


def is_seen(by: Person, thing: Model) -> bool:
    return type(thing)._default_manager.visible_to(by).filter(pk=thing.pk).exists()  # type: ignore[attr-defined, no-any-return]  # every kind asked about is OfProject


def store(record: AnyRecord) -> tuple[AnyRecord, bool]:
    """The one way in for every kind of record: insert it once, and let what stands at its place follow. True when new.

    When a parallel sender of the same id came first, the answer is what it stored. Whoever plans shifts at the same
    moment holds the project: one of both waits here for the other, and so the record is judged by its shift.
    """
    hold_shared(Project.objects.filter(pk=record.project_id), weakly=True)
    stored, new = _insert_once(record)
    if new:
        keep_latest(stored)
    return stored, new


def _insert_once(record: AnyRecord) -> tuple[AnyRecord, bool]:
    sent = record.id
    try:
        with transaction.atomic():
            record.save()
    except IntegrityError:
        stored = stored_before(record)
        if stored is not None:
            return stored, False
        if record.id != sent:
            return _insert_once(record)
        newer = Record.objects.filter(replaces=record.replaces).exclude(replaces=None).first()
        if newer is None:
            raise
        raise _already_replaced(newer) from None
    return record, True


def _already_replaced(newer: Record) -> Conflict:
    return Conflict(
        Fault(
            f"{newer.by_name} corrected this record already, at {newer.received_at:%Y-%m-%d %H:%M} UTC. Look at "
            "that version first, and correct it if it is still wrong.",
            "replaces",
        )
    )
