"""What a report tells of progress: by coat the m² done until the day's end, and what the day added."""

from __future__ import annotations

from datetime import datetime

from inspection.projects.models import Project
from inspection.works.lots.progress import Line, progress_until
from inspection.works.models import Lot
from reports.daily.work_facts import Advance

PARTS = ("claimed_m2", "inspected_m2", "released_m2")


def progress_told(project: Project, begins: datetime, ends: datetime) -> tuple[Advance, ...]:
    """The steps of which something is done, from the steel up; none where nothing is, or nobody records lots.

    Where no lot was begun yet nothing was claimed, and square metres measured beside nought done would read as a fault.
    """
    if not Lot.objects.that_count().filter(project=project, begun_at__lt=ends).exists():
        return ()
    before, then = progress_until(project, (begins, ends))
    found = []
    ordered = sorted(then.items(), key=lambda item: (item[1].coat.order if item[1].coat else 0, item[1].step))
    for pk, line in ordered:
        was = before.get(pk, Line("", line.coat))
        if any(getattr(each, name) for each in (was, line) for name in PARTS):
            done = [(float(getattr(line, name)), float(getattr(line, name) - getattr(was, name))) for name in PARTS]
            found.append(Advance(line.step, float(line.of_m2), *done))
    return tuple(found)
