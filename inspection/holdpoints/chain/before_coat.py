"""The links of a coat: what lies under it, its stripe coats, its recoat window and the holds before it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from uuid import UUID

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.chain.asked_of_steel import of_plan
from inspection.holdpoints.chain.facts import Facts
from inspection.holdpoints.chain.links import Link, State
from inspection.holdpoints.chain.on_steel import by_lots, by_record, state_of
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import Coat, StripeCoat
from inspection.standards.drying import CLOSED, NOT_YET_OPEN
from inspection.standards.recoat_clock import NOT_KNOWN
from inspection.works.lots.windows import Window, rows_for
from inspection.works.models import Lot

FREE = (HoldPoint.State.RELEASED, HoldPoint.State.WAIVED)


def previous_coat(facts: Facts, area: UUID, below: Coat, begun: datetime) -> Link:
    """That the coat below was finished, and did not fail, when this one was begun."""
    source = f"Coating system {below.system}: {below}"
    lots = facts.laid_by(area, below, begun) or facts.laid_by(area, below)
    link = by_lots(facts, area, lots, begun, key="previous_coat", title="Previous coat", source=source)
    measured = facts.newest(area, below.pk, ThicknessRecord.KIND, begun)
    if measured is None or link.state == State.NOT_MET:
        return link
    told = by_record(facts, "previous_coat", "Previous coat", measured, source)
    found = state_of(measured)
    if not below.decides:
        # For control only: that it was measured shows that it lies there, not what was found.
        return link if link.is_met else _there(told)
    if found == State.NOT_MET or (found == State.MET and not link.is_met and not lots):
        return told
    return link


def _there(told: Link) -> Link:
    return Link(
        key=told.key, title=told.title, state=State.MET, sentence=told.sentence, source=told.source, kind=told.kind,
        id=told.id,
    )  # fmt: skip


def stripes(facts: Facts, area: UUID, coat: Coat, below: Coat | None, begun: datetime) -> Iterator[Link]:
    """The stripe coats that the system puts before the coat, or after the one below it."""
    sides = StripeCoat.Side
    wanted = [each for each in facts.stripes.get(coat.pk, ()) if each.side == sides.BEFORE]
    if below:
        wanted = [*(each for each in facts.stripes.get(below.pk, ()) if each.side == sides.AFTER), *wanted]
    for stripe in wanted:
        of_it = [
            lot for lot in facts.lots.get(area, ())
            if lot.activity == Lot.Activity.STRIPE and lot.coat_id == stripe.coat_id
            and lot.stripe_id in (None, stripe.pk)
        ]  # fmt: skip
        source = f"Coating system {coat.system}: stripe coat {stripe.side} {facts.coats[stripe.coat_id]}"
        yield by_lots(facts, area, of_it, begun, key=f"stripe:{stripe.pk}", title=str(stripe), source=source)


def recoat_window(facts: Facts, area: UUID, below: Coat, coat: Coat, window: Window | None) -> Iterator[Link]:
    """That the coat was begun while the one below was open to it; nothing where no hours are stated."""
    stated = rows_for(below, coat)
    if not any(row.recoat_min_hours is not None or row.recoat_max_hours is not None for row in stated):
        return
    source = (
        f"Data sheet {below.data_sheet}" if below.data_sheet else f"Coating system {below.system}: hours of {below}"
    )
    title, key = "Recoat window", "recoat_window"
    if window is None or window.following.pk != coat.pk:
        yield Link(
            key=key, title=title, state=State.NOT_RECORDED, source=source,
            sentence="When the coat below ended is not recorded.",
        )  # fmt: skip
        return
    clock, lot = window.clock, window.lots[-1]
    if clock.state == NOT_KNOWN:
        state, sentence = State.NOT_RECORDED, " ".join(clock.notes) or "It is not known."
    elif clock.state == NOT_YET_OPEN:
        opens = f", which was at {facts.told(area, clock.opens_at)}" if clock.opens_at else ""
        state, sentence = State.NOT_MET, f"Begun before the window opened{opens}."
    elif clock.state == CLOSED:
        closed = f" at {facts.told(area, clock.closes_at)}" if clock.closes_at else ""
        state, sentence = State.NOT_MET, f"Begun after the window had closed{closed}."
    else:
        state, sentence = (
            State.MET,
            f"Begun while it was open; the coat below ended {facts.told(area, window.ended_at)}.",
        )
    yield Link(key=key, title=title, state=state, sentence=sentence, source=source, kind="lot", id=lot.pk)


def holds_before(facts: Facts, area: UUID, coat: Coat, begun: datetime | None) -> Iterator[Link]:
    """Each hold point of an earlier step: whether it was released or waived when the coat was begun, or is now."""
    for point in facts.holds.get(area, ()):
        if (point.coat and point.coat.order >= coat.order) or point.planned_at > (begun or facts.at):
            continue
        state, sentence = _hold_state(facts, area, point, begun)
        yield Link(
            key=f"hold:{point.pk}", title=f"Hold point: {point.title}", state=state, sentence=sentence,
            source=_hold_source(point), kind="point", id=point.pk,
        )  # fmt: skip


def _hold_source(point: HoldPoint) -> str:
    return of_plan(point.line) if point.line else "Planned by hand"


def _hold_state(facts: Facts, area: UUID, point: HoldPoint, begun: datetime | None) -> tuple[State, str]:
    decided = facts.decided.get(point.pk, [])
    then = [decision for decision in decided if begun is None or decision.at <= begun]
    last = then[-1] if then else None
    if last and last.left_as in FREE:
        told = f"{last.get_outcome_display()} {facts.told(area, last.at)} by {last.signed_as}."
        return State.MET, told
    if begun is None:
        return State.NOT_MET, f"{point.get_state_display()}: nobody has released or waived it."
    later = next((decision for decision in decided if decision.at > begun and decision.left_as in FREE), None)
    after = f" It was {later.left_as} only at {facts.told(area, later.at)}." if later else ""
    return State.NOT_MET, f"Nobody had released or waived it at {facts.told(area, begun)}, when work went on.{after}"
