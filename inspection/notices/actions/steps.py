"""What becomes of a notice: moved, withdrawn, acknowledged, held or not; and the way back from each."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.notices import queries
from inspection.notices.actions.common import (
    acting_for,
    held_to_change,
    keep_step,
    leads_at,
    locked,
    note_of,
    place_of,
    points_of,
    require_state,
    short_for,
    time_faults,
    timed,
)
from inspection.notices.actions.keeping import keep_notified
from inspection.notices.actions.letters import tell_of
from inspection.notices.lead import Short
from inspection.notices.models import HeldPlace, Notice, NoticePlace, NoticeStep
from inspection.projects.models import Party
from inspection.projects.preconditions import in_sight

State, What = Notice.State, NoticeStep.What
OUTCOMES = (State.HELD, State.PARTLY, State.NOT_HELD)
COMPANY = (Role.INSPECTOR, Role.QUALITY_MANAGER)
SINCE = "This notice has changed since you looked. Look at it again before you change it."


@transaction.atomic
def move_notice(
    by: Person, *, notice: Notice, begins_at: datetime, ends_at: datetime, meeting_place: str, reason: str,
    sequence: int, confirmed: bool = False, at: datetime | None = None,
) -> Notice:  # fmt: skip
    """Move it to another time or place; `sequence` is that of the notice as the person saw it.

    The same sent again changes nothing. Raises Conflict where it has changed since; as `give_notice` for its time.
    """
    now, held = at or timezone.now(), held_to_change(by, notice)
    meeting_place = place_of(meeting_place)
    wanted = (begins_at, ends_at, meeting_place)
    same = (held.begins_at, held.ends_at, held.meeting_place) == wanted
    if same and held.sequence == sequence + 1 and held.steps.order_by("-number")[0].what == What.MOVED:
        return held
    require_state(held, State.STANDING)
    if held.sequence != sequence:
        raise Conflict(SINCE)
    reason = note_of(reason, "reason", needed="Say why it is moved; those who come are told.")
    if faults := time_faults(held.project, begins_at, ends_at, now):
        raise Refused(faults)
    if same:
        raise Refused("Nothing differs from how the notice stands.", field="begins_at")
    short = short_for(held.project, leads_at(held), now, begins_at, sure=confirmed)
    before = {"begins_at": held.begins_at, "ends_at": held.ends_at, "meeting_place": held.meeting_place}
    held.begins_at, held.ends_at, held.meeting_place = wanted
    _told_anew(held, short)
    party = acting_for(by, held.project)
    keep_step(
        by, held, What.MOVED, party=party, at=now, told=reason, reason=reason, before=before,
        after={**dict(zip(before, wanted, strict=True)), "short_hours": held.short_hours}, **timed(held, short),
    )  # fmt: skip
    keep_notified(points_of(held))
    tell_of(held, at=now, what="moved", reason=reason)
    return held


@transaction.atomic
def withdraw_notice(by: Person, *, notice: Notice, reason: str, at: datetime | None = None) -> Notice:
    """Withdraw it: nobody is called any more. It can be taken back while its time is to come."""
    now, held = at or timezone.now(), held_to_change(by, notice)
    reason = note_of(reason, "reason", needed="Say why it is withdrawn; those who would have come are told.")
    require_state(held, State.STANDING)
    held.state = State.WITHDRAWN
    _told_anew(held, _as_it_was(held))
    keep_step(by, held, What.WITHDRAWN, party=acting_for(by, held.project), at=now, told=reason, reason=reason)
    keep_notified(points_of(held))
    tell_of(held, at=now, what="withdrawn", reason=reason)
    return held


@transaction.atomic
def restore_notice(
    by: Person, *, notice: Notice, reason: str, confirmed: bool = False, at: datetime | None = None
) -> Notice:
    """Take a withdrawal back: the inspection is held after all, and those who come are told so.

    Its lead time counts from now on, since nobody was called in between.
    """
    now, held = at or timezone.now(), held_to_change(by, notice)
    reason = note_of(reason, "reason", needed="Say why; those who come are told.")
    require_state(held, State.WITHDRAWN)
    if held.begins_at <= now:
        raise Conflict("Its time has passed; give another notice.")
    short = short_for(held.project, leads_at(held), now, held.begins_at, sure=confirmed)
    held.state = State.STANDING
    _told_anew(held, short)
    party = acting_for(by, held.project)
    keep_step(by, held, What.RESTORED, party=party, at=now, told=reason, reason=reason, **timed(held, short))
    keep_notified(points_of(held))
    tell_of(held, at=now, what="restored", reason=reason)
    return held


@transaction.atomic
def acknowledge(by: Person, *, notice: Notice, party: Party | None = None, at: datetime | None = None) -> NoticeStep:
    """Say for one's party that the notice was read. Said again, it changes nothing."""
    in_sight(by, notice)
    held = locked(notice)
    party = _own(by, held, party)
    require_state(held, State.STANDING)
    if stands := _acknowledged(held, party):
        return stands
    return keep_step(by, held, What.ACKNOWLEDGED, party=party, at=at or timezone.now())


