"""Which checks after work are still to be made, and by when: gauges whose records wait for one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Count, Min, Q

from accounts.models import Person
from inspection.fieldwork.due import Due
from inspection.fieldwork.models import Record
from inspection.instruments.models import Gauge
from inspection.projects.models import Project
from inspection.standing.models import Standing


@dataclass(frozen=True)
class CheckAwaited:
    """One gauge in one project: how many records wait for its check after work, and when that falls due."""

    gauge: Gauge
    project: Project
    records: int
    due: Due


def checks_awaited(person: Person, projects: Iterable[Project], at: datetime) -> list[CheckAwaited]:
    """Of what the person measured, or of gauges in their hands; the one due first on top. Two queries."""
    known = {project.pk: project for project in projects}
    waiting = Standing.objects.filter(state=Standing.State.PROVISIONAL, closing=None)
    seen = Record.objects.current().visible_to(person).filter(project__in=known)
    mine = Q(record__taken_by=person) | Q(record__gauge__holder=person)
    rows = (
        waiting.filter(mine, record__in=seen.order_by().values("pk"))
        .exclude(record__gauge=None)
        .values("record__gauge", "record__project")
        .annotate(many=Count("pk"), due=Min("due_at"))
        .order_by("due", "record__gauge")
    )
    found = [(row["record__gauge"], row["record__project"], row["many"], row["due"]) for row in rows]
    gauges: dict[UUID, Gauge] = Gauge.objects.in_bulk([gauge for gauge, *_ in found])
    return [
        CheckAwaited(gauges[gauge], known[project], many, Due(due, at)) for gauge, project, many, due in found
    ]  # fmt: skip
