"""The photos of the things in an evidence bundle: as they are shown, and what is known of each."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.journal import plain
from accounts.models import Person
from inspection.photos import subjects
from inspection.photos.models import Photo
from inspection.photos.queries import layers_of, photos_seen

# What one comes to as it is shown; generous.
BYTES_A_PHOTO = 400_000


def photos_under(person: Person, ids: Collection[UUID], home: UUID | None) -> QuerySet[Photo]:
    """Those that stand of these things, as far as the person sees them; of a thing of one project, of it alone."""
    of = Q(record__in=ids) | Q(nonconformance__in=ids) | Q(decision__point__in=ids) | Q(verification__in=ids)
    of |= Q(lot__in=ids)
    rows = photos_seen(person).filter(of, withdrawn_at=None)
    return (rows.filter(project_id=home) if home else rows).order_by("received_at", "pk")


def told(photos: Collection[Photo]) -> list[dict[str, Any]]:
    """By id what each is of, by whom and when, the digest of its original, and what stands drawn over it: one query."""
    drawn = layers_of([photo.pk for photo in photos]) if photos else {}
    return [
        {
            "id": str(photo.pk), "file": f"photos/{photo.pk}.jpg", "of": subjects.told(photo),
            "thing": str(subjects.subject_of(photo)[2].pk), "caption": photo.caption, "by": photo.by_name,
            "taken_at": plain(photo.taken_at), "received_at": plain(photo.received_at),
            "sha256_of_original": photo.file_id, "bytes_of_original": photo.file.size, "drawn": drawn.get(photo.pk, []),
        }
        for photo in photos
    ]  # fmt: skip
