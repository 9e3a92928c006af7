"""What is shown of a drawing. Made when it comes, and again when it is not there; the file of record is untouched."""

from __future__ import annotations

from typing import Literal

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from accounts import vault
from inspection.drawings import picture
from inspection.drawings.models import DrawingRevision
from inspection.drawings.picture import Sheet
from inspection.photos.shown import FOLDER

Size = Literal["page", "small"]
SUFFIXES: dict[Size, str] = {"page": "jpg", "small": "webp"}


def path_of(digest: str, page: int, size: Size) -> str:
    return f"{FOLDER}/{digest[:2]}/{digest}-drawing-{page}-{size}.{SUFFIXES[size]}"


def keep(digest: str, page: int, sheet: Sheet) -> None:
    found: dict[Size, bytes] = {"page": sheet.page, "small": sheet.small}
    for size, content in found.items():
        path = path_of(digest, page, size)
        if content and not default_storage.exists(path):
            default_storage.save(path, ContentFile(content))


def shown_of(revision: DrawingRevision, size: Size) -> bytes:
    """The picture of the size. Raises Refused where the original is missing or no longer what it was."""
    try:
        with default_storage.open(path_of(revision.file_id, revision.page, size)) as handle:
            content: bytes = handle.read()
            return content
    except FileNotFoundError:
        original = vault.content_of(revision.file)
        sheet = picture.read(original, name=f"drawing.{revision.format}", page=revision.page)
        keep(revision.file_id, revision.page, sheet)
        return sheet.page if size == "page" else sheet.small
