"""Into which papers a project's day is divided, and which of them tells a thing: the one home of that rule.

A shift is one of the project's clock, from its beginning to that of the next, so a night shift that goes over midnight
belongs to the day on which it began. What happened in its hours is told in its paper, whoever worked then. A discipline
goes by kinds of records. What has neither hour nor discipline is told in the last paper of the day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.kinds import BY_NAME, KINDS
from inspection.foundation.refusals import Refused
from inspection.projects.models import Project
from reports.daily.models import Reporting

OneA = Reporting.OneA


@dataclass(frozen=True)
class Part:
    """What one paper tells of: of its day [day_begins, day_ends) the hours [begins, ends), and of those a discipline.

    Its name is empty where it tells all of the day.
    """

    name: str
    order: int
    one_a: str
    begins: datetime
    ends: datetime
    day_begins: datetime
    day_ends: datetime
    discipline: Discipline | None
    is_last: bool

    def tells(self, discipline: Discipline) -> bool:
        return self.discipline in (None, discipline)

    def tells_kind(self, kind: str) -> bool:
        """Whether it tells records of the kind, that were taken in its hours."""
        return self.tells(BY_NAME[kind].discipline)

    @property
    def kinds(self) -> list[str]:
        """The names of the kinds of records that it tells."""
        return [kind.name for kind in KINDS if self.tells(kind.discipline)]

    def holds(self, at: datetime) -> bool:
        """Whether something of the day that bears this time is told in it; what came after the day, in the last."""
        if not self.day_begins <= at < self.day_ends:
            return self.is_last
        return self.begins <= at < self.ends

    def clock_of(self, project: Project, day: date, clock: time) -> datetime:
        """The moment of the day at which the project's clock shows this."""
        at = project.moment_on(day, clock)
        return at if at >= self.day_begins else project.moment_on(day + timedelta(days=1), clock)


def in_force(rules: Sequence[Reporting], day: date) -> Reporting | None:
    """What holds of a day, of the declarations that stand, oldest first."""
    return next((rule for rule in reversed(rules) if rule.from_day <= day), None)


def rules_of(project: Project) -> list[Reporting]:
    return list(Reporting.objects.that_stand().filter(project=project))


def whole(project: Project, day: date) -> Part:
    """All of the day, as one paper."""
    return _parts(project, day, OneA.DAY, [("", *project.day_bounds(day), None)])[0]


def parts_of(project: Project, day: date, rules: Sequence[Reporting] | None = None) -> list[Part]:
    """The papers of the day in their order; one without a name where nothing else is declared."""
    rule = in_force(rules_of(project) if rules is None else rules, day)
    begins, ends = project.day_bounds(day)
    if rule is not None and rule.one_a == OneA.SHIFT:
        starts = [begins, *(project.moment_on(day, start) for start in project.shift_times[1:]), ends]
        names = rule.shift_names.splitlines()
        called = [names[n] if n < len(names) else f"Shift {n + 1}" for n in range(len(starts) - 1)]
        return _parts(
            project, day, OneA.SHIFT, [(called[n], starts[n], starts[n + 1], None) for n in range(len(called))]
        )
    if rule is not None and rule.one_a == OneA.DISCIPLINE:
        return _parts(project, day, OneA.DISCIPLINE, [(str(each), begins, ends, each) for each in Discipline])
    return [whole(project, day)]


def part_of(project: Project, day: date, name: str) -> Part:
    """The part of that name. Raises Refused where the day is not divided so; without a name it is all of the day."""
    if not name:
        return whole(project, day)
    parts = parts_of(project, day)
    if found := next((part for part in parts if part.name == name), None):
        return found
    raise Refused(f"{project.code} has no paper “{name}” on {day:%Y-%m-%d}; {in_words(parts)}.", field="part")


def in_words(parts: Sequence[Part]) -> str:
    """Into which papers a day is divided, in words."""
    if len(parts) == 1 and not parts[0].name:
        return "the day has one paper"
    return f"the day has {len(parts)} papers: {', '.join(part.name for part in parts)}"


def _parts(
    project: Project, day: date, one_a: str, spans: Sequence[tuple[str, datetime, datetime, Discipline | None]]
) -> list[Part]:
    day_begins, day_ends = project.day_bounds(day)
    return [
        Part(name, order, one_a, begins, ends, day_begins, day_ends, discipline, is_last=order == len(spans) - 1)
        for order, (name, begins, ends, discipline) in enumerate(spans)
    ]
