"""What was planned by mistake: a point renamed, taken away while nobody has decided on it, closed with its reason."""

from __future__ import annotations

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict
from inspection.foundation.text import line
from inspection.holdpoints.actions.points import decide, locked_point, reason_given
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.preconditions import in_sight, snapshot


@transaction.atomic
def rename_point(by: Person, *, point: HoldPoint, title: str) -> HoldPoint:
    """Give a point another title; issued reports and the journal keep the former one."""
    locked = _to_plan(by, point)
    title = line(title, field="title", most=160)
    before, locked.title = locked.title, title
    if before != title:
        locked.save(update_fields=["title"])
        journal.record(
            "holdpoint.renamed", locked, by=by, project_id=locked.project_id, before={"title": before},
            after={"title": title},
        )  # fmt: skip
    return locked


@transaction.atomic
def remove_point(by: Person, *, point: HoldPoint, reason: str) -> None:
    """Take away a point that nobody has ever decided on; one with a decision is evidence, and is closed instead."""
    locked = _to_plan(by, point)
    reason = reason_given(reason, "Say why; the journal keeps it.")
    if locked.decisions.exists():
        raise Conflict("Somebody has decided on this point, so it stays; say that it is not applicable instead.")
    journal.record(
        "holdpoint.removed", locked, by=by, project_id=locked.project_id,
        before={**snapshot(locked), "area": locked.area.label, "coat": locked.step}, reason=reason,
    )  # fmt: skip
    locked.delete()


@transaction.atomic
def close_point(by: Person, *, point: HoldPoint, reason: str) -> Decision:
    """End a point that is no longer asked for; its decisions stay readable, and nobody is asked to decide any more."""
    locked = _to_plan(by, point)
    reason = reason_given(reason, "Say why; it stands among the decisions.")
    if locked.state == HoldPoint.State.CLOSED:
        raise Conflict("This point is not applicable already.")
    return decide(by, locked, Decision.Outcome.CLOSED, evidence_of(locked), reason=reason)


@transaction.atomic
def reopen_point(by: Person, *, point: HoldPoint, reason: str) -> Decision:
    """Take a closing back: the point waits for a decision again, whatever was decided before."""
    locked = _to_plan(by, point)
    reason = reason_given(reason, "Say why; it stands among the decisions.")
    if locked.state != HoldPoint.State.CLOSED:
        raise Conflict("This point is applicable; there is nothing to take back.")
    return decide(by, locked, Decision.Outcome.PRESENTED, evidence_of(locked), reason=reason)


def _to_plan(by: Person, point: HoldPoint) -> HoldPoint:
    require(by, Role.QUALITY_MANAGER, to="change what was planned")
    in_sight(by, point)
    return locked_point(point)