@transaction.atomic
def take_acknowledgement_back(
    by: Person, *, notice: Notice, reason: str, party: Party | None = None, at: datetime | None = None
) -> NoticeStep:
    in_sight(by, notice)
    held = locked(notice)
    party = _own(by, held, party)
    reason = note_of(reason, "reason", needed="Say why; both stay readable.")
    if not _acknowledged(held, party):
        raise Conflict(f"{party} has not acknowledged it as it stands.")
    return keep_step(by, held, What.UNACKNOWLEDGED, party=party, at=at or timezone.now(), told=reason, reason=reason)


@transaction.atomic
def record_outcome(
    by: Person, *, notice: Notice, outcome: str, why: str = "", reason: str = "", places: Collection[int] = (),
    at: datetime | None = None,
) -> Notice:  # fmt: skip
    """Record what became of it: held, not held with why, or held at some of its places, which `places` names by id."""
    now = at or timezone.now()
    in_sight(by, notice)
    require(by, *COMPANY, to="record the outcome of a notice")
    held = locked(notice)
    if outcome not in OUTCOMES:
        raise Refused("Choose held, partly held or not held.", field="outcome")
    if outcome == State.HELD:
        why = ""
    elif why not in NoticeStep.Why.values:
        raise Refused("Choose why it was not held, or not everywhere.", field="why")
    other = "Say what the reason was." if why == NoticeStep.Why.OTHER else ""
    reason = note_of(reason, "reason", needed=other)
    require_state(held, State.STANDING)
    if held.begins_at > now:
        raise Refused("It has not begun. Move or withdraw it instead.", field="outcome")
    there = _held_places(held, outcome, places)
    held.state = State(outcome)
    held.save(update_fields=["state"])
    after = {"why": why, "held": [str(place) for place in there]} if why else {}
    step = keep_step(
        by, held, What(outcome), party=acting_for(by, held.project), at=now, told=reason, reason=reason, why=why,
        after=after,
    )  # fmt: skip
    HeldPlace.objects.bulk_create([HeldPlace(step=step, place=place) for place in there], batch_size=1_000)
    keep_notified(points_of(held))
    return held


@transaction.atomic
def take_outcome_back(by: Person, *, notice: Notice, reason: str, at: datetime | None = None) -> Notice:
    """Take a recorded outcome back, with the reason; the notice stands again."""
    in_sight(by, notice)
    require(by, *COMPANY, to="take the outcome of a notice back")
    held = locked(notice)
    reason = note_of(reason, "reason", needed="Say why; both stay readable.")
    require_state(held, *OUTCOMES)
    before, held.state = held.state, State.STANDING
    held.save(update_fields=["state"])
    keep_step(
        by, held, What.REOPENED, party=acting_for(by, held.project), at=at or timezone.now(), told=reason,
        reason=reason, before={"state": before},
    )  # fmt: skip
    keep_notified(points_of(held))
    return held


def _told_anew(notice: Notice, short: Short | None) -> None:
    """Store the notice, of which its readers are told something else from now on."""
    notice.sequence += 1
    notice.short_hours, notice.due_by = (short.hours, short.due_by) if short else (None, None)
    notice.save(update_fields=["state", "begins_at", "ends_at", "meeting_place", "sequence", "short_hours", "due_by"])


def _as_it_was(notice: Notice) -> Short | None:
    if notice.short_hours is None or notice.due_by is None:
        return None
    return Short(Decimal(notice.short_hours), "", notice.due_by, None)


def _own(by: Person, notice: Notice, party: Party | None) -> Party:
    """The party for which the person speaks: the one named, or the only one of the notice that is theirs."""
    theirs = queries.acknowledging(by, notice)
    if not theirs:
        raise NotAllowed("A notice is acknowledged by the people of the parties it is given to.")
    if party is None and len(theirs) == 1:
        return theirs[0]
    if party not in theirs:
        raise Refused(f"Choose for whom: {', '.join(map(str, theirs))}.", field="party")
    return party


def _acknowledged(notice: Notice, party: Party) -> NoticeStep | None:
    steps = notice.steps.order_by("number").select_related("party__organisation")
    return queries.party_stands([party], steps)[0].acknowledged


def _held_places(notice: Notice, outcome: str, places: Collection[int]) -> list[NoticePlace]:
    """Of an inspection that was partly held, where it was. Raises Refused for none of its places, or all of them."""
    if outcome != State.PARTLY:
        if places:
            raise Refused("Places are named only where it was partly held.", field="places")
        return []
    of_notice = list(notice.places.select_related("area").order_by("pk"))
    found = [place for place in of_notice if place.pk in set(places)]
    if len(found) < len(set(places)):
        raise Refused("One of the places is not of this notice.", field="places")
    if not 0 < len(found) < len(of_notice):
        raise Refused("Choose where it was held: some of its places, not all and not none.", field="places")
    return found
