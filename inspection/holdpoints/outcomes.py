"""What a decision leaves its point as: one rule over what was said of the point, in order.

Where several parties hold a point, each decides for itself: it is released once each has released or waived, and waived
where each has waived. One that refuses keeps it back. Presented again, all decide anew, for the evidence is another.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from uuid import UUID

from inspection.holdpoints.models import STATE_AFTER, Decision, HoldPoint

Outcome, State = Decision.Outcome, HoldPoint.State
# What is noted of a point and leaves it as it is.
NOTED = (Outcome.ATTENDED, Outcome.ABSENT)
# What is said of a point and leaves its state: attendance, and that it can be looked at, or cannot after all.
LEAVES = (*NOTED, Outcome.DUE, Outcome.NOT_DUE)
SAID = (Outcome.RELEASED, Outcome.REFUSED, Outcome.WAIVED)


def said_by(decisions: Iterable[Decision]) -> dict[UUID | None, Decision]:
    """By party, what it last said of the point and did not take back; nothing of before it was presented again."""
    said: dict[UUID | None, Decision] = {}
    for decision in decisions:
        if decision.outcome in SAID:
            said[decision.party_id] = decision
        elif decision.outcome == Outcome.WITHDRAWN:
            said.pop(decision.party_id, None)
        elif decision.outcome not in LEAVES:
            said.clear()
    return said


def left_by(before: str, decisions: Iterable[Decision], holders: Collection[UUID]) -> str:
    """The state the last of the decisions leaves the point in, which was `before`; `holders` are those it waits for."""
    decisions = list(decisions)
    outcome = Outcome(decisions[-1].outcome)
    if outcome in LEAVES:
        return before
    if not holders or outcome in (Outcome.PRESENTED, Outcome.CLOSED):
        return STATE_AFTER[outcome]
    said = {party: decision.outcome for party, decision in said_by(decisions).items() if party in holders}
    if Outcome.REFUSED in said.values():
        return State.REFUSED
    if set(said) != set(holders):
        return State.WAITING
    return State.RELEASED if Outcome.RELEASED in said.values() else State.WAIVED
