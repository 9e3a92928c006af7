"""Crews of the cast's own project, set up by the actions as a quality manager would."""

from __future__ import annotations

from datetime import datetime, timedelta

from accounts.models import Person
from inspection.projects.models import Party
from inspection.works.crews import add_crew, add_people
from inspection.works.models import Crew, Shift
from inspection.works.shifts import plan_shifts
from tests.cast import Cast
from tests.standing.scene import START_OF_DAY, clock


def crew_of(cast: Cast, name: str, *people: Person, since: datetime = START_OF_DAY) -> Crew:
    """A crew of the company, its people from the beginning of the cast's day on."""
    party = Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    crew = add_crew(cast.quinn, project=cast.site.project, party=party, name=name)
    if people:
        add_people(cast.quinn, crew=crew, people=people, begun_at=since)
    return crew


def plan(cast: Cast, crew: Crew, begin: str, end: str) -> Shift:
    """ "18:00" to "06:00" on the cast's day; an end before the beginning is one of the next day."""
    first, last = clock(begin), clock(end)
    [shift] = plan_shifts(cast.quinn, crew=crew, spans=[(first, last + timedelta(days=last <= first))])
    return shift
