"""Reads of hold points: who sees them, the board, who may decide."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Person, Role
from inspection.holdpoints.awaited import awaited
from inspection.holdpoints.evidence import Evidence, evidence_of_many
from inspection.holdpoints.ground import on_board
from inspection.holdpoints.models import Decision, HoldPoint, PointLetter
from inspection.holdpoints.outcomes import NOTED, SAID, said_by
from inspection.holdpoints.party_letters import letters_at
from inspection.nonconformance.models import Nonconformance, RepairedPart
from inspection.plan.models import Meaning
from inspection.projects.models import InspectionArea, Membership, Party, Project
from inspection.projects.queries import parties_of

# One signature covers no more than can be looked at on one page.
MOST_AT_ONCE = 200


def points_seen_by(person: Person) -> QuerySet[HoldPoint]:
    points: QuerySet[HoldPoint] = HoldPoint.objects.visible_to(person)
    return points


def points_held_by(person: Person, raised: Nonconformance) -> QuerySet[HoldPoint]:
    """The points of its area and coat, of a repaired part of that, and the one over which work went on so that it was
    drawn up."""
    of_place = Q(area=raised.area_id, coat=raised.coat_id) if raised.area_id and raised.coat_id else Q(pk=None)
    within = RepairedPart.objects.in_force().filter(nonconformance=raised.pk).values("part")
    of_part = Q(area__in=within, coat=raised.coat_id) if raised.coat_id else Q(pk=None)
    return points_seen_by(person).filter(of_place | of_part | Q(passed_draft=raised.pk))


def board(
    person: Person, seen: Collection[Project], *, project: UUID | None = None, place: str = "", words: str = "",
    retired: bool = False, first: int = 0, many: int = 50,
) -> tuple[dict[str, int], list[HoldPoint]]:  # fmt: skip
    """How many of the points a person sees lie in each place of the board, and so many of them, from the first on.

    `seen` are the projects that the person sees, and each point comes with its own of them. Points of areas out of use
    are left out, unless they are asked for.
    """
    by_id = {each.pk: each for each in seen}
    points = _of_projects_seen(person, by_id.keys(), project)
    if not retired:
        # Few are: left out by name, the rest is counted along the index of where points lie, without their areas.
        points = points.exclude(area__in=InspectionArea.objects.exclude(retired_at=None))
    counts, found = on_board(_narrowed(points, words), place=place, first=first, many=many)
    for point in found:
        point.project = by_id[point.project_id]
    return counts, found


def _of_projects_seen(person: Person, seen: Collection[UUID], project: UUID | None) -> QuerySet[HoldPoint]:
    """What the person sees, of one project or of all; by the ids of the projects, for the board asks ten times."""
    if project:
        seen = [pk for pk in seen if pk == project]
    elif person.sees_every_project:
        return HoldPoint.objects.all()
    points = points_seen_by(person) if person.is_contractors else HoldPoint.objects.all()
    return points.filter(project__in=seen)


def _narrowed(points: QuerySet[HoldPoint], words: str) -> QuerySet[HoldPoint]:
    if words:
        named = InspectionArea.objects.filter(Q(code__icontains=words) | Q(name__icontains=words))
        points = points.filter(area__in=named)
    return points


def last_decisions(points: Iterable[UUID]) -> dict[UUID, Decision]:
    """The newest decision of each point."""
    rows = Decision.objects.filter(point__in=list(points)).order_by("number").defer("evidence")
    return {row.point_id: row for row in rows}


def holders(point: HoldPoint) -> list[Party]:
    """The parties in force for which the plan's line holds the point; none of a point planned by hand."""
    return _parties(point, Meaning.HOLD)


def parties_asked(point: HoldPoint) -> list[Party]:
    """The parties that hold or witness the point; of one planned by hand, the project's clients."""
    if point.line_id:
        return _parties(point, Meaning.HOLD, Meaning.WITNESS)
    clients = Party.objects.in_force().filter(project=point.project_id, kind=Party.Kind.CLIENT)
    return list(clients.select_related("organisation").order_by("begun_at", "pk"))


def _parties(point: HoldPoint, *meanings: str) -> list[Party]:
    return list({each.party.pk: each.party for each in letters_at(point) if each.meaning in meanings}.values())


def held_before(point: HoldPoint) -> list[HoldPoint]:
    """The hold points before it on its area, of an earlier coat or the bare steel, that nobody has freed yet."""
    if point.coat is None:
        return []
    earlier = Q(coat=None) | Q(coat__order__lt=point.coat.order)
    open_ones = (HoldPoint.State.WAITING, HoldPoint.State.REFUSED)
    held = HoldPoint.objects.filter(earlier, area=point.area_id, kind=HoldPoint.Kind.HOLD, state__in=open_ones)
    return list(held.select_related("area", "coat").order_by("coat__order", "pk"))


