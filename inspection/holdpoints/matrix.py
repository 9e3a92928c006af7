"""The matrix of a project: its inspection areas against the lines of its plan, a window of areas at a time.

How many areas or points there are does not matter to a page: it reads the lines in force, so many areas, and the points
of those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Person
from inspection.holdpoints.departures import letters_given
from inspection.holdpoints.ground import LYING, MARKS, PLACES
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.plan.models import Intervention, PlanLine
from inspection.plan.queries import lines_in_force
from inspection.projects.models import InspectionArea, Project, Section

Lies = HoldPoint.Lies
# What the matrix can be narrowed to: where a point lies, by the names and in the words of the board.
STATES: dict[str, tuple[str, Q]] = {name: (PLACES[name], Q(lies=each)) for name, each in LYING.items()}
# Wherever it lies by now: that work went on over it while it held stays to be told.
STATES["passed_over"] = (PLACES["passed_over"], Q(passed_over_at__isnull=False))
# Of those in doubt: by a link of their chain.
CHAIN = "chain not met since"
STATES["chain"] = (f"{PLACES['doubt']}, {CHAIN}", Q(lies=Lies.DOUBT, chain_broken=True))


class Cell(NamedTuple):
    """One line at one area, by the id of its point; without one the plan is not applied there."""

    line: PlanLine
    point: UUID | None
    words: str
    mark: str
    # Of one that is not applicable, why; of one where a party has another letter than its line gives it, which.
    why: str = ""


@dataclass(frozen=True)
class MatrixRow:
    area: InspectionArea
    cells: tuple[Cell, ...]


def lines_shown(
    project: Project, *, activity: str = "", party: str = "", person: Person | None = None
) -> list[PlanLine]:
    """The columns: lines in force that fall at each area, of one activity or with a letter for one kind of party."""
    lines = lines_in_force(project).prefetch_related(None).filter(scope=PlanLine.Scope.AREA)
    if activity:
        lines = lines.filter(activity=activity)
    if party:
        lines = lines.filter(Exists(Intervention.objects.told_to(person).filter(line=OuterRef("pk"), party_kind=party)))
    return list(lines)


def sections_shown(person: Person, project: Project) -> QuerySet[Section]:
    """What the rows can be narrowed to; the project is one that the person sees."""
    of_project: QuerySet[Section] = _in_scope(person, Section).filter(structure__project=project)
    return of_project.select_related("structure")


def _in_scope(person: Person, model: Any) -> Any:
    """Of a project in sight all are seen, but by a painting contractor's people, who see their own scope."""
    return model.objects.visible_to(person) if person.is_contractors else model.objects.all()


def areas_shown(
    person: Person, project: Project, *, section: Section | None = None, state: str = "", words: str = ""
) -> QuerySet[InspectionArea]:
    """The rows, in the order of their codes; the project is one that the person sees."""
    # By the ids of its structures, so that the rows of one come in the order of their index.
    structures = list(project.structures.values_list("pk", flat=True))
    areas = _in_scope(person, InspectionArea).filter(structure__in=structures, retired_at=None)
    if section:
        areas = areas.within(section)
    if words:
        areas = areas.filter(Q(code__icontains=words) | Q(name__icontains=words))
    if state:
        points = HoldPoint.objects.filter(STATES[state][1], area=OuterRef("pk")).exclude(line=None)
        areas = areas.filter(Exists(points))
    rows: QuerySet[InspectionArea] = areas.order_by("code", "pk")
    return rows


def rows_of(
    areas: Sequence[InspectionArea], lines: Sequence[PlanLine], project: Project, person: Person | None = None
) -> list[MatrixRow]:
    """The cells of these areas: four reads, however many; why one is not applicable, but to a contractor's person."""
    with_why = person is None or not person.is_contractors
    now = carried_on(project, lines)
    points = HoldPoint.objects.filter(area__in=[area.pk for area in areas], line__in=list(now)).order_by()
    found = points.values_list("area", "line", "pk", "lies", "passed_over_at", "chain_broken")
    place, column = {area.pk: n for n, area in enumerate(areas)}, {line.pk: n for n, line in enumerate(lines)}
    columns = {of: column[line] for of, line in now.items()}
    grid: list[list[Any]] = [[None] * len(lines) for _ in areas]
    for area, line, *facts in found:
        grid[place[area]][columns[line]] = facts
    closed: list[UUID] = [facts[0] for row in grid for facts in row if facts and facts[1] == Lies.CLOSED and with_why]
    decisions = Decision.objects.filter(point__in=closed, outcome=Decision.Outcome.CLOSED).order_by("number")
    why = dict(decisions.values_list("point", "reason")) if closed else {}
    why |= letters_given(points, person)
    return [
        MatrixRow(area, tuple(_cell(line, facts, why) for line, facts in zip(lines, row, strict=True)))
        for area, row in zip(areas, grid, strict=True)
    ]


def carried_on(project: Project, lines: Sequence[PlanLine]) -> dict[UUID, UUID]:
    """By line of any revision the line shown that it became, so that what a former one decided stays in its column."""
    if not any(line.carries_on_id for line in lines):
        return {line.pk: line.pk for line in lines}
    before = dict(PlanLine.objects.filter(revision__plan__project=project).values_list("pk", "carries_on"))
    found = {}
    for line in lines:
        each: UUID | None = line.pk
        while each is not None:
            found[each] = line.pk
            each = before.get(each)
    return found


def _cell(line: PlanLine, facts: list[Any] | None, why: dict[UUID, str]) -> Cell:
    """`facts` of the point: its id, where it lies, when it was passed over, whether its chain was broken."""
    if facts is None:
        return Cell(line, None, "–", "plain")
    pk, lies, passed_over_at, broken = facts
    return Cell(line, pk, *_said(lies, passed_over_at is not None, broken), why.get(pk, "") if why else "")


@cache
def _said(lies: int, passed_over: bool, broken: bool) -> tuple[str, str]:
    """The words of a cell and their mark."""
    lie = Lies(lies)
    words = f"{lie.label}, {CHAIN}" if broken and lie == Lies.DOUBT else str(lie.label)
    return f"{words}, passed over" if passed_over and lie != Lies.PASSED_OVER else words, MARKS[lie]
