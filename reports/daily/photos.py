"""The photos that a day's report prints: those chosen for it, of the records of the day as they stand."""

from __future__ import annotations

from inspection.photos import subjects
from inspection.photos.models import Photo
from inspection.photos.queries import layers_of
from inspection.projects.models import Project
from reports.daily.facts import DrawnOver, PhotoTold
from reports.daily.parts import Part


def photos_told(project: Project, of: Part) -> tuple[PhotoTold, ...]:
    """In the order they came, in two queries."""
    rows = Photo.objects.that_stand().filter(
        project=project, in_report=True, record__taken_at__gte=of.begins, record__taken_at__lt=of.ends,
        record__replaced_by=None, record__kind__in=of.kinds,
    ).select_related("project", "by", "record__project", "record__area__structure", "record__coat")  # fmt: skip
    found = list(rows.order_by("record__taken_at", "received_at", "pk"))
    drawn = layers_of([photo.pk for photo in found]) if found else {}
    return tuple(
        PhotoTold(
            id=str(photo.pk), record=str(photo.record_id), of=subjects.told(photo), caption=photo.caption,
            taken_at=photo.taken_at, received_at=photo.received_at, by=photo.by_name, digest=photo.file_id,
            shapes=tuple(
                DrawnOver(each["shape"], tuple(each["from"]), tuple(each["to"]) if each["to"] else None, each["text"])
                for each in drawn.get(photo.pk, ())
            ),
        )
        for photo in found
    )  # fmt: skip
