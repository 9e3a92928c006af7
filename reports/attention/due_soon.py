"""What falls due within a shift, told before it does: a check after work, a reading at a climate station.

On the page Today it is shown; here it is a letter, in the way each person chose, and the person's calendar.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import Count, Max, Min, Q
from django.urls import reverse
from django.utils import timezone

from accounts import tidings
from accounts.models import Person
from accounts.signals import projects_seen
from inspection.fieldwork.due import SOON
from inspection.fieldwork.models import ClimateRecord
from inspection.projects.models import Project, Station
from inspection.standing.models import Standing
from inspection.works.belonging import shift_of

KIND = "due-soon"
# No reading counts longer, and no shift lasts so long: what was read before is of another day's work.
LONGEST = timedelta(hours=24)


@dataclass(frozen=True)
class DueThing:
    """One thing that falls due for one person: what, in which project, by when, and the page on which it is done."""

    name: str
    person: Person
    project: Project
    at: datetime
    words: str
    why: str
    path: str

    @property
    def by(self) -> str:
        return f"{self.at.astimezone(self.project.zone):%H:%M}"


def due_between(since: datetime, until: datetime, person: Person | None = None) -> list[DueThing]:
    """What falls due after one moment and until another, of everybody or of one person; the soonest first.

    Without what is of people who have left, or of projects that they do not see any more.
    """
    found = [*_checks(since, until, person), *_readings(since, until, person)]
    of_people: dict[Person, set[UUID]] = defaultdict(set)
    for each in found:
        of_people[each.person].add(each.project.pk)
    seen = {who: projects_seen(who, projects) for who, projects in of_people.items() if who.is_active}
    theirs = [each for each in found if each.project.pk in seen.get(each.person, ())]
    return sorted(theirs, key=lambda each: (each.at, each.name))


def _checks(since: datetime, until: datetime, person: Person | None) -> Iterator[DueThing]:
    """For whoever measured, gauges whose records wait for the check after work."""
    whose = Q(record__taken_by=person) if person else Q()
    rows = (
        Standing.objects.filter(
            whose, state=Standing.State.PROVISIONAL, closing=None, due_at__gt=since, due_at__lte=until,
            record__replaced_by=None, record__gauge__isnull=False, record__project__closed_at=None,
        )
        .values("record__gauge", "record__gauge__identity", "record__project", "record__taken_by")
        .annotate(many=Count("pk"), due=Min("due_at"))
        .order_by("due", "record__gauge")
    )  # fmt: skip
    found = list(rows)
    people = Person.objects.in_bulk([row["record__taken_by"] for row in found])
    projects = Project.objects.in_bulk([row["record__project"] for row in found])
    for row in found:
        gauge, project, many = row["record__gauge"], projects[row["record__project"]], row["many"]
        yield DueThing(
            f"check-{gauge}-{project.pk}", people[row["record__taken_by"]], project, row["due"],
            f"Check {row['record__gauge__identity']} after work",
            f"{many} record{'s wait' if many > 1 else ' waits'} for it, and without it will be in question.",
            f"{reverse('verification_new')}?gauge={gauge}&project={project.pk}&purpose=closing",
        )  # fmt: skip


def _readings(since: datetime, until: datetime, person: Person | None) -> Iterator[DueThing]:
    """For whoever read a station last, the next reading, where it falls due before their shift ends."""
    counting = Q(readings__replaced_by=None, readings__taken_at__gt=since - LONGEST)
    read = Station.objects.filter(ended_at=None, project__closed_at=None).order_by()
    read = read.annotate(last=Max("readings__taken_at", filter=counting)).exclude(last=None)
    wanted = {
        station.pk: station
        for station in read.select_related("project")
        if since < station.last + station.holds_for <= until
    }
    whose = {"taken_by": person} if person else {}
    newest = ClimateRecord.objects.filter(station__in=wanted, **whose).current().select_related("taken_by")
    told: dict[Any, ClimateRecord] = {}
    for row in newest.filter(taken_at__gt=since - LONGEST).order_by("taken_at") if wanted else ():
        told[row.station_id] = row
    for pk, row in told.items():
        station: Any = wanted[pk]
        due = station.last + station.holds_for
        if row.taken_at == station.last and due < shift_of(row.taken_by_id, station.project, row.taken_at)[1]:
            yield DueThing(
                f"reading-{pk}", row.taken_by, station.project, due, f"Read {station.code} again",
                "After that its last reading no longer counts.", reverse("station_read", args=[pk]),
            )  # fmt: skip


def tell_due_soon(at: datetime | None = None) -> int:
    """Tell each person what falls due within the next half hour, each thing once; how many are new."""
    at = at or timezone.now()
    news = []
    for each in due_between(at, at + SOON):
        subject = f"{each.project.code}: {each.words} by {each.by}"
        body = (
            f"{each.words} by {each.by} ({each.project.time_zone}), {each.project}.\n{each.why}\n\n"
            f"{settings.SITE_URL}{each.path}\n"
        )
        about = f"{each.name}:{each.at:%Y-%m-%dT%H:%M}"
        news.append(tidings.News(about, each.person, each.project.pk, subject, body))
    return tidings.tell_all(KIND, news) if news else 0
