"""Points after coats that moved to another revision of their system: undecided ones move along, released ones stay."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.dispatch import receiver

from accounts import journal
from accounts.models import Person
from inspection.holdpoints.actions.keeping import keep_places, look_again_at_broken
from inspection.holdpoints.actions.points import decide, locked_point
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.projects.breakdown import Change
from inspection.projects.models import InspectionArea, Project
from inspection.projects.signals import area_touched, coats_judged, coats_moved
from inspection.projects.steps import Judged, Move

UNDECIDED = (HoldPoint.State.WAITING, HoldPoint.State.REFUSED)


@receiver(area_touched, dispatch_uid="holdpoints.revised")
def points_of_coats(
    sender: Any, by: Person, areas: Sequence[InspectionArea], change: Change,
    stay: Collection[tuple[UUID, UUID]] = (), **sent: Any,
) -> list[str]:  # fmt: skip
    if change != Change.REVISED:
        return []
    rows = HoldPoint.objects.filter(area__in=areas, coat__isnull=False, state__in=UNDECIDED)
    moving = sum(pair not in stay for pair in rows.values_list("area", "coat"))
    rest = HoldPoint.objects.filter(area__in=areas).exclude(state=HoldPoint.State.CLOSED).count() - moving
    told = [f"{_points(moving)} not released, after coats that move, {_verb(moving, 'move')} along."] if moving else []
    return told + ([f"{_points(rest)} {_verb(rest, 'stay')} as planned and decided."] if rest else [])


def _points(many: int) -> str:
    return "1 point" if many == 1 else f"{many} points"


def _verb(many: int, verb: str) -> str:
    return f"{verb}s" if many == 1 else verb


@receiver(coats_judged, dispatch_uid="holdpoints")
def released_there(sender: Any, coats: Sequence[UUID], **sent: Any) -> Judged:
    """A coat after which a point was released was judged; one with any decision on a point is begun."""
    points = HoldPoint.objects.filter(coat__in=coats)
    released = points.filter(state__in=(HoldPoint.State.RELEASED, HoldPoint.State.WAIVED))
    decided = (Decision.Outcome.RELEASED, Decision.Outcome.REFUSED, Decision.Outcome.WAIVED)
    begun = points.filter(
        Exists(Decision.objects.filter(point=OuterRef("pk"), outcome__in=decided)), state__in=UNDECIDED
    )
    return Judged(set(released.values_list("area", "coat")), set(begun.values_list("area", "coat")))


@receiver(coats_moved, dispatch_uid="holdpoints")
def follow_coats(sender: Any, by: Person, project: Project, moves: Sequence[Move], because: str, **sent: Any) -> None:
    """Let undecided points move to the coat that takes the place of theirs; close those of a step that is none now.

    Points of a retired area that were closed with it move too, so that they wait after that coat when it comes back.
    """
    moved: list[UUID] = []
    for move in moves:
        points = _to_move(move)
        if move.to is None:
            for point in points.filter(state__in=UNDECIDED):
                held = locked_point(point)
                if held.state in UNDECIDED:
                    decide(by, held, Decision.Outcome.CLOSED, evidence_of(held), reason=because)
            continue
        # Planned by hand there is one of a kind after a coat; of lines there may be several.
        there = HoldPoint.objects.filter(area=OuterRef("area"), coat=move.to, kind=OuterRef("kind"), line=None)
        pks = list(
            points.exclude(Exists(there), line=None).select_for_update(of=("self",)).values_list("pk", flat=True)
        )
        _move(pks, move)
        moved += pks
    keep_places(HoldPoint.objects.filter(pk__among=moved))
    areas = {area for move in moves for area in move.areas}
    look_again_at_broken(HoldPoint.objects.filter(area__among=list(areas)), by=by, because=because)
    if moved:
        coats = {f"{move.coat} of {move.coat.system}": f"{move.to} of {move.to.system}" for move in moves if move.to}
        journal.record(
            "holdpoint.coats_moved", project, by=by, project_id=project.pk, reason=because,
            after={"points": moved, "coats": coats},
        )  # fmt: skip


def _to_move(move: Move) -> QuerySet[HoldPoint]:
    closed_with_it = Q(state=HoldPoint.State.CLOSED, area__retired_at__isnull=False)
    points = HoldPoint.objects.filter(area__among=list(move.areas), coat=move.coat).order_by("pk")
    found: QuerySet[HoldPoint] = points.filter(Q(state__in=UNDECIDED) | closed_with_it)
    return found


def _move(pks: Sequence[UUID], move: Move) -> None:
    HoldPoint.objects.filter(pk__among=pks).update(coat=move.to)
    after_the_coat = Requirement.objects.filter(point__among=pks, coat=move.coat)
    again = [
        Requirement(point_id=row.point_id, kind=row.kind, coat=move.to, how_many=row.how_many, fresh_for=row.fresh_for)
        for row in after_the_coat
    ]
    after_the_coat.delete()
    Requirement.objects.bulk_create(again, batch_size=1_000)
