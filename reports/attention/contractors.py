"""What is asked of a painting contractor's people, and how their areas stand, without what is behind it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet

from accounts.models import Person
from inspection.fieldwork.kinds import kind_of
from inspection.fieldwork.models import Latest, Record
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.queries import nonconformances
from inspection.projects.models import InspectionArea, Project
from inspection.projects.queries import areas_of


def asked_of(person: Person) -> QuerySet[Nonconformance]:
    """Open nonconformances on the areas of their scope, those that nobody of theirs has answered first."""
    answers = Disposition.objects.filter(
        nonconformance=OuterRef("pk"), kind=Disposition.Kind.ANSWER, withdrawn_by=None,
        person__organisation=person.organisation_id,
    )  # fmt: skip
    rows = nonconformances(person, state=Nonconformance.State.OPEN).annotate(answered=Exists(answers))
    return rows.order_by("answered", "-raised_at")


@dataclass
class AreaStand:
    """An area with the state of its points and what must be reworked there."""

    area: InspectionArea
    points: list[HoldPoint] = field(default_factory=list)
    failing: list[tuple[str, Record]] = field(default_factory=list)
    open_ones: list[Nonconformance] = field(default_factory=list)


def areas_of_scope(person: Person, project: Project, words: str) -> QuerySet[InspectionArea]:
    """The areas in use of a project that the person sees, in the order of their codes."""
    return areas_of(project, words).visible_to(person)  # type: ignore[return-value]  # the same class, which the plugin loses


def how_they_stand(person: Person, areas: Sequence[InspectionArea]) -> list[AreaStand]:
    """How each of the areas stands, in three reads however many there are."""
    stands = {area.pk: AreaStand(area) for area in areas}
    points = HoldPoint.objects.filter(area__in=stands).select_related("coat").order_by("coat__order", "kind", "pk")
    for point in points:
        stands[point.area_id].points.append(point)
    for pk, records in _failing(list(stands)).items():
        stands[pk].failing = records
    for row in nonconformances(person, state=Nonconformance.State.OPEN).filter(area__in=stands):
        if row.area_id:
            stands[row.area_id].open_ones.append(row)
    return list(stands.values())


def _failing(areas: list[UUID]) -> dict[UUID, list[tuple[str, Record]]]:
    """What stands now at the areas and does not meet its rule, each with the words of its kind."""
    found: dict[UUID, list[tuple[str, Record]]] = defaultdict(list)
    rows = Latest.objects.filter(area__in=areas, record__verdict=Record.Verdict.FAIL)
    for latest in rows.select_related("record__coat").order_by("record__taken_at"):
        found[latest.area_id].append((kind_of(latest.record).one.capitalize(), latest.record))
    return found