def holding_for(person: Person, point: HoldPoint) -> list[Party]:
    """Those of the parties that hold the point for which the person acts."""
    acting = set(parties_of(person, point.project).values_list("pk", flat=True))
    return [party for party in holders(point) if party.pk in acting]


def said_to_take_back(person: Person, point: HoldPoint) -> Decision | None:
    """The refusal or waiver in force that the person may take back: their party's, or of a point by hand the last."""
    said = said_by(point.decisions.select_related("party").order_by("number").defer("evidence"))
    theirs = [party.pk for party in holding_for(person, point)] if point.line_id else [None]
    back = (Decision.Outcome.REFUSED, Decision.Outcome.WAIVED)
    return next((said[party] for party in theirs if party in said and said[party].outcome in back), None)


def may_decide(person: Person, point: HoldPoint) -> bool:
    """Who acts for a party that holds the point by the plan.

    Points planned by hand: hold points are the client's, by a member of the project; witness points a quality manager
    may decide as well.
    """
    if point.line_id:
        return bool(holding_for(person, point))
    if point.kind == HoldPoint.Kind.WITNESS and person.has_role(Role.QUALITY_MANAGER):
        return True
    return person.has_role(Role.CLIENT) and (
        Membership.objects.in_force().filter(project=point.project_id, person=person, role=Role.CLIENT).exists()
    )


def to_decide(
    person: Person, project: Project, outcome: Decision.Outcome = Decision.Outcome.RELEASED
) -> list[Evidence]:
    """The evidence under the first points of the project that wait and are the person's to decide so.

    To be released those that can be, without those whose chain is not met: they are accepted with a reason, and decided
    by themselves. To be refused or waived all that wait.
    """
    points = points_seen_by(person).filter(project=project, area__retired_at=None, state=HoldPoint.State.WAITING)
    if outcome == Decision.Outcome.RELEASED:
        points = points.filter(lies=HoldPoint.Lies.READY)
    mine = list(
        points.filter(_to_be_said(person, project))
        .select_related("project", "area", "coat", "line")
        .order_by("area__code", "coat__order", "kind", "pk")[:MOST_AT_ONCE]
    )
    evidence = evidence_of_many(mine)
    releasing = outcome == Decision.Outcome.RELEASED
    return [evidence[point.pk] for point in mine if not (releasing and evidence[point.pk].to_accept)]


def _to_be_said(person: Person, project: Project) -> Q:
    """The points of one project that wait for the person's word; a witness point by hand is decided too."""
    of_one = Project.objects.filter(pk=project.pk)
    by_hand = awaited(person, Meaning.WITNESS, of_one).filter(line=None)
    return Q(pk__in=awaited(person, Meaning.HOLD, of_one).values("pk")) | Q(pk__in=by_hand.values("pk"))


def attendance_noted_by(person: Person, point: HoldPoint) -> list[Party]:
    """The parties of the point whose attendance the person may note: all for the company's, their own for others."""
    if point.state == HoldPoint.State.CLOSED:
        return []
    asked = parties_asked(point)
    if person.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER):
        return asked
    acting = set(parties_of(person, point.project).values_list("pk", flat=True))
    return [party for party in asked if party.pk in acting]


@dataclass(frozen=True)
class PartyRow:
    """What a party does at a point by the plan, and what it said of it."""

    party: Party
    letter: str
    meaning: str
    said: Decision | None
    # That it was given at this point otherwise than by its line.
    otherwise: PointLetter | None = None


@dataclass(frozen=True)
class Spoken:
    """What the parties that a person decides for said of a waiting point, and for which others it still waits."""

    said: list[PartyRow]
    waits_for: list[Party]


def spoken_for(person: Person, point: HoldPoint, rows: Iterable[PartyRow]) -> Spoken | None:
    """Of the rows of a waiting point; None while one of the parties that the person decides for has still to say."""
    if not point.line_id or point.state != HoldPoint.State.WAITING:
        return None
    said = {row.party.pk: row for row in rows if row.said and row.said.outcome in SAID}
    theirs = [party.pk for party in holding_for(person, point)]
    if not theirs or not all(party in said for party in theirs):
        return None
    others = [party for party in holders(point) if party.pk not in said and party.is_told_to(person)]
    return Spoken([said[party] for party in theirs], others)


def party_rows(person: Person, point: HoldPoint, decisions: Iterable[Decision]) -> list[PartyRow]:
    """Of a point of the plan, each party with its letter and what it last said; nothing of a point planned by hand.

    Only the parties that the person is told of.
    """
    decisions = list(decisions)
    said = {decision.party_id: decision for decision in decisions if decision.outcome in NOTED} | said_by(decisions)
    return [
        PartyRow(
            each.party, each.letter, Meaning(each.meaning).label.split(":")[0], said.get(each.party.pk), each.otherwise
        )
        for each in letters_at(point)
        if each.party.is_told_to(person)
    ]
