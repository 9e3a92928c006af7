"""Photos of a record that is corrected go over to the version that stands, and keep which they came with."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from uuid import UUID

from accounts import journal
from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.photos.models import Photo

Versions = dict[UUID, Record]


def take_over(sender: Any, **sent: Any) -> None:
    """Listens to `evidence_changed`: what a record just stored replaces gives it its photos, the withdrawn as well."""
    by = sent.get("by")
    if by is None or not (isinstance(sender, type) and issubclass(sender, Record)):
        return
    stored = [*sent.get("records", ()), *sent.get("climate", ())]
    corrected = Record.objects.filter(pk__in=stored, replaced_by=None).exclude(replaces=None)
    for record in corrected.select_related("project", "area"):
        _move(by, record, former_of(record))


def former_of(record: Record) -> list[UUID]:
    """The versions before it, the newest first."""
    found: list[UUID] = []
    before = record.replaces_id
    while before:
        found.append(before)
        before = Record.objects.filter(pk=before).values_list("replaces", flat=True).get()
    return found


def standing_of(record: Record) -> Record:
    """The version of the record that stands, held: a correction under way comes before, or gives on what is added."""
    held: Record = Record.objects.select_for_update(of=("self",)).get(pk=record.pk)
    while later := Record.objects.filter(replaces=held).select_related("project", "area").first():
        held = later
    return held


def _move(by: Person, record: Record, former: Collection[UUID]) -> None:
    photos = Photo.objects.filter(record__in=former).select_for_update(of=("self",)).order_by("pk")
    for photo in photos:
        before = photo.record_id
        photo.came_with_id = photo.came_with_id or before
        photo.record, photo.area = record, record.area
        photo.save(update_fields=["record", "area", "came_with"])
        journal.record(
            "photo.taken_over", photo, by=by, project_id=photo.project_id, before={"record": before},
            after={"record": record.pk}, reason=record.replacement_reason,
        )  # fmt: skip
