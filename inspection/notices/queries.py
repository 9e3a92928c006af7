"""Reads of notices. They start from what the person may see."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Window
from django.db.models.functions import RowNumber

from accounts.models import Person
from inspection.holdpoints.matrix import STATES
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outcomes import NOTED
from inspection.notices.choosing import MOST_AREAS
from inspection.notices.models import HeldPlace, Notice, NoticePlace, NoticeStep
from inspection.notices.wording import Of
from inspection.plan.models import PlanLine
from inspection.projects.models import InspectionArea, Party, Project, Section
from inspection.projects.queries import parties_of

State = Notice.State
# What the list can be narrowed to, as addresses name it, in the order of the tabs.
WHEN = {
    "ahead": "To come", "open": "Outcome not told", "held": "Held", "not-held": "Not held or partly",
    "withdrawn": "Withdrawn",
}  # fmt: skip
# So many codes are told of what is inspected under one title.
CODES_TOLD = 5
# What a landing page shows.
DAYS_AHEAD, MOST_AHEAD = 7, 6


def notices_seen(person: Person) -> QuerySet[Notice]:
    seen: QuerySet[Notice] = Notice.objects.visible_to(person)
    return seen.select_related("project", "party__organisation")


def of_tab(at: datetime) -> dict[str, Q]:
    """Which notices each tab holds at this moment."""
    return {
        "ahead": Q(state=State.STANDING, ends_at__gt=at),
        "open": Q(state=State.STANDING, ends_at__lte=at),
        "held": Q(state=State.HELD),
        "not-held": Q(state__in=(State.NOT_HELD, State.PARTLY)),
        "withdrawn": Q(state=State.WITHDRAWN),
    }


def counted(notices: QuerySet[Notice], at: datetime) -> dict[str, int]:
    """How many of the notices each tab holds."""
    names = {name.replace("-", "_"): wanted for name, wanted in of_tab(at).items()}
    found = notices.order_by().aggregate(**{name: Count("pk", filter=wanted) for name, wanted in names.items()})
    return {name.replace("_", "-"): many for name, many in found.items()}


def of_the_tab(notices: QuerySet[Notice], tab: str, at: datetime) -> QuerySet[Notice]:
    """Those to come in their order, all others the latest first."""
    order = ("begins_at", "pk") if tab == "ahead" else ("-begins_at", "-pk")
    return notices.filter(of_tab(at)[tab]).order_by(*order)


def what_of(notices: Iterable[UUID]) -> dict[UUID, list[Of]]:
    """By notice what is inspected where, by title; in two reads however many."""
    pks = list(notices)
    rows = NoticePlace.objects.filter(notice__in=pks).order_by()
    counts = rows.values_list("notice", "title").annotate(Count("area", distinct=True)).order_by("notice", "title")
    order = Window(RowNumber(), partition_by=[F("notice"), F("title")], order_by=["area__code", "pk"])
    first = rows.annotate(place=order).filter(place__lte=CODES_TOLD)
    codes: dict[tuple[UUID, str], list[str]] = defaultdict(list)
    for place in first.select_related("area").order_by("area__code", "pk"):
        codes[place.notice_id, place.title].append(place.area.label)
    found: dict[UUID, list[Of]] = {pk: [] for pk in pks}
    for pk, title, areas in counts:
        found[pk].append(Of(title, areas, tuple(dict.fromkeys(codes[pk, title]))))
    return found


def ahead(person: Person, at: datetime) -> list[Notice]:
    """The notices of the next days that a person sees, the first of them."""
    rows = notices_seen(person).filter(
        state=State.STANDING, ends_at__gt=at, begins_at__lt=at + timedelta(days=DAYS_AHEAD)
    )
    return list(rows.order_by("begins_at", "pk")[:MOST_AHEAD])


# --- one notice -------------------------------------------------------------------------------------------------------


def steps_of(notice: Notice, person: Person) -> list[NoticeStep]:
    """What was said of it, oldest first; a contractor's people are told of no other contractor."""
    steps = NoticeStep.objects.filter(notice=notice).select_related("party__organisation", "notice__project")
    if person.is_contractors:
        others = Q(party__kind=Party.Kind.CONTRACTOR) & ~Q(party__organisation=person.organisation_id)
        steps = steps.exclude(others)
    return list(steps.order_by("number"))


def parties_told(notice: Notice, person: Person) -> list[Party]:
    """The parties it is given to, as far as the person is told of them."""
    seen: QuerySet[Party] = Party.objects.visible_to(person).filter(notices__notice=notice)
    return list(seen.select_related("organisation").order_by("notices__pk"))


@dataclass(frozen=True)
class PartyStand:
    """A party of a notice, with the acknowledgement of its people that stands."""

    party: Party
    acknowledged: NoticeStep | None


