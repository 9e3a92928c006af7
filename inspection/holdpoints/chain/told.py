"""The chain of each step: what had to come before it, whether it did, and by what. The one rule for lots and points.

A link is there only where the coating system, a data sheet, a line of the plan or the rule cited asks for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from uuid import UUID

from django.utils import timezone

from inspection.holdpoints.chain import before_coat, climate, on_steel, paint
from inspection.holdpoints.chain.asked_of_steel import AFTER_BLAST, BEFORE_BLAST, ON_STEEL
from inspection.holdpoints.chain.facts import Facts, Step, facts_of
from inspection.holdpoints.chain.links import Chain, Link, State, not_met, worst_of
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import Coat, StripeCoat
from inspection.works.lots.windows import Asked, Window, windows_at
from inspection.works.models import Lot

Moment = tuple[UUID, UUID, datetime]
Windows = dict[Moment, Window | None]
Activity = Lot.Activity


def chains_of(steps: Sequence[Step], facts: Facts | None = None) -> list[Chain]:
    """The chain of each of the steps, in their order, as it is known now; as many reads for many as for one."""
    if not steps:
        return []
    facts = facts or facts_of(steps, timezone.now())
    windows = _windows(facts, steps)
    return [_chain(facts, windows, step) for step in steps]


def steps_of(points: Sequence[HoldPoint], required: dict[UUID, frozenset[str]]) -> list[Step]:
    """What is asked for each of the points; `required` are by point the kinds of record that it rests on itself."""
    return [Step(point.area_id, point.coat_id, besides=required.get(point.pk, frozenset())) for point in points]


def of_lots(lots: Iterable[Lot], areas: dict[UUID, list[UUID]]) -> dict[tuple[UUID, UUID], Chain]:
    """By lot and area its chain there; the areas of each lot are given."""
    pairs = [(lot, area) for lot in lots for area in areas.get(lot.pk, ())]
    steps = [Step(area, lot.coat_id, lot) for lot, area in pairs]
    return {(lot.pk, area): chain for (lot, area), chain in zip(pairs, chains_of(steps), strict=True)}


def _chain(facts: Facts, windows: Windows, step: Step) -> Chain:
    coat = facts.coats.get(step.coat) if step.coat else None
    if coat is None:
        return tuple(_of_steel(facts, step))
    if step.lot:
        return (*_of_lot(facts, windows, step.area, coat, step.lot), *paint.in_quarantine(facts, [step.lot]))
    lots = facts.laid_by(step.area, coat)
    if lots:
        stands = worst_of(_of_lot(facts, windows, step.area, coat, lot) for lot in lots)
    else:
        stands = tuple(_without_lot(facts, step.area, coat))
    in_film = _lots_in_film(facts, step.area, coat)
    return (*stands, *paint.in_quarantine(facts, in_film), *_of_gone(facts, windows, step.area, coat))


def _lots_in_film(facts: Facts, area: UUID, coat: Coat) -> list[Lot]:
    """What the coat and those below it are of there: stripe coats and repairs too, without what stands no more."""
    below = {each.pk: each for each in facts.film(area, coat) if each.order <= coat.order}
    gone = {lot.pk for each in below.values() for lot in facts.gone(area, each)}
    names = {*below, *(each.carries_on_id for each in below.values())} - {None}
    return [lot for lot in facts.lots.get(area, ()) if lot.coat_id in names and lot.pk not in gone]


def _of_gone(facts: Facts, windows: Windows, area: UUID, coat: Coat) -> Iterator[Link]:
    """Of lots that stand no more: that they were, and what of their chain was not met. It keeps nothing back."""
    gone = facts.gone(area, coat)
    if not gone:
        return
    missed = not_met(worst_of(_of_lot(facts, windows, area, coat, lot) for lot in gone))
    unmet = f" Of it was not met: {', '.join(link.title.lower() for link in missed)}." if missed else ""
    named = ", ".join(f"{lot} of {facts.told(area, lot.begun_at)}" for lot in gone)
    many = "it was" if len(gone) == 1 else "they were"
    yield Link(
        key="done_again", title="Done again", state=State.MET, kind="lot", id=gone[-1].pk,
        sentence=f"{named}: {many} blasted off, or coated over whole after a failure, and no more counts.{unmet}",
        source="The lots as they stand",
    )  # fmt: skip


def _of_steel(facts: Facts, step: Step) -> Iterator[Link]:
    """Of bare steel: what comes before the blast, for a lot that blasts and a point that rests on what comes after."""
    area, lot = facts.areas[step.area], step.lot
    if lot and lot.activity == Activity.BLAST:
        yield from on_steel.pre_cleaning(facts, step.area, lot.begun_at)
        yield from on_steel.of_kinds(facts, step.area, area.system, BEFORE_BLAST, lot.begun_at)
    elif lot and lot.activity == Activity.REPAIR:
        yield from paint.paint_links(facts, step.area, lot)
    elif lot is None:
        film = facts.films.get(step.area, [])
        begun = facts.begun(step.area, film[0]) if film else None
        if step.besides and step.besides <= AFTER_BLAST.keys():
            yield from on_steel.of_kinds(facts, step.area, area.system, BEFORE_BLAST, begun)


def _of_lot(facts: Facts, windows: Windows, area: UUID, coat: Coat, lot: Lot) -> Iterator[Link]:
    """Of a coat, a stripe coat or a repair with paint, as it was when the lot was begun."""
    if lot.activity != Activity.REPAIR:
        yield from _under(facts, windows, area, coat, lot)
    yield from climate.climate_links(facts, area, coat, lot)
    yield from paint.paint_links(facts, area, lot)
    if lot.activity != Activity.REPAIR:
        yield from before_coat.holds_before(facts, area, coat, lot.begun_at)


def _under(facts: Facts, windows: Windows, area: UUID, coat: Coat, lot: Lot) -> Iterator[Link]:
    below, film = _below(facts, area, coat), facts.film(area, coat)
    first = film[0] if film else coat
    yield from _steel_under(facts, area, first, lot.begun_at if below is None else None, at=lot.begun_at)
    if lot.activity == Activity.STRIPE and lot.stripe and lot.stripe.side == StripeCoat.Side.AFTER:
        yield before_coat.previous_coat(facts, area, coat, lot.begun_at)
        return
    if below:
        yield before_coat.previous_coat(facts, area, below, lot.begun_at)
        window = windows.get((area, coat.pk, lot.begun_at))
        yield from before_coat.recoat_window(facts, area, below, coat, window)
    if lot.activity == Activity.COAT:
        yield from before_coat.stripes(facts, area, coat, below, lot.begun_at)


def _without_lot(facts: Facts, area: UUID, coat: Coat) -> Iterator[Link]:
    """Of a coat of which no lot is recorded: as it was when it was first measured; before that, as it is now."""
    begun = facts.begun(area, coat)
    below, film = _below(facts, area, coat), facts.film(area, coat)
    yield from _steel_under(facts, area, film[0] if film else coat, begun if below is None else None, at=begun)
    at = begun or facts.at
    if below:
        yield before_coat.previous_coat(facts, area, below, at)
    yield from before_coat.stripes(facts, area, coat, below, at)
    if begun:
        yield climate.climate_without_lot(facts, area, coat)
    yield from before_coat.holds_before(facts, area, coat, begun)


def _steel_under(
    facts: Facts, area: UUID, first: Coat, begun: datetime | None, *, at: datetime | None
) -> Iterator[Link]:
    """What was asked of the steel before the first coat, where it went on: by a lot given, or by each that stood."""
    lots = [] if begun else facts.laid_by(area, first, at) or facts.laid_by(area, first)
    moments: list[datetime | None] = [begun] if begun else [lot.begun_at for lot in lots]
    chains = [
        [
            *on_steel.of_kinds(facts, area, first.system, ON_STEEL, moment),
            *(on_steel.first_coat_in_time(facts, area, first.system, moment) if moment else ()),
        ]
        for moment in moments or [facts.begun(area, first)]
    ]
    yield from worst_of(chains)


def _below(facts: Facts, area: UUID, coat: Coat) -> Coat | None:
    film = facts.film(area, coat)
    place = next((number for number, each in enumerate(film) if each.pk == coat.pk), 0)
    return film[place - 1] if place else None


def _windows(facts: Facts, steps: Sequence[Step]) -> Windows:
    """The recoat windows of all the steps, each at the moment at which its lot was begun."""
    asked: dict[Moment, Asked] = {}
    for step in steps:
        coat = facts.coats.get(step.coat) if step.coat else None
        if coat is None or _below(facts, step.area, coat) is None:
            continue
        lots = [*facts.laid_by(step.area, coat), *facts.gone(step.area, coat)]
        for lot in [step.lot] if step.lot else lots:
            moment = (step.area, coat.pk, lot.begun_at)
            asked[moment] = Asked(facts.areas[step.area], lot.begun_at, coat.order)
    return dict(zip(asked, windows_at(list(asked.values())), strict=True))
