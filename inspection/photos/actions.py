"""Every change of photos: sent, captioned, shown, withdrawn and restored, drawn over, their position asked for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Model
from django.utils import timezone

from accounts import journal, vault
from accounts.models import Person, Role, StoredFile
from accounts.rights import require
from inspection.fieldwork.models import Record
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import line, wrong_in_a_note
from inspection.photos import layers, picture, queries, shown, subjects
from inspection.photos.models import Photo, PhotoLayer
from inspection.photos.taking_over import standing_of
from inspection.projects.preconditions import in_sight

LONGEST = 200


@transaction.atomic
def add_photo(
    by: Person, *, id: UUID, of: Model, file: UploadedContent, caption: str = "", at_once: bool = False,  # noqa: A002 - the photo's own name for it, as in the API
    at: datetime | None = None, row: int | None = None,
) -> tuple[Photo, bool]:  # fmt: skip
    """Keep a photo of a thing; True when it is new. The same bytes under the same id answer with what is stored.

    One of a record that was corrected meanwhile goes to the version that stands. Raises Refused naming the file for
    what is no photo, Conflict for other content under a used id.
    """
    require(by, *queries.SENDERS, to="add a photo")
    name = subjects.of(of)
    kind = subjects.SUBJECTS[name]
    thing = subjects.found(by, name, of.pk)
    caption = line(caption, field="caption", most=LONGEST, needed=False)
    came_with = None
    if isinstance(thing, Record) and (now := standing_of(thing)).pk != thing.pk:
        thing, came_with = now, thing
    project, file_name = kind.project(thing), vault.name_of(file.name)
    stored = Photo.objects.filter(pk=id).first()
    if stored is None:
        read = picture.read(file.content, name=file_name, zone=project.zone, row=row)
    kept = vault.store(file.content, name=file_name, media_type=f"image/{picture.format_of(file.content)}", by=by)
    if stored is not None:
        return _same(stored, kept, thing, kind.column, by), False
    shown.keep(kept.pk, read)
    try:
        with transaction.atomic():
            photo = Photo.objects.create(
                id=id, project=project, area=kind.area(thing), file=kept, file_name=file_name, format=read.format,
                width=read.width, height=read.height, taken_at=read.taken_at, received_at=at or timezone.now(),
                at_once=at_once, by=by, caption=caption, came_with=came_with, **{kind.column: thing},
            )  # fmt: skip
    except IntegrityError:
        # Sent twice at the same moment.
        if (stored := Photo.objects.filter(pk=id).first()) is None:
            raise
        return _same(stored, kept, thing, kind.column, by), False
    told = {"of": kind.told(thing), "digest": kept.pk, "caption": caption, "taken_at": read.taken_at}
    journal.record("photo.added", photo, by=by, project_id=project.pk, after=told)
    return photo, True


def _same(stored: Photo, kept: StoredFile, thing: Model, column: str, by: Person) -> Photo:
    """What is stored under the id. Raises Conflict where it is not the same photo of the same thing by its sender."""
    if (stored.file_id, getattr(stored, f"{column}_id"), stored.by_id) != (kept.pk, thing.pk, by.pk):
        raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
    return Photo.objects.select_related("project", "file").get(pk=stored.pk)


@transaction.atomic
def change_photo(
    by: Person, *, photo: Photo, caption: str, shown: bool | None = None, in_report: bool | None = None
) -> Photo:
    """Say what it shows, whether the client sees it, and whether the daily report prints it. None: as it is.

    Whether outside parties see it is for the company's people. What is hidden from them is printed in no report.
    """
    locked = _held(by, photo)
    wanted: dict[str, Any] = {
        "caption": line(caption, field="caption", most=LONGEST, needed=False),
        "shown": locked.shown if shown is None else shown,
        "in_report": locked.in_report if in_report is None else in_report,
    }
    before = {name: getattr(locked, name) for name in wanted}
    if wanted["in_report"] and not wanted["shown"]:
        raise Refused("The report goes to the client: show them the photo, or leave it out.", field="in_report")
    if wanted["in_report"] and not locked.record_id:
        raise Refused("The report prints photos beside their record, and this one is of no record.", field="in_report")
    if (wanted["shown"], wanted["in_report"]) != (before["shown"], before["in_report"]):
        require(by, *queries.KEEPERS, to="say who sees a photo")
    if wanted == before:
        return locked
    _refuse_withdrawn(locked)
    return _set(by, locked, "photo.changed", before=before, **wanted)


@transaction.atomic
def withdraw_photo(by: Person, *, photo: Photo, reason: str, at: datetime | None = None) -> Photo:
    """Take it out of pages and reports, with a reason; bytes and entry stay, and it can be restored."""
    locked = _held(by, photo)
    reason = _reason(reason, "Say why it is withdrawn; the photo stays on file.")
    _refuse_withdrawn(locked)
    set_to: dict[str, Any] = {"withdrawn_at": at or timezone.now(), "withdrawn_by": by, "withdrawn_why": reason}
    return _set(by, locked, "photo.withdrawn", reason=reason, **set_to)


@transaction.atomic
def restore_photo(by: Person, *, photo: Photo, reason: str) -> Photo:
    """Bring one back that was withdrawn by mistake."""
    locked = _held(by, photo)
    reason = _reason(reason, "Say why it is brought back.")
    if locked.withdrawn_at is None:
        raise Conflict("It is not withdrawn.")
    before = {"withdrawn_at": locked.withdrawn_at, "withdrawn_why": locked.withdrawn_why}
    set_to: dict[str, Any] = {"withdrawn_at": None, "withdrawn_by": None, "withdrawn_why": ""}
    return _set(by, locked, "photo.restored", reason=reason, before=before, **set_to)


@transaction.atomic
def draw_over(by: Person, *, photo: Photo, shapes: Iterable[dict[str, Any]], after: int) -> PhotoLayer:
    """Put a new layer over the picture in place of the one numbered `after`; the older ones stay to be used again.

    The same shapes as stand answer with the layer that stands. Conflict where somebody has drawn since.
    """
    locked = _held(by, photo)
    kept = layers.checked(shapes)
    _refuse_withdrawn(locked)
    last = queries.layer_of(locked)
    if kept == (last.shapes if last else []) and last is not None:
        return last
    if (last.number if last else 0) != after:
        raise Conflict("Somebody has drawn over it since you looked; look at it again.")
    if not kept and last is None:
        raise Refused(Fault("Give at least one arrow, circle or text.", "shapes"))
    layer = PhotoLayer.objects.create(photo=locked, number=after + 1, shapes=kept, by=by)
    journal.record(
        "photo.drawn_over", locked, by=by, project_id=locked.project_id, before={"layer": after},
        after={"layer": layer.number, "shapes": kept},
    )  # fmt: skip
    return layer


def use_layer_again(by: Person, *, layer: PhotoLayer) -> PhotoLayer:
    """The way back: what an older layer drew, as a new one on top. Number 0 of `draw_over` is the bare picture."""
    last = queries.layer_of(layer.photo)
    return draw_over(by, photo=layer.photo, shapes=layer.shapes, after=last.number if last else 0)


@transaction.atomic
def position_of(by: Person, *, photo: Photo) -> tuple[float, float] | None:
    """Where it was taken by the original, in degrees; for the quality manager, and journalled that it was asked."""
    _ask(by, photo, "photo.position_asked", "ask where a photo was taken")
    return picture.position_in(vault.content_of(photo.file))


@transaction.atomic
def original_of(by: Person, *, photo: Photo) -> bytes:
    """The bytes as they came, with all that the camera wrote into them; journalled that they were asked for."""
    _ask(by, photo, "photo.original_asked", "fetch the original of a photo")
    return vault.content_of(photo.file)


def _ask(by: Person, photo: Photo, verb: str, to: str) -> None:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, photo)
    journal.record(verb, photo, by=by, project_id=photo.project_id)


def refuse_strangers(by: Person, photo: Photo) -> None:
    """Raise NotAllowed unless the person may caption, draw over and withdraw the photo."""
    if not queries.may_keep(by, photo):
        raise NotAllowed("Only the company's inspectors and quality managers may do this, and whoever sent the photo.")


def _held(by: Person, photo: Photo) -> Photo:
    in_sight(by, photo)
    refuse_strangers(by, photo)
    return Photo.objects.select_related("project", "file").select_for_update(of=("self",)).get(pk=photo.pk)


def _refuse_withdrawn(locked: Photo) -> None:
    if locked.withdrawn_at:
        raise Conflict("The photo is withdrawn; bring it back first.")


def _reason(text: str, wanted: str) -> str:
    text = text.strip()
    if not text or (wrong := wrong_in_a_note(text)):
        raise Refused(wanted if not text else wrong, field="reason")
    return text


def _set(
    by: Person, locked: Photo, verb: str, *, before: dict[str, Any] | None = None, reason: str = "", **set_to: Any
) -> Photo:
    for name, value in set_to.items():
        setattr(locked, name, value)
    locked.save(update_fields=list(set_to))
    journal.record(
        verb, locked, by=by, project_id=locked.project_id, before=before, after=set_to, reason=reason
    )  # fmt: skip
    return locked
