"""Reads of photos: those in sight, what is told of one, the layer that stands."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta
from typing import Any, cast
from uuid import UUID

from django.db.models import Model, QuerySet

from accounts.models import Person, Role
from inspection.instruments.models import Verification
from inspection.photos import subjects
from inspection.photos.models import Photo, PhotoLayer

SENDERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR, Role.CLIENT)
KEEPERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
# A declared limit (common practice, no source): a phone's clock is right to well within it.
CLOCK = timedelta(minutes=10)


def photos_seen(person: Person, **narrow: Any) -> QuerySet[Photo]:
    """What the person sees, newest first, with what is told of each."""
    rows = cast("QuerySet[Photo]", Photo.objects.visible_to(person))
    return rows.filter(**narrow).select_related(*subjects.JOINED)


def photos_of(person: Person, thing: Model) -> QuerySet[Photo]:
    """Those of one thing and of its former versions, oldest first, without the withdrawn."""
    kind = subjects.SUBJECTS[subjects.of(thing)]
    rows = Photo.objects.visible_to(person).that_stand().filter(**{f"{kind.column}__in": kind.versions(thing)})
    return rows.select_related("project", "by").order_by("received_at", "pk")


def layer_of(photo: Photo) -> PhotoLayer | None:
    return photo.layers.order_by("-number").first()


def layers_of(photos: Collection[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    """What stands drawn over each, in one query."""
    rows = PhotoLayer.objects.filter(photo__in=set(photos)).order_by("photo", "number")
    return {layer.photo_id: layer.shapes for layer in rows}


def may_add(person: Person, thing: Model) -> bool:
    """Whether the person may send photos of a thing that they see."""
    # Checks of shared instruments are seen beyond one's own projects, where nothing is added.
    return person.has_role(*SENDERS) and (
        not isinstance(thing, Verification)
        or subjects.SUBJECTS["verification"].seen(person).filter(pk=thing.pk).exists()
    )


def may_keep(person: Person, photo: Photo) -> bool:
    """Whether the person may caption, draw over and withdraw it: the company's people, and who sent it."""
    return person.has_role(*KEEPERS) or (photo.by_id == person.pk and person.has_role(*SENDERS))


def told_of(person: Person, photo: Photo) -> list[str]:
    """What is odd about it: a wrong clock, older than its record, the same bytes elsewhere in the person's sight."""
    return [*_clock(photo), *_twice(person, photo)]


def _clock(photo: Photo) -> list[str]:
    zone, told = photo.project.zone, []
    if photo.taken_at and photo.at_once and abs(photo.received_at - photo.taken_at) > CLOCK:
        minutes = round((photo.taken_at - photo.received_at).total_seconds() / 60)
        way = "ahead of" if minutes > 0 else "behind"
        told.append(
            f"The camera's clock was {_long(abs(minutes))} {way} the site's when it was sent at once "
            f"({photo.received_at.astimezone(zone):%Y-%m-%d %H:%M})."
        )
    elif photo.taken_at and photo.taken_at > photo.received_at + CLOCK:
        told.append("By the camera's clock it was taken after it was received here.")
    began = subjects.began(photo)
    if began and photo.taken_at and photo.taken_at < began - CLOCK:
        minutes = round((began - photo.taken_at).total_seconds() / 60)
        told.append(f"It is {_long(minutes)} older than its record, by the camera's clock.")
    return told


def _long(minutes: int) -> str:
    if minutes < 120:
        return f"{minutes} min"
    return f"{round(minutes / 60)} h" if minutes < 2880 else f"{round(minutes / 1440)} days"


def _twice(person: Person, photo: Photo) -> list[str]:
    others = photos_seen(person, file=photo.file_id).exclude(pk=photo.pk).that_stand()  # type: ignore[attr-defined]  # ours
    return [f"The same picture is also kept with {subjects.told(other)}." for other in others.order_by("pk")[:5]]
