"""Storing and opening files of record by digest. What is stored is never changed; reading checks the digest again."""

from __future__ import annotations

import hashlib
import logging
from datetime import datetime
from pathlib import PurePath
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from accounts.models import Person, StoredFile
from inspection.foundation.refusals import OutOfService, Refused
from inspection.foundation.storage import WholeFiles
from inspection.foundation.text import on_one_line

# Where a probe writes; no file of record has such a path.
PROBES = "probes"
# About the size of a report: a store with less room than that takes nothing of use.
PROBE_BYTES = 256 * 1024
log = logging.getLogger(__name__)


def path_of(digest: str) -> str:
    return f"{digest[:2]}/{digest[2:4]}/{digest}"


def store(content: bytes, *, name: str, media_type: str, by: Person | None) -> StoredFile:
    """Keep the content under its SHA-256 and return its row. The same bytes again give the same row.

    Raises OutOfService when the store cannot be written; then nothing is kept of it.
    """
    digest = hashlib.sha256(content).hexdigest()
    try:
        _keep(path_of(digest), content)
    except OSError as fault:
        log.exception("the store of files took nothing")
        raise OutOfService(
            f"The file {name_of(name)} could not be kept: {fault.strerror or 'the store does not answer'}. "
            "Nothing was recorded. Tell whoever runs this site, and send it again later."
        ) from fault
    row, _ = StoredFile.objects.get_or_create(
        digest=digest,
        defaults={"size": len(content), "media_type": media_type, "name": name_of(name), "stored_by": by},
    )
    return row


def name_of(name: str) -> str:
    """The file's own name as it can be shown and sent; evidence is not turned away for what it is called."""
    return on_one_line(PurePath(name).name)[:200] or "unnamed"


def _keep(path: str, content: bytes) -> None:
    """See that exactly these bytes lie at the path. What lies there already is read before it is relied on."""
    if default_storage.exists(path):
        with default_storage.open(path) as handle:
            if handle.read() == content:
                return
        log.error("%s did not hold what its name says and is written again", path)
    default_storage.save(path, ContentFile(content))


def content_of(file: StoredFile) -> bytes:
    """The stored bytes. Raises Refused when they no longer match their digest, or are gone."""
    try:
        with default_storage.open(path_of(file.digest)) as handle:
            content: bytes = handle.read()
    except FileNotFoundError as fault:
        raise Refused(f"The file {file.digest[:12]}… is missing from the store; restore it from the backup.") from fault
    if hashlib.sha256(content).hexdigest() != file.digest:
        raise Refused(f"The file {file.digest[:12]}… no longer matches its digest; restore it from the backup.")
    return content


def probe() -> None:
    """Write a file to the store and take it away again. Raises OSError when the store is full, read-only or away."""
    name = f"{PROBES}/{uuid4().hex}"
    default_storage.save(name, ContentFile(bytes(PROBE_BYTES)))
    default_storage.delete(name)


def clear_leftovers(at: datetime) -> int:
    """Remove what killed processes left half-written in the store; how many there were."""
    if not isinstance(default_storage, WholeFiles):
        return 0
    left = list(default_storage.leftovers(at))
    for path in left:
        path.unlink(missing_ok=True)
    return len(left)
