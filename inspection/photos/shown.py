"""What is shown of a photo. Made when it comes, since it is decoded then anyway, and again when it is not there."""

from __future__ import annotations

from typing import Literal

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from accounts import vault
from inspection.foundation.refusals import Refused
from inspection.photos import picture
from inspection.photos.models import Photo
from inspection.photos.picture import Picture

Size = Literal["page", "small"]
# Beside the files of record, not among them: what lies here can be made again.
FOLDER = "shown"
# At this many pixels along the longer side a photo prints at about 260 dots per inch, three beside each other on A4.
PRINTED = 600


def path_of(digest: str, size: Size) -> str:
    return f"{FOLDER}/{digest[:2]}/{digest}-{size}.jpg"


def keep(digest: str, read: Picture) -> None:
    for size, content in (("page", read.page), ("small", read.small)):
        path = path_of(digest, size)  # type: ignore[arg-type]  # the two sizes
        if not default_storage.exists(path):
            default_storage.save(path, ContentFile(content))


def shown_of(photo: Photo, size: Size) -> bytes:
    """The JPEG of the size. Raises Refused where the original is missing or no longer what it was."""
    try:
        with default_storage.open(path_of(photo.file_id, size)) as handle:
            content: bytes = handle.read()
            return content
    except FileNotFoundError:
        original = vault.content_of(photo.file)
        suffix = picture.SUFFIXES[photo.format][0]
        read = picture.read(original, name=f"photo{suffix}", zone=photo.project.zone)
        keep(photo.file_id, read)
        return read.page if size == "page" else read.small


def print_of(digest: str) -> bytes | None:
    """What a report prints of the bytes with this digest; None where they are missing or no longer what they were.

    Made when it is first printed and kept beside what pages show, since a draft is drawn many times.
    """
    path = f"{FOLDER}/{digest[:2]}/{digest}-print.jpg"
    try:
        with default_storage.open(path) as handle:
            kept: bytes = handle.read()
            return kept
    except FileNotFoundError:
        whole = _whole(digest)
    if whole is None:
        return None
    content = picture.smaller(whole, PRINTED)
    if not default_storage.exists(path):
        default_storage.save(path, ContentFile(content))
    return content


def _whole(digest: str) -> bytes | None:
    photo = Photo.objects.filter(file=digest).select_related("file", "project").first()
    try:
        return shown_of(photo, "page") if photo else None
    except Refused:
        return None