def party_stands(parties: Sequence[Party], steps: Iterable[NoticeStep]) -> list[PartyStand]:
    stand: dict[UUID, NoticeStep | None] = {}
    for step in steps:
        if step.what == NoticeStep.What.ACKNOWLEDGED:
            stand[step.party_id] = step
        elif step.what == NoticeStep.What.UNACKNOWLEDGED:
            stand[step.party_id] = None
        elif step.what == NoticeStep.What.MOVED:
            # Another time is another notice to whoever said that they have read of the former one.
            stand.clear()
    return [PartyStand(party, stand.get(party.pk)) for party in parties]


def acknowledging(person: Person, notice: Notice) -> list[Party]:
    """The parties of the notice for which the person acts."""
    theirs = parties_of(person, notice.project).filter(notices__notice=notice)
    return list(theirs.order_by("notices__pk"))


def places_of(notice: Notice, person: Person) -> QuerySet[NoticePlace]:
    """Its places in the order of their codes; a contractor's people see those in their scope."""
    places = NoticePlace.objects.filter(notice=notice)
    if person.is_contractors:
        places = places.filter(area__in=InspectionArea.objects.visible_to(person))
    return places.select_related("area__section", "area__structure", "point").order_by("area__code", "title", "pk")


def attendance_at(points: Iterable[UUID]) -> dict[UUID, list[Decision]]:
    """By point, who came or did not; as it is noted there."""
    found: dict[UUID, list[Decision]] = defaultdict(list)
    rows = Decision.objects.filter(point__in=list(points), outcome__in=NOTED).select_related("party__organisation")
    for row in rows.defer("evidence").order_by("number"):
        found[row.point_id].append(row)
    return found


def held_at(step: NoticeStep) -> set[int]:
    """The places at which it was held, of an outcome that says it was partly."""
    return set(HeldPlace.objects.filter(step=step).values_list("place", flat=True))


def of_point(person: Person, point: HoldPoint) -> list[Notice]:
    """The notices that the person sees of a point, the latest first."""
    return list(notices_seen(person).filter(places__point=point).order_by("-begins_at", "-pk"))


# --- giving one -------------------------------------------------------------------------------------------------------


def waiting_at(
    person: Person, project: Project, lines: Sequence[PlanLine], *, section: Section | None = None, words: str = "",
    state: str = "",
) -> QuerySet[InspectionArea]:  # fmt: skip
    """The areas in use that the person sees and at which a point of one of these lines waits, by their codes.

    With a `state` of the matrix, only those with a point of these lines that is so.
    """
    points = HoldPoint.objects.filter(area=OuterRef("pk"), line__in=list(lines), state=HoldPoint.State.WAITING)
    if state in STATES:
        points = points.filter(STATES[state][1])
    areas: Any = InspectionArea.objects.visible_to(person).in_use().filter(structure__project=project)
    if section:
        areas = areas.within(section)
    if words:
        areas = areas.filter(Q(code__icontains=words) | Q(name__icontains=words))
    found: QuerySet[InspectionArea] = areas.filter(Exists(points)).select_related("section", "structure")
    return found.order_by("code", "pk")


def points_waiting(lines: Sequence[PlanLine], areas: Iterable[InspectionArea]) -> list[HoldPoint]:
    """The points of these lines that wait at these areas."""
    rows = HoldPoint.objects.filter(line__in=list(lines), state=HoldPoint.State.WAITING)
    return list(rows.filter(area__among=[area.pk for area in areas][: MOST_AREAS + 1]).order_by("pk"))


def decided_at(lines: Sequence[PlanLine], areas: Iterable[InspectionArea]) -> list[Of]:
    """The points of these lines that wait no more at these areas, by what is inspected."""
    rows = HoldPoint.objects.filter(line__in=list(lines), area__among=[area.pk for area in areas])
    rows = rows.exclude(state=HoldPoint.State.WAITING).order_by("line__order_key", "area__code")
    found: dict[str, list[str]] = defaultdict(list)
    for title, code in rows.values_list("title", "area__code"):
        found[title].append(code)
    return [Of(title, len(codes), tuple(codes[:CODES_TOLD])) for title, codes in found.items()]


def lines_waiting(lines: Sequence[PlanLine], areas: Iterable[InspectionArea]) -> dict[UUID, set[UUID]]:
    """By area, those of the lines whose point waits there."""
    found: dict[UUID, set[UUID]] = defaultdict(set)
    rows = HoldPoint.objects.filter(line__in=list(lines), area__among=[area.pk for area in areas])
    for area, line in rows.filter(state=HoldPoint.State.WAITING).values_list("area", "line"):
        found[area].add(line)
    return found


def unheld_counts(project: Project) -> list[tuple[str, int]]:
    """Why inspections of the project were not held, and how often each; those whose outcome stands."""
    last = NoticeStep.objects.filter(notice=OuterRef("pk"), what__in=(State.NOT_HELD, State.PARTLY)).order_by("-number")
    rows = Notice.objects.filter(project=project, state__in=(State.NOT_HELD, State.PARTLY))
    found = rows.annotate(because=Subquery(last.values("why")[:1])).order_by().values_list("because")
    words = dict(NoticeStep.Why.choices)
    return [(str(words[why]), many) for why, many in found.annotate(Count("pk")).order_by("because") if why]
