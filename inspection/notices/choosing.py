"""Which points a notice is given of, and which parties they concern."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence

from inspection.foundation.refusals import Fault, Refused
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.party_letters import letters_of
from inspection.plan.calendar import NOTIFIED, Asked, lead_asked, lead_times_of
from inspection.plan.models import Meaning, PlanLine
from inspection.plan.queries import lines_in_force
from inspection.projects.breakdown import retired_words
from inspection.projects.models import InspectionArea, Party, Project

MOST_AREAS = 2_000
# So many faults are told one by one.
MOST_TOLD = 20
# By party, what it is asked to come to: the line (None of a point planned by hand) and the meaning of its letter.
Concerned = dict[Party, set[tuple[PlanLine | None, str]]]


def lines_notified(project: Project) -> list[PlanLine]:
    """The lines in force that fall at each area and that some party holds or witnesses."""
    lines = lines_in_force(project).filter(scope=PlanLine.Scope.AREA)
    return [line for line in lines if any(each.meaning in NOTIFIED for each in line.interventions.all())]


def points_at(project: Project, lines: Sequence[PlanLine], areas: Sequence[InspectionArea]) -> list[HoldPoint]:
    """The point of each of the lines at each of the areas. Raises Refused where one is missing."""
    in_force = {line.pk: line for line in lines_notified(project)}
    faults = [
        Fault(f"Line {line.number} {line.title} is not in force in {project.code}, or nobody comes to it.", "lines")
        for line in lines
        if line.pk not in in_force
    ]  # fmt: skip
    faults += [
        Fault(f"Area {area.label} belongs to another project than {project.code}.", "areas", row)
        for row, area in enumerate(areas, start=1)
        if area.structure.project_id != project.pk
    ]
    if not lines:
        faults.append(Fault("Choose at least one line of the plan.", "lines"))
    if not 0 < len(areas) <= MOST_AREAS:
        faults.append(Fault(f"Choose 1 to {MOST_AREAS:,} areas at once.", "areas"))
    if faults:
        raise Refused(faults)
    found, area_of = {}, {area.pk: area for area in areas}
    for line in [in_force[line.pk] for line in lines]:
        for point in line.points.filter(area__among=list(area_of)).order_by("pk"):
            # At hand, and read for none of thousands of points.
            point.area, point.line = area_of[point.area_id], line
            found[point.area_id, line.pk] = point
    missing = [
        Fault(f"Line {line.number} has no point at {area.label} that waits: apply the plan there first.", "areas", row)
        for row, area in enumerate(areas, start=1)
        for line in lines
        if (area.pk, line.pk) not in found and not area.retired_at
    ]
    retired = [
        Fault(f"{retired_words(area)} Nothing is inspected there any more.", "areas", row)
        for row, area in enumerate(areas, start=1)
        if area.retired_at
    ]
    if faults := retired + missing:
        raise Refused(_shortened(faults))
    return list(found.values())


def refuse_decided(points: Iterable[HoldPoint], field: str) -> None:
    """Raise Refused for points on which notice makes no sense any more, naming each."""
    faults = []
    for point in points:
        if point.state == HoldPoint.State.REFUSED:
            faults.append(Fault(f"{point} is refused; present it again first.", field))
        elif point.state != HoldPoint.State.WAITING:
            faults.append(Fault(f"{point} is {point.get_state_display().lower()} already; leave it out.", field))
        elif point.area.retired_at:
            faults.append(Fault(f"{retired_words(point.area)} Nothing is inspected there any more.", field))
    if faults:
        raise Refused(_shortened(faults))


def _shortened(faults: list[Fault]) -> list[Fault]:
    more = len(faults) - MOST_TOLD
    return faults if more <= 0 else [*faults[:MOST_TOLD], Fault(f"And {more:,} more like these.", faults[-1].field)]


def concerned(project: Project, points: Collection[HoldPoint]) -> Concerned:
    """The parties in force that hold or witness the points, each with what at; in four reads however many points.

    A point planned by hand is the clients'.
    """
    found: Concerned = defaultdict(set)
    letters = letters_of(points)
    for point in points:
        for each in letters[point.pk]:
            if each.meaning in NOTIFIED:
                found[each.party].add((point.line, each.meaning))
    if by_hand := {(None, str(Meaning(point.kind))) for point in points if not point.line_id}:
        clients = Party.objects.in_force().filter(project=project, kind=Party.Kind.CLIENT)
        for party in clients.select_related("organisation"):
            found[party] |= by_hand
    return {party: found[party] for party in sorted(found, key=lambda each: (each.begun_at, each.pk))}


def leads_of(project: Project, parties: Iterable[Party], of: Concerned) -> set[Asked]:
    """The lead times that the contract asks for at what these parties come to."""
    leads = lead_times_of(project)
    asked = {
        lead_asked(line, meaning, leads) if line else leads.get(meaning)
        for party in parties
        for line, meaning in of.get(party, ())
    }
    return {lead for lead in asked if lead}
