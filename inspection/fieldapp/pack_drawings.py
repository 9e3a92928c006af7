"""The drawings of a field pack: the revision that stands with its small picture, the areas on it, the notes."""

from __future__ import annotations

import base64
import logging
from typing import Any

from accounts.models import Person
from inspection.drawings import queries
from inspection.drawings.models import DrawingRevision
from inspection.drawings.shown import shown_of
from inspection.fieldapp.told_fields import Told
from inspection.foundation.refusals import Refused
from inspection.projects.models import Project

# All small pictures of a pack together, in bytes: the smallest go first, until no further one fits. Our own measure;
# with it the pack of 2,000 areas stays well below 3 MB.
MOST_PICTURES = 1_000_000
MOST = 1_000
log = logging.getLogger(__name__)


def drawings(person: Person, project: Project) -> Told:
    """In a number of reads that does not grow."""
    seen, places = queries.drawings_revised(person).filter(project=project), queries.places_on(person, project)
    standing = [(each, now) for each in seen if (now := queries.standing(each))]
    pictures = _pictures([now for _, now in standing])
    rows: Any = queries.notes_seen(person).filter(drawing__project=project)
    ids = {now.pk for _, now in standing}
    return {
        "drawings": [
            {"id": each.pk, "revision_id": now.pk, "number": each.number, "title": each.title,
             "revision": now.revision, "width": now.width, "height": now.height, "picture": pictures.get(now.pk),
             "areas": [{"area": area, "x": x, "y": y} for area, x, y in places.get(each.pk, ())]}
            for each, now in standing
        ],
        "drawing_notes": [
            {"id": note.pk, "drawing": note.drawing_id, "number": note.number, "x": note.x, "y": note.y,
             "text": note.text, "area": note.area_id, "at": note.at}
            for note in rows.that_stand().order_by("drawing__number", "number")[:MOST] if note.revision_id in ids
        ],
    }  # fmt: skip


def _pictures(revisions: list[DrawingRevision]) -> dict[Any, str]:
    """By revision its small picture as an address that holds it; of those that do not fit, nothing."""
    found, left = {}, MOST_PICTURES
    for each in sorted(revisions, key=lambda one: (one.small_size, one.pk)):
        left -= each.small_size
        if left < 0:
            break
        if each.small_size and (picture := _picture(each)):
            found[each.pk] = "data:image/webp;base64," + base64.b64encode(picture).decode()
    return found


def _picture(revision: DrawingRevision) -> bytes | None:
    try:
        return shown_of(revision, "small")
    except Refused:
        # The rest of the pack goes all the same; the page of the drawing says what is wrong with its file.
        log.warning("no picture of drawing revision %s", revision.pk)
        return None
