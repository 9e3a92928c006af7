"""What every change of a notice asks: who may, whether its time is possible, and the step that it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from inspection.foundation.refusals import Asked, Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import line, wrong_in_a_note
from inspection.notices.choosing import concerned, leads_of
from inspection.notices.lead import Short, short_of
from inspection.notices.models import Notice, NoticeStep
from inspection.plan.calendar import Asked as LeadAsked
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import in_sight
from inspection.projects.queries import parties_of

GIVERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR)
LONGEST_NOTE = 2_000
LONGEST_PLACE = 160
# Beyond these a slip of the month or the year is likelier than an inspection.
LONGEST, FARTHEST = timedelta(days=14), timedelta(days=370)


def acting_for(by: Person, project: Project) -> Party:
    """The party for which the person says something of a notice: their contractor's, or the company's."""
    kind = Party.Kind.CONTRACTOR if by.is_contractors else Party.Kind.INSPECTION
    party = parties_of(by, project).filter(kind=kind).order_by("begun_at", "pk").first()
    if party is None:
        raise NotAllowed(f"You act for no party of {project.code} that gives notices.")
    return party


def locked(notice: Notice) -> Notice:
    rows = Notice.objects.select_for_update(of=("self",)).select_related("project", "party__organisation", "person")
    return rows.get(pk=notice.pk)


def may_change(by: Person, notice: Notice) -> bool:
    """Whether the person moves or withdraws it: whoever acts for the party that gave it, or works for the company."""
    if by.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER):
        return True
    return by.has_role(Role.CONTRACTOR) and notice.party.organisation_id == by.organisation_id


def held_to_change(by: Person, notice: Notice) -> Notice:
    in_sight(by, notice)
    held = locked(notice)
    if not may_change(by, held):
        raise NotAllowed("A notice is moved and withdrawn by the party that gave it, or by the inspection company.")
    return held


def require_state(notice: Notice, *states: str) -> None:
    if notice.state not in states:
        raise Conflict(f"{notice} is {notice.get_state_display().lower()}; look at it again.")


def place_of(text: str) -> str:
    return line(text, field="meeting_place", most=LONGEST_PLACE)


def note_of(text: str, field: str, *, needed: str = "") -> str:
    """A text of several lines. Raises Refused with the sentence where one is needed and none is given."""
    text = text.strip()
    if needed and not text:
        raise Refused(needed, field=field)
    if len(text) > LONGEST_NOTE:
        raise Refused(f"This has {len(text)} characters; at most {LONGEST_NOTE} can be kept.", field=field)
    if wrong := wrong_in_a_note(text):
        raise Refused(wrong, field=field)
    return text


def time_faults(project: Project, begins_at: datetime, ends_at: datetime, now: datetime) -> list[Fault]:
    """What is wrong with when an inspection is to be held; nothing for a possible time that lies ahead."""
    for field, at in (("begins_at", begins_at), ("ends_at", ends_at)):
        if timezone.is_naive(at):
            return [Fault("Give the time zone too, such as 2026-03-04T14:05:00+01:00.", field)]
    told = f"{begins_at.astimezone(project.zone):%Y-%m-%d %H:%M}"
    if begins_at <= now:
        past = f"{told} lies in the past, so no notice can be given of it; give a time that is to come."
        return [Fault(past, "begins_at")]
    if begins_at - now > FARTHEST:
        return [Fault(f"{told} is more than a year ahead; check the year.", "begins_at")]
    if ends_at <= begins_at:
        return [Fault("It ends before it begins; give a later end.", "ends_at")]
    if ends_at - begins_at > LONGEST:
        return [
            Fault(f"It lasts more than {LONGEST.days} days; check the day, or give a notice for each part.", "ends_at")
        ]
    return []


def short_for(
    project: Project, leads: set[LeadAsked], now: datetime, begins_at: datetime, *, sure: bool
) -> Short | None:
    """How short the notice is. Raises Asked for a short one until whoever gives it is sure that it is meant."""
    short = short_of(project, leads, now, begins_at)
    if short and not sure:
        raise Asked(Fault(short.words(project), "begins_at"))
    return short


def leads_at(notice: Notice) -> set[LeadAsked]:
    """The lead times asked for at what the parties of the notice come to, by the plan as it is now."""
    points = [place.point for place in notice.places.select_related("point__line") if place.point]
    parties = [row.party for row in notice.parties.select_related("party")]
    return leads_of(notice.project, parties, concerned(notice.project, points))


def keep_step(
    by: Person, notice: Notice, what: NoticeStep.What, *, party: Party, at: datetime, told: str = "",
    before: dict[str, Any] | None = None, after: dict[str, Any] | None = None, **columns: Any,
) -> NoticeStep:  # fmt: skip
    """Add a step to the notice, which is held, and to the journal; `told` is the journal's reason."""
    step = NoticeStep(
        notice=notice, number=notice.steps.count() + 1, what=what, party=party, person=by,
        signed_as=f"{by.name}, {by.organisation}", at=at, **columns,
    )  # fmt: skip
    step.save(force_insert=True)
    journal.record(
        f"notice.{what}", notice, by=by, project_id=notice.project_id, before=before,
        after={"party": str(party), **(after or {})}, reason=told, at=at,
    )  # fmt: skip
    return step


def timed(notice: Notice, short: Short | None) -> dict[str, Any]:
    """The columns by which a step tells when and where, and how short that is."""
    return {
        "begins_at": notice.begins_at, "ends_at": notice.ends_at, "meeting_place": notice.meeting_place,
        **({"asked": short.asked, "short_hours": short.hours, "due_by": short.due_by} if short else {}),
    }  # fmt: skip


def points_of(notice: Notice) -> list[UUID]:
    return [pk for pk in notice.places.values_list("point", flat=True) if pk]


def as_told(values: Sequence[object]) -> str:
    """The first of them, and how many more."""
    shown, more = list(map(str, values[:10])), len(values) - 10
    return ", ".join(shown) + (f" and {more:,} more" if more > 0 else "")
