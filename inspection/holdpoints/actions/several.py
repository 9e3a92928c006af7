"""Several points of a project in one go, all of them or none: not applicable, presented, with another letter."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.actions.points import BESIDE, decide, reason_given
from inspection.holdpoints.evidence import evidence_of_many
from inspection.holdpoints.models import Decision, HoldPoint, PointLetter, Requirement
from inspection.holdpoints.party_letters import letters_of
from inspection.holdpoints.queries import MOST_AT_ONCE
from inspection.plan.legend import legend_of
from inspection.plan.models import Meaning
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import in_sight

Outcome, State = Decision.Outcome, HoldPoint.State
PRESENTERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR)
WHY = "Say why; it stands with each of them."


@transaction.atomic
def close_points(by: Person, *, project: Project, points: Sequence[UUID], reason: str) -> list[Decision]:
    """Say of points that they are not applicable, with one reason; `reopen_points` is the way back."""
    require(by, Role.QUALITY_MANAGER, to="change what was planned")
    reason = reason_given(reason, WHY)
    held = _held(by, project, points, lambda point: "not applicable already" if point.state == State.CLOSED else "")
    return _decided(by, held, Outcome.CLOSED, reason)


@transaction.atomic
def reopen_points(by: Person, *, project: Project, points: Sequence[UUID], reason: str) -> list[Decision]:
    """Take back that points are not applicable: they wait again, whatever was decided before."""
    require(by, Role.QUALITY_MANAGER, to="change what was planned")
    reason = reason_given(reason, WHY)
    held = _held(by, project, points, lambda point: "" if point.state == State.CLOSED else "applicable")
    return _decided(by, held, Outcome.PRESENTED, reason)


@transaction.atomic
def present_points(by: Person, *, project: Project, points: Sequence[UUID], reason: str = "") -> list[Decision]:
    """Say of points that require no record that they can be looked at now: they are ready from then on.

    One that requires records becomes ready by them. `take_presentation_back` is the way back.
    """
    require(by, *PRESENTERS, to="present a point")
    note = reason_given(reason, "") if reason.strip() else ""
    recorded = set(Requirement.objects.filter(point__in=points).values_list("point", flat=True))

    def wrong(point: HoldPoint) -> str:
        if point.measured or point.pk in recorded:
            return "ready by the records it requires, not by being presented"
        if point.state != State.WAITING:
            return point.get_state_display().lower()
        return "presented already" if point.presented_at else ""

    return _decided(by, _held(by, project, points, wrong), Outcome.DUE, note)


@transaction.atomic
def take_presentation_back(by: Person, *, project: Project, points: Sequence[UUID], reason: str) -> list[Decision]:
    """Take back that points can be looked at; what was decided since stays decided."""
    require(by, *PRESENTERS, to="take back that a point was presented")
    reason = reason_given(reason, WHY)

    def wrong(point: HoldPoint) -> str:
        if point.state != State.WAITING:
            return point.get_state_display().lower()
        return "" if point.presented_at else "not presented"

    return _decided(by, _held(by, project, points, wrong), Outcome.NOT_DUE, reason)


@transaction.atomic
def give_letter(
    by: Person, *, project: Project, points: Sequence[UUID], reason: str, party_kind: str, letter: str,
    party: Party | None = None,
) -> list[PointLetter]:  # fmt: skip
    """Give a party, or all of a kind, another letter at points of the plan than their lines do.

    Only while nobody has decided there. `take_letter_back` is the way back.
    """
    require(by, Role.QUALITY_MANAGER, to="change the plan at an area")
    reason = reason_given(reason, WHY)
    meaning = next((row.meaning for row in legend_of(project) if row.letter == letter), None)
    held = _held(by, project, points, _letter_fixed)
    there = Party.objects.in_force().filter(project=project, kind=party_kind)
    faults = []
    if meaning is None:
        told = ", ".join(row.letter for row in legend_of(project))
        faults.append(Fault(f"“{letter[:10]}” is not in the legend; it has {told}.", "letter"))
    if party_kind not in Party.Kind.values or not there.filter(**({"pk": party.pk} if party else {})).exists():
        faults.append(Fault("There is no such party in this project; add it first.", "party"))
    if faults:
        raise Refused(faults)
    _end(by, PointLetter.objects.filter(point__in=held, party_kind=party_kind, party=party, ended_at=None))
    given = PointLetter.objects.bulk_create(
        PointLetter(
            point=point, party_kind=party_kind, party=party, letter=letter, meaning=meaning or "", reason=reason,
            given_by=by,
        )
        for point in held
    )  # fmt: skip
    whom = str(party) if party else str(Party.Kind(party_kind).label)
    _follow_letters(by, held, "holdpoint.letter_given", {"letter": letter, "party": whom}, reason)
    return given


@transaction.atomic
def take_letter_back(by: Person, *, project: Project, points: Sequence[UUID], reason: str) -> int:
    """Let the letters of the line hold again at points that were given others; how many were taken back."""
    require(by, Role.QUALITY_MANAGER, to="change the plan at an area")
    reason = reason_given(reason, WHY)
    given = set(PointLetter.objects.filter(point__in=points, ended_at=None).values_list("point", flat=True))
    held = _held(
        by, project, points, lambda point: _letter_fixed(point) if point.pk in given else "without a letter of its own"
    )
    many = _end(by, PointLetter.objects.filter(point__in=held, ended_at=None))
    _follow_letters(by, held, "holdpoint.letter_taken_back", {"letters": many}, reason)
    return many


def _letter_fixed(point: HoldPoint) -> str:
    if point.line_id is None:
        return "planned by hand, so no letter of the plan stands there"
    if point.state != State.WAITING:
        return point.get_state_display().lower()
    return "decided by a party already" if any(row.outcome in _SAID for row in point.decisions.all()) else ""


_SAID = (Outcome.RELEASED, Outcome.REFUSED, Outcome.WAIVED)


def _held(by: Person, project: Project, points: Sequence[UUID], wrong: Callable[[HoldPoint], str]) -> list[HoldPoint]:
    """The points, held until the transaction ends. Raises Refused for too many, Conflict naming each that is wrong."""
    in_sight(by, project)
    wanted = set(points)
    if not 0 < len(wanted) <= MOST_AT_ONCE:
        raise Refused(f"Choose 1 to {MOST_AT_ONCE} points.", field="points")
    seen = set(HoldPoint.objects.visible_to(by).filter(project=project, pk__in=wanted).values_list("pk", flat=True))
    if seen != wanted:
        raise Refused("One of the points is not there, or belongs to another project.", field="points")
    rows = HoldPoint.objects.select_for_update(of=("self",)).select_related(*BESIDE)
    held = list(rows.filter(pk__in=wanted).prefetch_related("decisions").order_by("pk"))
    if faults := [Fault(f"{point} is {why}.", "points") for point in held if (why := wrong(point))]:
        raise Conflict(faults)
    return held


def _decided(by: Person, points: Sequence[HoldPoint], outcome: Decision.Outcome, reason: str) -> list[Decision]:
    evidence = evidence_of_many(points)
    return [decide(by, point, outcome, evidence[point.pk], reason=reason) for point in points]


def _end(by: Person, letters: Any) -> int:
    return int(letters.update(ended_at=timezone.now(), ended_by=by))


def _follow_letters(by: Person, points: Sequence[HoldPoint], verb: str, after: dict[str, Any], reason: str) -> None:
    """Let what kind of point each is follow its letters; one journal entry for all."""
    keep_kinds(points)
    journal.record(
        verb, points[0].project, by=by, project_id=points[0].project_id, reason=reason,
        after={**after, "points": {str(point.pk): str(point) for point in points}},
    )  # fmt: skip


def keep_kinds(points: Sequence[HoldPoint]) -> None:
    """A point of the plan is a hold point where any party holds it by its letters there; else a witness point."""
    letters = letters_of(points)
    for kind, holds in ((HoldPoint.Kind.HOLD, True), (HoldPoint.Kind.WITNESS, False)):
        pks = [pk for pk, rows in letters.items() if any(row.meaning == Meaning.HOLD for row in rows) is holds]
        HoldPoint.objects.filter(pk__among=pks).exclude(kind=kind).update(kind=kind)
    keep_places(HoldPoint.objects.filter(pk__among=[point.pk for point in points]))
