"""What points keep of the facts under them, as evidence changes, and who is told of a release that lost its ground."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from accounts import journal, tidings
from accounts.models import Person, Role
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import Record
from inspection.holdpoints.actions.letters import members_asked, tell_of_ready
from inspection.holdpoints.chain.since import broken
from inspection.holdpoints.ground import (
    IN_DOUBT,
    further_kept_otherwise,
    lies_otherwise,
    required,
    run_out,
    with_ground,
)
from inspection.holdpoints.models import Decision, HoldPoint, Requirement
from inspection.holdpoints.outcomes import said_by
from inspection.plan.models import Meaning
from inspection.projects.models import Project, StationArea
from inspection.projects.queries import who_sees
from inspection.standing.actions import LONGEST_SHIFT
from inspection.standing.queries import batches

# Where points lie whose evidence is complete and of which nothing has been said.
COMPLETE = (HoldPoint.Lies.READY, HoldPoint.Lies.PASSED)
# So many chains are told at once.
AT_ONCE = 500


@transaction.atomic
def follow_evidence(
    *,
    by: Person | None,
    records: Iterable[UUID] = (),
    gauges: Iterable[UUID] = (),
    since: datetime | None = None,
    climate: Iterable[UUID] = (),
    areas: Collection[UUID] = (),
    because: str = "",
    at: datetime | None = None,
) -> set[UUID]:
    """Mark the released points whose evidence no longer holds, write to those who released them, unmark the mended.

    Each falling into doubt is told once; a point already in doubt is not told of again. Returns the ids of the people
    who were written to.
    """
    at = at or timezone.now()
    measured = Q(gauge__in=list(gauges))
    if since is not None:
        measured &= Q(taken_at__gte=since - LONGEST_SHIFT)
    climate = list(climate)
    on_area = Record.objects.filter(measured | Q(pk__in=[*records, *climate]), area=OuterRef("area"))
    of_coat = on_area.filter(Q(coat=OuterRef("coat")) | Q(coat=None))
    # What is required on the bare steel may be recorded for the first coat; and of a release the chain names records
    # of the coats below.
    any_coat = Q(coat=None) | Q(state=HoldPoint.State.RELEASED)
    touched: Any = Exists(of_coat) | (any_coat & Exists(on_area))
    if climate:
        at_stations = StationArea.objects.filter(area=OuterRef("area"))
        of_coat_there = Q(station__readings__coat=OuterRef("coat")) | Q(station__readings__coat=None)
        read = Q(station__readings__in=climate)
        touched = touched | Exists(at_stations.filter(read, of_coat_there))
        touched = touched | (Q(coat=None) & Exists(at_stations.filter(read)))
    # What is measured on a repaired part speaks for its area too.
    parts = Record.objects.filter(measured | Q(pk__in=[*records, *climate]), area__repair_of__isnull=False)
    wholes = parts.order_by().values_list("area__repair_of", flat=True).distinct()
    areas = {*areas, *(whole for whole in wholes if whole)}
    if areas:
        touched = touched | Q(area__in=areas)
    points = HoldPoint.objects.filter(touched)
    return _put_doubts_right(points, by=by, because=because, at=at)[1]


@transaction.atomic
def put_doubts_right(*, because: str, at: datetime | None = None) -> int:
    """As above for every point that is marked otherwise than its evidence says; how many there were."""
    return _put_doubts_right(HoldPoint.objects.all(), by=None, because=because, at=at or timezone.now())[0]


def require_further(points: Sequence[HoldPoint], kinds: Iterable[str]) -> None:
    """Let points just planned require records of these kinds beside their measurement."""
    rows = [
        Requirement(point=point, kind=name, coat_id=point.coat_id if BY_NAME[name].of_coat else None)
        for point in points
        for name in dict.fromkeys(kinds)
    ]
    if rows:
        Requirement.objects.bulk_create(rows)
        keep_further(HoldPoint.objects.filter(pk__in=[point.pk for point in points]))


def keep_further(points: QuerySet[HoldPoint]) -> None:
    """Let what the points keep of their requirements follow what those say now.

    They are held first: what somebody else stores at the same moment is then seen by whoever comes second.
    """
    requiring = points.filter(Exists(Requirement.objects.filter(point=OuterRef("pk")))).order_by("pk")
    if not list(requiring.select_for_update(of=("self",)).values_list("pk")):
        return
    said: dict[str, list[UUID]] = defaultdict(list)
    for pk, state in further_kept_otherwise(points).order_by().values_list("pk", "said"):
        said[state].append(pk)
    for state, pks in said.items():
        HoldPoint.objects.filter(pk__in=pks).update(further=state)


@transaction.atomic
def keep_places(points: QuerySet[HoldPoint], *, tells: bool = True, chains: bool = False) -> list[UUID]:
    """Let where the points are kept as lying on the board follow what the facts say now; the ids of all of them.

    With `chains` what they keep of the chains under their releases as well, where that may have changed.
    They are held first: what somebody else stores at the same moment is then seen by whoever comes second.
    """
    held = list(points.select_for_update(of=("self",)).order_by("pk").values_list("pk", flat=True))
    if not held:
        return []
    points = HoldPoint.objects.filter(pk__among=held)
    keep_further(points)
    if chains:
        _keep_chains(points)
    said: dict[int, list[UUID]] = defaultdict(list)
    for pk, place in lies_otherwise(points).order_by().values_list("pk", "said"):
        said[place].append(pk)
    for place, pks in said.items():
        HoldPoint.objects.filter(pk__among=pks).update(lies=place)
    ready = said[HoldPoint.Lies.READY] + said[HoldPoint.Lies.PASSED]
    if ready and tells:
        tell_of_ready(ready)
    return held


def chains_kept_otherwise(points: QuerySet[HoldPoint]) -> Iterator[tuple[HoldPoint, bool]]:
    """Those of the points that keep of their chain otherwise than it says now, with what it says."""
    pks = list(points.filter(state=HoldPoint.State.RELEASED).order_by("pk").values_list("pk", flat=True))
    for some in batches(pks, AT_ONCE):
        rows = HoldPoint.objects.filter(pk__among=list(some)).order_by("pk")
        now = broken(rows)
        for point in rows:
            if point.chain_broken != (point.pk in now):
                yield point, point.pk in now


def _keep_chains(points: QuerySet[HoldPoint]) -> None:
    found: dict[bool, list[UUID]] = defaultdict(list)
    for point, is_broken in chains_kept_otherwise(points):
        found[is_broken].append(point.pk)
    for is_broken, pks in found.items():
        HoldPoint.objects.filter(pk__among=pks).update(chain_broken=is_broken)


def look_again_at_broken(points: QuerySet[HoldPoint], *, by: Person, because: str) -> None:
    """Where something may be asked for no longer: releases in doubt by it alone stand again."""
    _put_doubts_right(points.filter(chain_broken=True), by=by, because=because, at=timezone.now())


@transaction.atomic
def sweep_run_out(at: datetime | None = None) -> int:
    """Let points whose evidence has grown older than their line lets it be no longer lie as ready; how many did."""
    old = required().filter(run_out(at or timezone.now()), point__lies__in=COMPLETE)
    points = HoldPoint.objects.filter(pk__in=list(old.order_by().values_list("point", flat=True)))
    many = len(points)
    keep_places(points)
    return many


def _put_doubts_right(
    points: QuerySet[HoldPoint], *, by: Person | None, because: str, at: datetime
) -> tuple[int, set[UUID]]:
    """How many points were marked or unmarked, and the ids of the people who were written to."""
    held = keep_places(points, chains=True)
    released = HoldPoint.objects.filter(pk__among=held, state=HoldPoint.State.RELEASED)
    marked = dict(released.values_list("pk", "doubted_at"))
    doubted = {pk for pk, since in marked.items() if since is not None}
    fallen = _found_so(marked.keys() - doubted, IN_DOUBT)
    HoldPoint.objects.filter(pk__in=[point.pk for point in fallen]).update(doubted_at=at)
    mended = _found_so(doubted, ~IN_DOUBT)
    HoldPoint.objects.filter(pk__in=[point.pk for point in mended]).update(doubted_at=None)
    _journal("holdpoint.doubted", fallen, by=by, because=because, at=at)
    _journal("holdpoint.mended", mended, by=by, because=because, at=at)
    return len(fallen) + len(mended), _write_to_those_who_released(fallen, because=because, at=at)


def _found_so(pks: Collection[UUID], what: Q) -> list[HoldPoint]:
    """Those of the points of which it is true now, held; without points nothing is asked, for it takes long to plan."""
    if not pks:
        return []
    points = with_ground(HoldPoint.objects.filter(pk__among=list(pks))).select_related("project", "area", "coat")
    return list(points.filter(what).order_by("pk").select_for_update(of=("self",)))


def _journal(verb: str, points: list[HoldPoint], *, by: Person | None, because: str, at: datetime) -> None:
    by_project: dict[Project, list[HoldPoint]] = defaultdict(list)
    for point in points:
        by_project[point.project].append(point)
    for project, found in by_project.items():
        journal.record(
            verb, project, by=by, project_id=project.pk,
            after={"points": {str(point.pk): f"{point.area.label}, {point.title}" for point in found}},
            reason=because, at=at,
        )  # fmt: skip


def _write_to_those_who_released(points: list[HoldPoint], *, because: str, at: datetime) -> set[UUID]:
    """To whoever released, and to all who act for the parties that hold them; why, but to a contractor's people."""
    if not points:
        return set()
    who = _released_by(points)
    seen = who_sees(
        {person.pk for of_point in who.values() for person in of_point}, {point.project_id for point in points}
    )
    holding = members_asked([point for point in points if point.line_id], Meaning.HOLD)
    by_person: dict[tuple[Person, Project], list[HoldPoint]] = defaultdict(list)
    narrow = set()
    for point in points:
        members = holding.get(point.pk, [])
        narrow |= {member.person for member in members if member.role == Role.CONTRACTOR}
        people = [person for person in who[point.pk] if (person.pk, point.project_id) in seen]
        for person in dict.fromkeys([*people, *(member.person for member in members)]):
            by_person[person, point.project].append(point)
    for (person, project), found in by_person.items():
        lines = "\n".join(
            f"- {point.project.code}, {point}: {settings.SITE_URL}{reverse('point', args=[point.pk])}"
            for point in found
        )
        one = len(found) == 1
        many, on = ("A released point is", "it was") if one else (f"{len(found)} released points are", "they were")
        if all(person in who[point.pk] for point in found):
            many = "A point you released is" if one else f"{len(found)} points you released are"
        why = "" if person in narrow else f"\n\n{because}"
        tidings.tell(
            "released-in-doubt",
            f"{at.isoformat()} {found[0].pk}",
            to=person,
            project=project.pk,
            subject=f"{many} in doubt",
            body=f"{many} in doubt: what {on} released on no longer holds.{why}\n\n{lines}\n",
        )
    return {person.pk for person, _ in by_person}


def _released_by(points: Iterable[HoldPoint]) -> dict[UUID, list[Person]]:
    """By point, those whose release it stands on: of each party that released it, or whoever did of one by hand."""
    made: dict[UUID, list[Decision]] = defaultdict(list)
    decisions = Decision.objects.filter(point__in=points).order_by("number")
    for decision in decisions.select_related("person").defer("evidence"):
        made[decision.point_id].append(decision)
    released = Decision.Outcome.RELEASED
    return {
        point.pk: list(
            dict.fromkeys(said.person for said in said_by(made[point.pk]).values() if said.outcome == released)
        )
        for point in points
    }
