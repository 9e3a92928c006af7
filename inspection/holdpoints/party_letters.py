"""Which letter each party has at a point: what was given at that point, where anything was; else what its line says.

`has_letter` says the same in SQL, for many points at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from inspection.holdpoints.models import HoldPoint, PointLetter
from inspection.plan.models import Intervention
from inspection.projects.models import Party


@dataclass(frozen=True)
class PartyLetter:
    party: Party
    letter: str
    meaning: str
    # That it was given at the point otherwise than by the line, and why.
    otherwise: PointLetter | None = None


def letters_at(point: HoldPoint) -> list[PartyLetter]:
    """Of a point of the plan each party in force with its letters; nothing of a point planned by hand."""
    return letters_of([point])[point.pk]


def letters_of(points: Collection[HoldPoint]) -> dict[UUID, list[PartyLetter]]:
    """The same of many points, in three reads."""
    lines = {point.line_id for point in points if point.line_id}
    if not lines:
        return {point.pk: [] for point in points}
    parties: dict[tuple[UUID, str], list[Party]] = defaultdict(list)
    rows = Party.objects.in_force().filter(project__in={point.project_id for point in points})
    for party in rows.select_related("organisation").order_by("kind", "begun_at", "pk"):
        parties[party.project_id, party.kind].append(party)
    by_line: dict[UUID, list[Intervention]] = defaultdict(list)
    for row in Intervention.objects.filter(line__in=lines).order_by("pk"):
        by_line[row.line_id].append(row)
    given: dict[UUID, list[PointLetter]] = defaultdict(list)
    among = PointLetter.objects.filter(point__among=[point.pk for point in points], ended_at=None)
    for letter in among.order_by("given_at", "pk"):
        given[letter.point_id].append(letter)
    found = {}
    for point in points:
        here = [
            PartyLetter(party, row.letter, row.meaning, row)
            for row in given[point.pk]
            for party in parties[point.project_id, row.party_kind]
            if row.party_id in (None, party.pk)
        ]
        otherwise = {each.party.pk for each in here}
        usual = [
            PartyLetter(party, row.letter, row.meaning)
            for row in (by_line[point.line_id] if point.line_id else ())
            for party in parties[point.project_id, row.party_kind]
            if row.party_id in (None, party.pk) and party.pk not in otherwise
        ]
        found[point.pk] = usual + here
    return found


def has_letter(*meanings: str) -> Q:
    """Of parties within a query of points: those that have a letter of such a meaning at the outer point."""
    theirs = Q(party=OuterRef("pk")) | Q(party=None)
    kind: dict[str, Any] = {"party_kind": OuterRef("kind")}
    given: QuerySet[Any] = PointLetter.objects.filter(theirs, point=OuterRef(OuterRef("pk")), ended_at=None, **kind)
    by_line = Intervention.objects.filter(theirs, line=OuterRef(OuterRef("line")), meaning__in=meanings, **kind)
    return Q(Exists(given.filter(meaning__in=meanings))) | (~Q(Exists(given)) & Q(Exists(by_line)))
