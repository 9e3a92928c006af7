"""Notes on drawings: each against its digest and the journal."""

from __future__ import annotations

from collections.abc import Iterator

from inspection.drawings import noting
from inspection.drawings.models import DrawingNote
from reports.verify.told import disagreements, told_of


def differences() -> Iterator[str]:
    rows = DrawingNote.objects.select_related("drawing", "revision", "area__structure", "by").order_by("pk")
    for batch in told_of(rows, ("drawing_note.written", "drawing_note.corrected")):
        for note, told in batch:
            what = f"note {note.pk} ({note})"
            if noting.digest_of(note.by, note.revision, note, note.replaces_id, note.why) != note.digest:
                yield f"{what}: it does not match its digest"
            stored = {"digest": note.digest, "number": note.number, "text": note.text, "x": note.x, "y": note.y}
            yield from disagreements(what, stored, told)
