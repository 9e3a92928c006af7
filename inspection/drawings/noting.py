"""Notes on drawings: written, corrected by a new version, shown to outside parties, withdrawn and brought back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.drawings.actions import KEEPERS, place_faults
from inspection.drawings.models import Drawing, DrawingNote, DrawingRevision
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.projects.corrections import reason_faults
from inspection.projects.models import InspectionArea
from inspection.projects.preconditions import in_sight, in_time
from inspection.works import entering

WRITERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR, Role.CLIENT)


@dataclass(frozen=True)
class NoteSent:
    """What is noted, and where: in parts of 10,000 of width and height, where the drawing has a picture."""

    text: str
    at: datetime
    x: int | None = None
    y: int | None = None
    area: InspectionArea | None = None


@transaction.atomic
def write_note(by: Person, *, id: UUID, revision: DrawingRevision, sent: NoteSent) -> tuple[DrawingNote, bool]:  # noqa: A002 - the note's own name for it, as in the API
    """Put a note on a revision of a drawing; True when it is new. The same sent again answers with what is stored.

    One that was written without a signal is kept although its revision was replaced or withdrawn meanwhile. Raises
    Refused naming the fields, Conflict for other content under a used id.
    """
    require(by, *WRITERS, to="write a note on a drawing")
    in_sight(by, revision)
    return _keep(by, id, revision, _checked(by, revision, sent))


@transaction.atomic
def correct_note(
    by: Person, *, note: DrawingNote, id: UUID, sent: NoteSent, reason: str  # noqa: A002 - as above
) -> tuple[DrawingNote, bool]:  # fmt: skip
    """Put a note right by a new version under its number; the version before stays readable."""
    refuse_strangers(by, note)
    if faults := reason_faults(reason):
        raise Refused(faults)
    return _keep(by, id, note.revision, _checked(by, note.revision, sent), replaces=note, why=reason.strip())


@transaction.atomic
def withdraw_note(by: Person, *, note: DrawingNote, reason: str, at: datetime | None = None) -> DrawingNote:
    """Say that it was written by mistake. It stays readable, and is drawn no more."""
    refuse_strangers(by, note)
    held = _current(note)
    return _set_withdrawn(by, held, "drawing_note.withdrawn", reason, at=at or timezone.now(), who=by)


@transaction.atomic
def restore_note(by: Person, *, note: DrawingNote, reason: str) -> DrawingNote:
    """Take a withdrawal back."""
    refuse_strangers(by, note)
    held = _held(note)
    if held.withdrawn_at is None:
        raise Conflict("The note is not withdrawn.")
    return _set_withdrawn(by, held, "drawing_note.restored", reason, at=None, who=None)


@transaction.atomic
def show_note(by: Person, *, note: DrawingNote, shown: bool) -> DrawingNote:
    """Show it to the client and to the contractor whose area it is, or to them no more."""
    require(by, *KEEPERS, to="say who sees a note")
    in_sight(by, note)
    held = _current(note)
    if held.shown == shown:
        return held
    held.shown = shown
    held.save(update_fields=["shown"])
    verb = "drawing_note.shown" if shown else "drawing_note.hidden"
    journal.record(verb, held, by=by, project_id=held.drawing.project_id)
    return held


def may_change(by: Person, note: DrawingNote) -> bool:
    """The company's inspectors and quality managers, and whoever wrote it."""
    return by.has_role(*KEEPERS) or (note.by_id == by.pk and by.has_role(*WRITERS))


def refuse_strangers(by: Person, note: DrawingNote) -> None:
    """Raise Http404 for what is not seen, NotAllowed unless the person may correct and withdraw the note."""
    in_sight(by, note)
    if not may_change(by, note):
        raise NotAllowed("Only the company's inspectors and quality managers may do this, and whoever wrote the note.")


