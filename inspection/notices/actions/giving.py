"""Giving notice of an inspection: whole or not at all, and once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.http import Http404
from django.utils import timezone

from accounts import journal
from accounts.models import Person
from accounts.rights import require
from inspection.fieldwork.storing import another_id
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.holdpoints.models import HoldPoint
from inspection.notices.actions.common import (
    GIVERS,
    acting_for,
    keep_step,
    note_of,
    place_of,
    short_for,
    time_faults,
    timed,
)
from inspection.notices.actions.keeping import keep_notified
from inspection.notices.actions.letters import tell_of
from inspection.notices.choosing import MOST_AREAS, Concerned, concerned, leads_of, points_at, refuse_decided
from inspection.notices.models import Notice, NoticeParty, NoticePlace, NoticeStep
from inspection.plan.models import PlanLine
from inspection.projects.models import InspectionArea, Party, Project
from inspection.projects.preconditions import in_sight, in_turn

USED = "A notice with this id is stored already, with other content. Nothing was changed: look at the stored one."


@dataclass(frozen=True)
class Sent:
    """What a notice is given of and for: lines at areas, or points by name; parties, or all who are concerned."""

    begins_at: datetime
    ends_at: datetime
    meeting_place: str
    lines: Sequence[PlanLine] = ()
    areas: Sequence[InspectionArea] = ()
    points: Sequence[HoldPoint] = ()
    parties: Sequence[Party] = ()
    told_m2: Decimal | None = None
    note: str = ""

    def digest(self, by: Person, project: Project) -> str:
        named = {
            name: sorted(str(row.pk) for row in getattr(self, name)) for name in ("lines", "areas", "points", "parties")
        }
        when = [at.timestamp() for at in (self.begins_at, self.ends_at)]
        told = [
            self.meeting_place.strip(),
            self.note.strip(),
            float(self.told_m2) if self.told_m2 is not None else None,
        ]
        return journal.digest_of({"by": by.pk, "project": project.pk, **named, "when": when, "told": told})


@transaction.atomic
def give_notice(
    by: Person,
    *,
    id: UUID,  # noqa: A002 - made by the sender, so that the same sent twice is one notice
    project: Project,
    sent: Sent,
    confirmed: bool = False,
    at: datetime | None = None,
) -> tuple[Notice, bool]:
    """Give notice of an inspection; True when it is new.

    The same sent again answers with what is stored; other content under a used id raises Conflict. Raises Asked for a
    notice shorter than the contract asks, until it is sent with `confirmed`; Refused for a time that is past, places of
    another project or out of use, nothing but points decided already, and more m² than the areas have.
    """
    now = at or timezone.now()
    require(by, *GIVERS, to="give notice of an inspection")
    in_sight(by, project, *sent.areas)
    if timezone.is_naive(sent.begins_at) or timezone.is_naive(sent.ends_at):
        raise Refused(time_faults(project, sent.begins_at, sent.ends_at, now))
    in_turn(project.pk)
    id, digest = _free(by, id, project), sent.digest(by, project)  # noqa: A001 - as above
    stored = Notice.objects.filter(pk=id).first()
    if stored:
        if stored.sent_digest != digest:
            raise Conflict(Fault(USED, "id"))
        return stored, False
    party = acting_for(by, project)
    if project.closed_at:
        raise Refused(f"Project {project.code} is closed.", field="areas")
    points = _points(by, project, sent)
    # Contractors are told of no other contractor.
    of = {each: what for each, what in concerned(project, points).items() if not _hidden(by, each)}
    parties = _parties(sent.parties, of)
    total = sum(({point.area: point.area.area_m2 for point in points}).values(), Decimal(0))
    faults = time_faults(project, sent.begins_at, sent.ends_at, now) + _m2_faults(sent.told_m2, total)
    if faults:
        raise Refused(faults)
    meeting_place, note = place_of(sent.meeting_place), note_of(sent.note, "note")
    short = short_for(project, leads_of(project, parties, of), now, sent.begins_at, sure=confirmed)
    last = Notice.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0
    notice = Notice(
        id=id, project=project, number=last + 1, party=party, person=by, signed_as=f"{by.name}, {by.organisation}",
        given_at=now, note=note, area_m2=total, told_m2=sent.told_m2, sent_digest=digest, begins_at=sent.begins_at,
        ends_at=sent.ends_at, meeting_place=meeting_place, short_hours=short.hours if short else None,
        due_by=short.due_by if short else None,
    )  # fmt: skip
    notice.save(force_insert=True)
    NoticeParty.objects.bulk_create(NoticeParty(notice=notice, party=each) for each in parties)
    NoticePlace.objects.bulk_create(
        [
            NoticePlace(notice=notice, area=point.area, point=point, line=point.line, title=point.title)
            for point in points
        ],
        batch_size=1_000,
    )
    after = {
        "parties": [str(each) for each in parties], "points": len(points), "begins_at": notice.begins_at,
        "ends_at": notice.ends_at, "meeting_place": meeting_place, "area_m2": total, "told_m2": sent.told_m2,
        "short_hours": notice.short_hours, "areas": sorted({point.area.label for point in points}),
    }  # fmt: skip
    keep_step(by, notice, NoticeStep.What.GIVEN, party=party, at=now, after=after, **timed(notice, short))
    keep_notified([point.pk for point in points])
    tell_of(notice, at=now)
    return notice, True


def _free(by: Person, sent: UUID, project: Project) -> UUID:
    """The id; where one that the sender may not see bears it, the one that takes its place."""
    borne = Notice.objects.filter(pk=sent)
    return sent if not borne.exists() or borne.visible_to(by).exists() else another_id(sent, by, project)


def _points(by: Person, project: Project, sent: Sent) -> list[HoldPoint]:
    """The points that were named, each once. Raises Refused for any of which no notice can be given."""
    if sent.points and (sent.lines or sent.areas):
        raise Refused("Name points, or lines and areas; not both.", field="points")
    if not sent.points:
        found, field = points_at(project, sent.lines, sent.areas), "areas"
        # Of lines at areas those that wait are meant; one that is decided there already needs no notice.
        found = [point for point in found if point.state == HoldPoint.State.WAITING] or found
    else:
        seen = HoldPoint.objects.filter(pk__among=[point.pk for point in sent.points]).select_related(
            "area__structure__project", "line"
        )
        found, field = list(seen.filter(area__in=InspectionArea.objects.visible_to(by)).order_by("pk")), "points"
        if len(found) < len({point.pk for point in sent.points}):
            raise Http404
        if any(point.project_id != project.pk for point in found):
            raise Refused(f"One of the points belongs to another project than {project.code}.", field="points")
        if len({point.area_id for point in found}) > MOST_AREAS:
            raise Refused(f"Choose points of at most {MOST_AREAS:,} areas.", field="points")
    refuse_decided(found, field)
    return found


def _hidden(by: Person, party: Party) -> bool:
    return party.kind == Party.Kind.CONTRACTOR and by.names_no_contractor(party.organisation_id)


def _parties(named: Sequence[Party], of: Concerned) -> list[Party]:
    """To whom notice is given: those named, or all who are concerned."""
    if not of:
        raise Refused("Nobody holds or witnesses any of these points, so nobody is to be notified.", field="lines")
    if others := [party for party in named if party not in of]:
        among = ", ".join(sorted(str(party) for party in of))
        raise Refused(
            [Fault(f"{party} neither holds nor witnesses any of these points; choose among {among}.", "parties")
             for party in others]
        )  # fmt: skip
    return list(dict.fromkeys(named)) or list(of)


def _m2_faults(told: Decimal | None, total: Decimal) -> list[Fault]:
    if told is None:
        return []
    if not told.is_finite() or told <= 0:
        return [Fault("Give more than 0 m², or leave it out.", "told_m2")]
    if told > total:
        return [
            Fault(
                f"{told.normalize():f} m² is more than the areas have together, which is {total.normalize():f} m². "
                "Give what of them is inspected, or leave it out.",
                "told_m2",
            )
        ]
    return []
