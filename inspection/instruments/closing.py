"""Which records a check is the check after work of, and which it came too early for, told plainly on its page.

Standings are kept by a room above this one, which is reached only through what points here.
"""

from __future__ import annotations

from typing import Any

from accounts.models import Person
from inspection.instruments.models import Verification
from inspection.projects.models import Project

# So many records are named; the rest are counted.
MOST_NAMED = 3
COUNTS = "A check after work counts for readings that ended before it"


def closing_told(check: Verification, person: Person) -> list[str]:
    """Of a check after work what it closes, as the person may see it, and what still waits for another; else nothing.

    Two reads a sentence, of however many records.
    """
    if check.purpose != Verification.Purpose.CLOSING or hasattr(check, "replaced_by"):
        return []
    standings: Any = check.closes.model._default_manager
    seen = standings.filter(record__replaced_by=None, record__project__in=Project.objects.visible_to(person))
    closed = seen.filter(closing=check)
    _, ends = check.project.shift_of(check.taken_at)
    # Of shifts under way at the check, a crew's too: ended after it, and no later check has closed them.
    late = seen.filter(
        record__gauge=check.gauge_id, record__project=check.project_id, closing=None, due_at__gt=check.taken_at,
        record__taken_at__lt=ends, record__ended_at__gt=check.taken_at,
    )  # fmt: skip
    told = [_closes(closed)]
    if waiting := late.count():
        at = f"{check.taken_at.astimezone(check.project.zone):%H:%M:%S}"
        ended = "1 record ended after it and has" if waiting == 1 else f"{waiting} records ended after it and have"
        told.append(
            f"{COUNTS}; this one was made at {at}. {ended} no check after work: {_named(late, waiting, ended=True)}."
        )
    return told


def _closes(closed: Any) -> str:
    many = closed.count()
    if not many:
        return "It closes no record."
    return f"It closes {'1 record' if many == 1 else f'{many} records'}: {_named(closed, many)}."


def _named(standings: Any, many: int, *, ended: bool = False) -> str:
    rows = standings.select_related("record__area", "record__coat", "record__project").order_by("record__ended_at")
    named = []
    for standing in rows[:MOST_NAMED]:
        record = standing.record
        after = f" after {record.coat.name}" if record.coat else ""
        until = f", read until {record.ended_at.astimezone(record.project.zone):%H:%M:%S}" if ended else ""
        named.append(f"{record.area.label}{after}{until}")
    more = f"; and {many - MOST_NAMED} more" if many > MOST_NAMED else ""
    return f"{'; '.join(named)}{more}"