def digest_of(
    by: Person, revision: DrawingRevision, sent: NoteSent | DrawingNote, replaces: UUID | None = None, why: str = ""
) -> str:
    """SHA-256 of what was sent; of a stored note the same again."""
    more = {"replaces": str(replaces), "why": why} if replaces else {}
    return entering.digest_of(
        by, revision=revision, x=sent.x, y=sent.y, text=sent.text, area=sent.area, at=sent.at, **more
    )  # fmt: skip


def _checked(by: Person, revision: DrawingRevision, sent: NoteSent) -> NoteSent:
    if sent.area:
        in_sight(by, sent.area)
    faults = entering.note_faults(sent.text, "text", needed="Write what is to be noted.")
    faults += place_faults(sent.x, sent.y, needed=revision.has_picture) + in_time(sent.at, "at")
    if faults:
        raise Refused(faults)
    if sent.area and sent.area.structure.project_id != revision.drawing.project_id:
        raise Refused("This area is of another project.", field="area")
    return sent


def _keep(
    by: Person, pk: UUID, revision: DrawingRevision, sent: NoteSent, *, replaces: DrawingNote | None = None,
    why: str = "",
) -> tuple[DrawingNote, bool]:  # fmt: skip
    digest = digest_of(by, revision, sent, replaces.pk if replaces else None, why)
    drawing = Drawing.objects.select_for_update(of=("self",)).get(pk=revision.drawing_id)
    if stored := entering.sent_before(by, DrawingNote, pk, digest):
        return stored, False
    held = _current(replaces) if replaces else None
    if held and (held.text, held.x, held.y, held.area, held.at) == (
        sent.text.strip(), sent.x, sent.y, sent.area, sent.at
    ):  # fmt: skip
        raise Refused("Nothing differs from what is stored.")
    last = drawing.notes.aggregate(last=Max("number"))["last"] or 0
    note = DrawingNote(
        id=pk, drawing=drawing, revision=revision, number=held.number if held else last + 1,
        version=held.version + 1 if held else 1, area=sent.area, x=sent.x, y=sent.y, text=sent.text.strip(),
        at=sent.at, by=by, shown=bool(held and held.shown), digest=digest, replaces=held, why=why,
    )  # fmt: skip
    try:
        with transaction.atomic():
            note.save(force_insert=True)
    except IntegrityError:
        if stored := entering.sent_before(by, DrawingNote, pk, digest):
            return stored, False
        raise
    _tell(by, note, held)
    return note, True


def _tell(by: Person, note: DrawingNote, former: DrawingNote | None) -> None:
    told: dict[str, Any] = {
        "number": note.number, "revision": note.revision.revision, "text": note.text, "x": note.x, "y": note.y,
        "area": note.area.label if note.area else None, "digest": note.digest,
    }  # fmt: skip
    before = {"note": former.pk, "digest": former.digest} if former else None
    verb = "drawing_note.corrected" if former else "drawing_note.written"
    journal.record(verb, note, by=by, project_id=note.drawing.project_id, before=before, after=told, reason=note.why)


def _held(note: DrawingNote) -> DrawingNote:
    rows = DrawingNote.objects.select_for_update(of=("self",)).select_related("drawing", "revision", "area__structure")
    held = rows.get(pk=note.pk)
    if later := DrawingNote.objects.filter(replaces=held).first():
        raise Conflict(f"The note was corrected meanwhile, by version {later.version}; look at that one.")
    return held


def _current(note: DrawingNote) -> DrawingNote:
    held = _held(note)
    if held.withdrawn_at:
        raise Conflict("The note is withdrawn; bring it back first.")
    return held


def _set_withdrawn(
    by: Person, note: DrawingNote, verb: str, reason: str, *, at: datetime | None, who: Person | None
) -> DrawingNote:
    if faults := reason_faults(reason):
        raise Refused(faults)
    note.withdrawn_at, note.withdrawn_by, note.withdrawn_why = at, who, reason.strip() if at else ""
    note.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    journal.record(verb, note, by=by, project_id=note.drawing.project_id, reason=reason.strip())
    return note
