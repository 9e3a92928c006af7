"""A file chosen for a form that is not done yet, so that nobody chooses it again: a browser keeps none.

The bytes lie in the store of files, where they would lie once the form is done; which of them somebody may go on with
is written in their session, and so is nobody else's to name.
"""

from __future__ import annotations

from dataclasses import dataclass

from accounts import vault
from accounts.middleware import SignedIn
from accounts.models import StoredFile
from inspection.foundation.attachments import UploadedContent, file_faults, media_type_of
from inspection.foundation.refusals import Refused

IN_SESSION, NAMED = "held_files", "held"
# Of a session; the oldest is forgotten first.
MOST = 10


@dataclass(frozen=True)
class HeldFile:
    digest: str
    name: str


def hold(request: SignedIn, file: UploadedContent) -> HeldFile | None:
    """Hold the file for the session; None for one that could not be attached anyway."""
    if file_faults(file):
        return None
    name = vault.name_of(file.name)
    kept = vault.store(file.content, name=name, media_type=media_type_of(file.content), by=request.user)
    held = {**request.session.get(IN_SESSION, {}), kept.pk: name}
    request.session[IN_SESSION] = dict(list(held.items())[-MOST:])
    return HeldFile(kept.pk, name)


def held_for(request: SignedIn) -> UploadedContent | None:
    """The file that the form names as held, if it is held for whoever sends the form."""
    digest = request.POST.get(NAMED, "")
    name = request.session.get(IN_SESSION, {}).get(digest)
    file = StoredFile.objects.filter(pk=digest).first() if name else None
    if file is None or name is None:
        return None
    try:
        return UploadedContent(name, vault.content_of(file), file.media_type)
    except Refused:
        return None
