"""To which shift a moment of a person's work belongs: the one home of that rule.

It is the crew shift that holds the moment for the person, by its bounds as worked where they are known and else as
planned, and of two the one that began later; where there is none, the shift of the project's clock.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q

from inspection.projects.models import Project
from inspection.works.models import CrewPerson

# As UTC [start, end).
Span = tuple[datetime, datetime]


class Moment(NamedTuple):
    """Something a person did in a project."""

    project: UUID
    person: UUID
    at: datetime


class _Held(NamedTuple):
    """A shift of a crew, and from when to when the person belongs to that crew."""

    start: datetime
    end: datetime
    since: datetime
    until: datetime | None

    def holds(self, at: datetime) -> bool:
        return self.start <= at < self.end and self.since <= at and (self.until is None or at < self.until)


class Shifts:
    """The shifts of people within a stretch of time; asked of the database once, however many moments there are."""

    def __init__(self, projects: Mapping[UUID, Project], moments: Collection[Moment]) -> None:
        self._projects = projects
        self._of_crews: dict[tuple[UUID, UUID], list[_Held]] = defaultdict(list)
        self._last: dict[UUID, Span] = {}
        if moments:
            self._read(moments)

    def _read(self, moments: Collection[Moment]) -> None:
        first, last = min(moment.at for moment in moments), max(moment.at for moment in moments)
        rows = CrewPerson.objects.filter(
            Q(ended_at=None) | Q(ended_at__gt=first),
            crew__project__in={moment.project for moment in moments},
            person__in={moment.person for moment in moments},
            begun_at__lte=last,
            crew__shifts__called_off_at=None,
            crew__shifts__begins_at__lte=last,
            crew__shifts__ends_at__gt=first,
        )
        found = rows.order_by("-crew__shifts__begins_at", "crew__shifts").values_list(
            "crew__project", "person", "crew__shifts__begins_at", "crew__shifts__ends_at", "begun_at", "ended_at"
        )
        for project, person, start, end, since, until in found:
            self._of_crews[project, person].append(_Held(start, end, since, until))

    def of(self, moment: Moment) -> Span:
        for shift in self._of_crews.get((moment.project, moment.person), ()):
            if shift.holds(moment.at):
                return shift.start, shift.end
        return self._of_clock(moment)

    def _of_clock(self, moment: Moment) -> Span:
        """Moments mostly come in order of time, so that one shift of the clock serves the next one too."""
        shift = self._last.get(moment.project)
        if shift is None or not shift[0] <= moment.at < shift[1]:
            shift = self._last[moment.project] = self._projects[moment.project].shift_of(moment.at)
        return shift


def shift_of(person: UUID, project: Project, at: datetime) -> Span:
    """The shift that holds the moment for the person."""
    moment = Moment(project.pk, person, at)
    return Shifts({project.pk: project}, [moment]).of(moment)


def shifts_of(person: UUID, projects: Iterable[Project], at: datetime) -> dict[UUID, Span]:
    """By project id, the shift that holds the moment for the person; in one query."""
    known = {project.pk: project for project in projects}
    moments = [Moment(pk, person, at) for pk in known]
    shifts = Shifts(known, moments)
    return {moment.project: shifts.of(moment) for moment in moments}
