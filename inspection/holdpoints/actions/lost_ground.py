"""Nonconformances of releases that lost what they stood on, and of those that have it again."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import groupby
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, Subquery
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from inspection.foundation.text import on_one_line
from inspection.holdpoints.ground import latest_of_place
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.actions.raising import LONGEST_TEXT, last_number, tell_moved
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.nonconformance.settling import PlaceKey
from inspection.projects.models import Coat
from inspection.projects.preconditions import in_turn
from inspection.standing.models import Standing


@transaction.atomic
def raise_for_lost_ground(
    by: Person, *, points: Iterable[HoldPoint], because: str, already: Iterable[UUID] = ()
) -> list[Nonconformance]:
    """Raise one for each area and coat whose release has lost what it stood on; one journal entry a project.

    One of the bare steel is raised at the first coat, which stands on it.
    The points come with area and coat loaded. None is raised where one of `already` is still open.
    """
    points = list(points)
    first = _first_coats(points)
    coats = {point.pk: point.coat or first[point.area.system_id] for point in points}
    places = {(point.project_id, point.area_id, coats[point.pk].pk): point for point in points}
    still = Nonconformance.objects.filter(pk__in=list(already), state=Nonconformance.State.OPEN)
    for place in still.values_list("project", "area", "coat"):
        places.pop(place, None)
    raised: list[Nonconformance] = []
    for project_id, of_project in groupby(sorted(places), key=lambda place: place[0]):
        project = in_turn(project_id)
        fallen = [places[place] for place in of_project]
        rows = [
            Nonconformance(
                project=project, number=number, area=point.area, coat=coats[point.pk],
                description=because, raised_by=by,
                title=on_one_line(f"The release of {point.step} on {point.area.label} lost its ground")[:200],
            )
            for number, point in enumerate(fallen, start=last_number(project) + 1)
        ]  # fmt: skip
        raised += Nonconformance.objects.bulk_create(rows)
        tell_moved(rows)
        after = {"numbers": [row.number for row in rows]}
        journal.record("nonconformance.raised", project, by=by, project_id=project.pk, after=after, reason=because)
    return raised


def _first_coats(points: Iterable[HoldPoint]) -> dict[UUID, Coat]:
    """The first coat of each system on whose bare steel one of the points falls."""
    systems = {point.area.system_id for point in points if point.coat is None}
    coats = Coat.objects.filter(system__in=systems).order_by("-order") if systems else ()
    return {coat.system_id: coat for coat in coats}


def close_regained_ground(
    by: Person, *, raised: Iterable[UUID], because: str, but: Collection[PlaceKey] = ()
) -> list[Nonconformance]:
    """Close those of a recall that was taken back, where nobody has begun to rework and the release stands again.

    It does not where it is in doubt, where what stands on the area is in question, or where the place is one of `but`.
    """
    doubted = HoldPoint.objects.filter(area=OuterRef("area"), coat=OuterRef("coat")).exclude(doubted_at=None)
    standing = Subquery(latest_of_place().values("record__standing__state"))
    found = Nonconformance.objects.annotate(standing=standing).filter(
        ~Exists(doubted), Q(standing=None) | ~Q(standing=Standing.State.IN_QUESTION), pk__in=list(raised),
        state=Nonconformance.State.OPEN, repair="",
    )  # fmt: skip
    held_rows = found.select_related("project").select_for_update(of=("self",)).order_by("project", "number")
    rows: list[Nonconformance] = [row for row in held_rows if (row.area_id, row.coat_id) not in but]
    held = Nonconformance.objects.filter(pk__in=[row.pk for row in rows])
    signed = f"{by.name}, {by.organisation}"
    Disposition.objects.bulk_create(
        Disposition(
            nonconformance=row, kind=Disposition.Kind.CLOSURE, text=because[:LONGEST_TEXT], person=by, signed_as=signed
        )
        for row in rows
    )
    held.update(state=Nonconformance.State.CLOSED, repair=because, closed_by=by, closed_at=timezone.now())
    tell_moved(rows)
    for project, closed in groupby(rows, key=lambda row: row.project):
        after = {"numbers": [row.number for row in closed]}
        journal.record("nonconformance.closed", project, by=by, project_id=project.pk, after=after, reason=because)
    return rows
