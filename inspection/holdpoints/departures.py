"""Where at single areas a line of the plan is departed from: it does not apply there, or a party has another letter."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery

from accounts.models import Person
from inspection.holdpoints.models import Decision, HoldPoint, PointLetter
from inspection.plan.models import PlanRevision

# Areas named of a line; of more it is said how many.
MOST_NAMED = 12


def letters_given(points: Sequence[UUID] | QuerySet[HoldPoint], person: Person | None = None) -> dict[UUID, str]:
    """By point the letters that parties were given there, in words; only of parties that the person is told of."""
    found: dict[UUID, list[str]] = defaultdict(list)
    rows = PointLetter.objects.told_to(person).filter(point__in=points, ended_at=None)
    for row in rows.select_related("party__organisation"):
        found[row.point_id].append(_in_words(row))
    return {pk: ", ".join(words) for pk, words in found.items()}


def departures_of(person: Person, revision: PlanRevision) -> dict[UUID, list[str]]:
    """By line of the revision what is otherwise at single areas, a sentence for each way; two reads."""
    found: dict[UUID, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    seen = HoldPoint.objects.visible_to(person).filter(line__revision=revision, area__retired_at=None)
    why = Decision.objects.filter(point=OuterRef("pk"), outcome=Decision.Outcome.CLOSED).order_by("-number")
    closed = seen.filter(state=HoldPoint.State.CLOSED).select_related("area").order_by("area__code")
    for point in closed.annotate(why=Subquery(why.values("reason")[:1])):
        reason = "" if person.is_contractors else f", “{point.why}”"
        found[point.line_id or point.pk][f"Not applicable{reason}"].append(point.area.label)
    given = PointLetter.objects.told_to(person).filter(point__in=seen, ended_at=None).order_by("point__area__code")
    for row in given.select_related("party__organisation", "point__area"):
        found[row.point.line_id or row.pk][_in_words(row)].append(row.point.area.label)
    return {line: [f"{words}: {_named(areas)}" for words, areas in ways.items()] for line, ways in found.items()}


def _in_words(row: PointLetter) -> str:
    return f"{row.letter} {row.party.organisation if row.party else row.get_party_kind_display().lower()}"


def _named(areas: list[str]) -> str:
    named = ", ".join(areas[:MOST_NAMED])
    return f"{named} and {len(areas) - MOST_NAMED} more" if len(areas) > MOST_NAMED else named
