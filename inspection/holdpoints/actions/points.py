"""Planning hold points and deciding on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal
from accounts.guessing import confirm_password
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import line, wrong_in_a_note
from inspection.holdpoints import queries
from inspection.holdpoints.actions.keeping import keep_places, require_further
from inspection.holdpoints.actions.letters import codes_of, tell_of, write_to_the_signer, write_to_the_signer_of
from inspection.holdpoints.evidence import Evidence, evidence_of, evidence_of_many
from inspection.holdpoints.models import DecidedOn, Decision, HoldPoint
from inspection.holdpoints.outcomes import LEAVES, SAID, left_by, said_by
from inspection.holdpoints.outline import why_not_told
from inspection.holdpoints.queries import MOST_AT_ONCE, may_decide
from inspection.projects.breakdown import retired_words
from inspection.projects.models import Coat, InspectionArea, Party, Project
from inspection.projects.preconditions import in_sight, in_time
from inspection.projects.queries import parties_of
from inspection.projects.steps import coats_now

LONGEST_REASON = 2_000
# What a point can require beside its measurement; of climate, a failed record is accepted with a reason instead.
REQUIRABLE = names(Reliance.CERTIFIED, Reliance.SEEN)
CHANGED = "The evidence has changed since you looked. Look at it again before you decide."
TOLD_TO_ITS_SIGNER = SAID
# What a point is told by, and what decides who may decide it.
BESIDE = ("project", "area", "coat", "line")


@transaction.atomic
def plan_points(
    by: Person,
    *,
    project: Project,
    areas: Sequence[InspectionArea],
    coat: Coat,
    kind: str,
    title: str,
    requires: Sequence[str] = (),
) -> list[HoldPoint]:
    """Plan one point on each area after the coat, all of them or none.

    `requires` are kinds of records that have to pass and be sound beside the measurement, by name.
    """
    require(by, Role.QUALITY_MANAGER, to="plan hold points")
    in_sight(by, project, coat, *areas)
    title = line(title, field="title", most=160)
    areas = _as_they_are(areas)
    steps = coats_now(areas, coat)
    faults = _plan_faults(project, areas, coat, kind, steps)
    if unknown := sorted(set(requires) - set(REQUIRABLE)):
        faults.append(Fault(f"{', '.join(unknown)}: a point can require {', '.join(REQUIRABLE)}.", "requires"))
    if faults:
        raise Refused(faults)
    points = [HoldPoint(project=project, area=area, coat=steps[area.pk], kind=kind, title=title) for area in areas]
    try:
        with transaction.atomic():
            HoldPoint.objects.bulk_create(points)
            require_further(points, requires)
            keep_places(HoldPoint.objects.filter(pk__in=[point.pk for point in points]))
    except IntegrityError as fault:
        raise Conflict("Somebody planned one of these points at the same moment; look at the board again.") from fault
    for point in points:
        journal.record(
            "holdpoint.planned", point, by=by, project_id=project.pk,
            after={
                "area": point.area.label, "coat": coat.name, "kind": kind,
                **({"requires": sorted(set(requires))} if requires else {}),
            },
        )  # fmt: skip
    return points


def _as_they_are(areas: Sequence[InspectionArea]) -> list[InspectionArea]:
    """The areas as they are now, held until the transaction ends, so that none is retired while points come onto it."""
    rows = InspectionArea.objects.select_for_update(of=("self",), no_key=True).select_related("structure__project")
    held = {area.pk: area for area in rows.filter(pk__in=[area.pk for area in areas]).order_by("pk")}
    return [held[area.pk] for area in areas]


def _plan_faults(
    project: Project, areas: Sequence[InspectionArea], coat: Coat, kind: str, steps: Mapping[UUID, Coat]
) -> list[Fault]:
    faults = []
    if kind not in HoldPoint.Kind.values:
        faults.append(Fault("Choose hold point or witness point.", "kind"))
    if not areas:
        faults.append(Fault("Choose at least one area.", "areas"))
    if project.closed_at:
        faults.append(Fault(f"Project {project.code} is closed.", "areas"))
    taken = HoldPoint.objects.filter(area__in=areas, coat__in={coat, *steps.values()}, kind=kind)
    planned = set(taken.values_list("area", flat=True))
    for row, area in enumerate(areas, start=1):
        if area.structure.project_id != project.pk:
            faults.append(Fault(f"Area {area.label} belongs to another project.", "areas", row))
        elif area.pk not in steps:
            faults.append(Fault(f"{coat.name} is not a coat of the system on area {area.label}.", "areas", row))
        elif area.retired_at:
            faults.append(Fault(f"{retired_words(area)} Nothing new begins there.", "areas", row))
        elif area.pk in planned:
            faults.append(Fault(f"Area {area.label} has this point after {coat.name} already.", "areas", row))
    return faults


def release(
    by: Person, *, point: HoldPoint, password: str, evidence_digest: str, acceptance: str = "",
    at: datetime | None = None,
) -> Decision:  # fmt: skip
    """Release the point on the evidence the person was shown.

    Where a link of the chain is not met, as by climate that failed, rework on the area is open, or paint in the film is
    of a withdrawn batch, `acceptance` says why it is accepted; it is kept as the reason. Climate that failed and paint
    that was withdrawn since a release are accepted by releasing again.
    Raises Conflict when the evidence or the point has changed since, Refused when the evidence does not carry a
    release, a failed climate is not accepted or the password is wrong, NotAllowed for people whose point it is not.
    """
    _sign(by, point, password, at)
    with transaction.atomic():
        locked, evidence = _about_to_decide(point, evidence_digest)
        if locked.state != HoldPoint.State.WAITING and not evidence.came_since:
            raise Conflict(_already_decided(by, locked))
        if evidence.why_not:
            raise Refused(Fault(reason) for reason in why_not_told(by, evidence))
        if evidence.to_accept:
            acceptance = reason_given(acceptance, evidence.asks_why, field="acceptance")
        elif acceptance.strip():
            told = "The chain is met, no rework is open and no paint is withdrawn; there is nothing to accept."
            raise Refused(told, field="acceptance")
        party = _speaking_for(by, locked)
        return decide(by, locked, Decision.Outcome.RELEASED, evidence, reason=acceptance.strip(), at=at, party=party)


def decide_many(
    by: Person,
    *,
    project: Project | None = None,
    outcome: Decision.Outcome = Decision.Outcome.RELEASED,
    shown: Mapping[UUID, str],
    password: str,
    reason: str = "",
    at: datetime | None = None,
) -> list[Decision]:
    """Release, refuse or waive waiting points of one project, or of any, under one signature: all of them or none.

    `shown` is, by point, the digest of the evidence that the person was shown; the digest over all of them is kept
    with each decision's journal entry and in the one letter. A refusal and a waiver say why. Raises as `release` does,
    naming each point that keeps it from being done. One whose chain is not met, or whose area has open rework, is
    accepted with a reason, and so released by itself.
    """
    if project:
        in_sight(by, project)
    if not 0 < len(shown) <= MOST_AT_ONCE:
        raise Refused(f"Choose 1 to {MOST_AT_ONCE} points.", field="points")
    if outcome != Decision.Outcome.RELEASED:
        reason = reason_given(reason, f"Say why they are {outcome.label.lower()}.")
    if faults := in_time(at, "at") if at else []:
        raise Refused(faults)
    seen = HoldPoint.objects.visible_to(by).filter(project=project) if project else HoldPoint.objects.visible_to(by)
    points = list(seen.filter(pk__in=shown).select_related(*BESIDE))
    if len(points) != len(shown):
        raise Refused("One of the points is not there, or belongs to another project.", field="points")
    for point in {(point.kind, point.line_id): point for point in points}.values():
        _require_decider(by, point)
    of = {point.project_id: point.project.code for point in points}
    to = f"decide {len(points)} points of {codes_of(of.values())}"
    one = next(iter(of)) if len(of) == 1 else None
    confirm_password(by, password, to=to, so="nothing was decided", project_id=one)
    with transaction.atomic():
        held = HoldPoint.objects.select_for_update(of=("self",)).select_related(*BESIDE)
        locked = list(held.filter(pk__in=shown).order_by("pk"))
        evidence = evidence_of_many(locked)
        _refuse_any(by, locked, evidence, shown, releasing=outcome == Decision.Outcome.RELEASED)
        together = journal.digest_of({str(pk): evidence[pk].digest for pk in sorted(evidence)})
        decisions = [
            decide(
                by, point, outcome, evidence[point.pk], reason=reason, at=at, together=together,
                party=_speaking_for(by, point),
            )
            for point in locked
        ]  # fmt: skip
        write_to_the_signer_of(decisions, together)
        return decisions


def require_may_note_attendance(by: Person, point: HoldPoint) -> None:
    """Raise NotAllowed for whoever can note the attendance of no party at the point."""
    if not queries.attendance_noted_by(by, point):
        raise NotAllowed(
            "Attendance is noted by the party itself or by the inspection company, while the point is open."
        )


def _refuse_any(
    by: Person, points: Sequence[HoldPoint], evidence: Mapping[UUID, Evidence], shown: Mapping[UUID, str], *,
    releasing: bool,
) -> None:  # fmt: skip
    """Raise Conflict for points decided or changed since they were shown, Refused for those that cannot be released."""
    waiting = HoldPoint.State.WAITING
    since = [
        Fault(f"{point}: {CHANGED if point.state == waiting else _already_decided(by, point)}", "points")
        for point in points
        if point.state != waiting or evidence[point.pk].digest != shown[point.pk]
    ]
    if since:
        raise Conflict(since)
    wrong = [
        Fault(f"{point}: {' '.join(why_not_told(by, found)) or f'{found.against}; decide it by itself.'}", "points")
        for point in points
        if releasing and ((found := evidence[point.pk]).why_not or found.to_accept)
    ]
    if wrong:
        raise Refused(wrong)


def waive(
    by: Person, *, point: HoldPoint, password: str, reason: str, evidence_digest: str, at: datetime | None = None
) -> Decision:
    """Waive the point: the party lets work go on without looking. It says nothing of the evidence, and is signed."""
    reason = reason_given(reason, "Say why the point is waived.")
    _sign(by, point, password, at)
    with transaction.atomic():
        locked, evidence = _about_to_decide(point, evidence_digest)
        if locked.state != HoldPoint.State.WAITING:
            raise Conflict(_already_decided(by, locked))
        party = _speaking_for(by, locked)
        return decide(by, locked, Decision.Outcome.WAIVED, evidence, reason=reason, at=at, party=party)


def _closed_words(point: HoldPoint) -> str:
    """That a point is closed, since when and why: whoever comes with news of it may not have heard."""
    last = point.decisions.filter(outcome=Decision.Outcome.CLOSED).order_by("number").last()
    since = f" since {last.at.astimezone(point.project.zone):%Y-%m-%d %H:%M}" if last else ""
    return f"{point} is not applicable any more{since}{f': {last.reason}' if last and last.reason else '.'}"


@transaction.atomic
def note_attendance(
    by: Person, *, point: HoldPoint, attended: bool, party: Party | None = None, note: str = "",
    at: datetime | None = None, id: UUID | None = None,  # noqa: A002 - the decision's own name for it, as in the API
) -> Decision:  # fmt: skip
    """Note that a party attended, or did not come. It releases nothing and holds nothing.

    The party's own people say that they attended; who works for the company says either. The same under the same id
    answers with what is stored.
    """
    in_sight(by, point)
    note = reason_given(note, "") if note.strip() else ""
    if faults := in_time(at, "at") if at else []:
        raise Refused(faults)
    locked = locked_point(point)
    asked = queries.parties_asked(locked)
    if party is None and len(asked) == 1:
        party = asked[0]
    if party not in asked:
        raise Refused("Choose one of the parties of this point.", field="party")
    of_company = by.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER)
    if not of_company and (not attended or not parties_of(by, locked.project).filter(pk=party.pk).exists()):
        raise NotAllowed("Your own attendance is yours to note; that somebody did not come, the inspection company's.")
    outcome = Decision.Outcome.ATTENDED if attended else Decision.Outcome.ABSENT
    if id and (stored := Decision.objects.filter(pk=id).first()):
        if (stored.point, stored.person, stored.party, stored.outcome, stored.reason) == (
            point, by, party, outcome, note,
        ):  # fmt: skip
            return stored
        raise Conflict(Fault("This id is used already. Nothing was changed: send it under another.", "id"))
    if locked.state == HoldPoint.State.CLOSED:
        raise Conflict(_closed_words(locked))
    return decide(by, locked, outcome, evidence_of(locked), reason=note, at=at, party=party, id=id)


def refuse(
    by: Person, *, point: HoldPoint, password: str, reason: str, evidence_digest: str, at: datetime | None = None
) -> Decision:
    """Refuse the point with a reason. A released one can be refused only while its evidence is in doubt."""
    reason = reason_given(reason, "Say why, so that it can be put right.")
    _sign(by, point, password, at)
    with transaction.atomic():
        locked, evidence = _about_to_decide(point, evidence_digest)
        in_doubt = locked.state == HoldPoint.State.RELEASED and evidence.in_doubt
        if locked.state != HoldPoint.State.WAITING and not in_doubt:
            raise Conflict(_already_decided(by, locked))
        party = _speaking_for(by, locked)
        return decide(by, locked, Decision.Outcome.REFUSED, evidence, reason=reason, at=at, party=party)


@transaction.atomic
def present_again(
    by: Person, *, point: HoldPoint, note: str, reworked_at: datetime | None = None, reworked_by: str = ""
) -> Decision:
    """Put a refused point before the client again, saying what was done; of rework, also when it was done and by whom.

    A release then needs a measurement begun after the refusal and after the rework.
    """
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="present a point again")
    in_sight(by, point)
    note = reason_given(note, "Say what was done since it was refused.", field="note")
    locked = locked_point(point)
    if locked.state != HoldPoint.State.REFUSED:
        raise Conflict("Only a refused point is presented again; this one is not refused any more.")
    reworked_by = _reworker(locked, reworked_at, reworked_by)
    rework = {"reworked_at": reworked_at, "reworked_by": reworked_by or None}
    return decide(by, locked, Decision.Outcome.PRESENTED, evidence_of(locked), reason=note, rework=rework)


def _reworker(point: HoldPoint, at: datetime | None, who: str) -> str:
    """By whom the rework was done; empty where none is said to have been. Raises Refused for half of it."""
    who = line(who, field="reworked_by", most=200, needed=at is not None)
    if at is None:
        if who:
            raise Refused("Say when the rework was done.", field="reworked_at")
        return ""
    if faults := in_time(at, "reworked_at"):
        raise Refused(faults)
    if point.fresh_from and at < point.fresh_from:
        when = f"{point.fresh_from.astimezone(point.project.zone):%Y-%m-%d %H:%M}"
        raise Refused(f"It was refused at {when}; rework of what was refused was done after that.", field="reworked_at")
    return who


def take_refusal_back(by: Person, *, point: HoldPoint, password: str, reason: str) -> Decision:
    """Take a refusal or a waiver back that was a mistake or whose reason is gone; what was before counts again."""
    reason = reason_given(reason, "Say why it is taken back.")
    _sign(by, point, password, None)
    with transaction.atomic():
        locked = locked_point(point)
        said = queries.said_to_take_back(by, locked)
        if said is None:
            raise Conflict("Only a refused or waived point has something to take back; this one has not any more.")
        return decide(
            by, locked, Decision.Outcome.WITHDRAWN, evidence_of(locked), reason=reason, party=said.party
        )  # fmt: skip


def reason_given(text: str, ask: str, *, field: str = "reason") -> str:
    text = text.strip()
    if not text:
        raise Refused(ask, field=field)
    if len(text) > LONGEST_REASON:
        raise Refused(f"Give at most {LONGEST_REASON} characters.", field=field)
    if wrong := wrong_in_a_note(text):
        raise Refused(wrong, field=field)
    return text


def _sign(by: Person, point: HoldPoint, password: str, at: datetime | None) -> None:
    """The person may decide the point and typed their password; before the transaction, which may come to nothing."""
    in_sight(by, point)
    _require_decider(by, point)
    faults = in_time(at, "at") if at else []
    if faults:
        raise Refused(faults)
    confirm_password(by, password, to=f"decide {point}", so="nothing was decided", project_id=point.project_id)


def _about_to_decide(point: HoldPoint, evidence_digest: str) -> tuple[HoldPoint, Evidence]:
    """The point, held until the transaction ends, and its evidence, which is the one the person was shown."""
    locked = locked_point(point)
    evidence = evidence_of(locked)
    if locked.state == point.state and evidence.digest != evidence_digest:
        raise Conflict(CHANGED)
    return locked, evidence


def _require_decider(by: Person, point: HoldPoint) -> None:
    if not may_decide(by, point):
        if point.line_id:
            raise NotAllowed("Only the parties that the plan lets hold this point may decide it.")
        who = "the client's people" if point.kind == HoldPoint.Kind.HOLD else "the client's people or a quality manager"
        raise NotAllowed(f"Only {who} on this project may decide this {point.get_kind_display().lower()}.")


def _speaking_for(by: Person, point: HoldPoint) -> Party | None:
    """The party the person decides for, of those that hold the point and have not said yet; none of a point by hand.

    Raises Conflict where each of theirs has said.
    """
    if not point.line_id:
        return None
    said = said_by(point.decisions.order_by("number").defer("evidence"))
    theirs = queries.holding_for(by, point)
    still = [party for party in theirs if party.pk not in said or point.state == HoldPoint.State.RELEASED]
    if not still:
        raise Conflict(f"{theirs[0]} has {said[theirs[0].pk].get_outcome_display().lower()} this point already.")
    return still[0]


def locked_point(point: HoldPoint) -> HoldPoint:
    points = HoldPoint.objects.select_for_update(of=("self",)).select_related(*BESIDE)
    return points.get(pk=point.pk)


def _already_decided(by: Person, point: HoldPoint) -> str:
    if by.is_contractors:
        return f"This point is {point.get_state_display().lower()} already."
    last = point.decisions.order_by("-number").select_related("person")[0]
    when = f"{last.at.astimezone(point.project.zone):%Y-%m-%d %H:%M}"
    return f"{last.signed_as} has {last.get_outcome_display().lower()} this point already, on {when}."


def decide(
    by: Person,
    point: HoldPoint,
    outcome: Decision.Outcome,
    evidence: Evidence,
    *,
    reason: str = "",
    at: datetime | None = None,
    rework: dict[str, Any] | None = None,
    together: str = "",
    party: Party | None = None,
    id: UUID | None = None,  # noqa: A002 - the decision's own name for it
) -> Decision:
    """Store a decision on the point, which is held; `together` is the digest over all that one signature covers."""
    before = point.state
    over = evidence.links_not_met if outcome == Decision.Outcome.RELEASED else []
    earlier = list(point.decisions.order_by("number").defer("evidence"))
    decision = Decision(
        point=point, number=len(earlier) + 1, outcome=outcome, party=party, reason=reason, person=by,
        signed_as=f"{by.name}, {by.organisation}", admitted=by.admission or None, at=at or timezone.now(),
        record=evidence.record, evidence=journal.plain(evidence.content), evidence_digest=evidence.digest,
        **(rework or {}), **({"id": id} if id else {}),
    )  # fmt: skip
    holders = [each.pk for each in queries.holders(point)]
    decision.left = left_by(before, [*earlier, decision], holders)
    decision.save(force_insert=True)
    DecidedOn.objects.bulk_create(DecidedOn(decision=decision, record_id=pk) for pk in evidence.further_records)
    if outcome not in LEAVES:
        point.state, point.doubted_at, point.chain_broken = decision.left, None, False
    point.fresh_from = _fresh_from([*earlier, decision])
    # Whoever presents a point again after a refusal says, as at first, that it can be looked at.
    if outcome == Decision.Outcome.DUE or rework is not None:
        point.presented_at = decision.at
    elif outcome == Decision.Outcome.NOT_DUE:
        point.presented_at = None
    point.save(update_fields=["state", "doubted_at", "chain_broken", "fresh_from", "presented_at"])
    # Of a point presented again it is told once, whether it is ready at once or later.
    # A release accepts its chain as it is; one that stands again because a refusal was taken back does not.
    again = point.state == HoldPoint.State.RELEASED and outcome != Decision.Outcome.RELEASED
    keep_places(HoldPoint.objects.filter(pk=point.pk), tells=outcome != Decision.Outcome.PRESENTED, chains=again)
    journal.record(
        f"holdpoint.{outcome.value}", point, by=by, project_id=point.project_id, before={"state": before},
        after={"state": point.state, "evidence": evidence.digest, "admitted": by.admission, **(rework or {}),
               **({"together": together} if together else {}),
               **({"over": [link.told for link in over]} if over else {})},
        reason=reason, at=decision.at,
    )  # fmt: skip
    if outcome in TOLD_TO_ITS_SIGNER and not together:
        write_to_the_signer(decision)
    tell_of(decision)
    return decision


def _fresh_from(decisions: Sequence[Decision]) -> datetime | None:
    """The last refusal that was not taken back, or the rework since, whichever is later; None where there is none."""
    moments: list[list[datetime]] = []
    last: dict[UUID | None, str] = {}
    for decision in decisions:
        waived = last.get(decision.party_id) == Decision.Outcome.WAIVED
        last[decision.party_id] = decision.outcome
        if decision.outcome == Decision.Outcome.REFUSED:
            moments.append([decision.at])
        elif decision.outcome == Decision.Outcome.WITHDRAWN and moments and not waived:
            moments.pop()
        elif decision.reworked_at:
            moments[-1].append(decision.reworked_at)
    return max(moments[-1]) if moments else None
