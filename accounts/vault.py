"""Storing and opening files of record by digest. What is stored is never changed; reading checks the digest again."""

from __future__ import annotations

import hashlib
from pathlib import PurePath

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from accounts.models import Person, StoredFile
from accounts.refusals import Refused


def path_of(digest: str) -> str:
    return f"{digest[:2]}/{digest[2:4]}/{digest}"


def store(content: bytes, *, name: str, media_type: str, by: Person | None) -> StoredFile:
    """Keep the content under its SHA-256 and return its row. The same bytes again give the same row."""
    digest = hashlib.sha256(content).hexdigest()
    if not default_storage.exists(path_of(digest)):
        default_storage.save(path_of(digest), ContentFile(content))
    row, _ = StoredFile.objects.get_or_create(
        digest=digest,
        defaults={"size": len(content), "media_type": media_type, "name": PurePath(name).name[:200], "stored_by": by},
    )
    return row


def content_of(file: StoredFile) -> bytes:
    """The stored bytes. Raises Refused when they no longer match their digest, or are gone."""
    try:
        with default_storage.open(path_of(file.digest)) as handle:
            content: bytes = handle.read()
    except FileNotFoundError as fault:
        raise Refused(f"The file {file.name} is missing from the store; restore it from the backup.") from fault
    if hashlib.sha256(content).hexdigest() != file.digest:
        raise Refused(
            f"The file {file.name} no longer matches its digest {file.digest[:12]}…; restore it from the backup."
        )
    return content
