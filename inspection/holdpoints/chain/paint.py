"""The links of the paint of a lot: whether its batches were in date and fit, and its mixes within their usable time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from uuid import UUID

from inspection.holdpoints.chain.asked_of_steel import of_plan
from inspection.holdpoints.chain.facts import Facts
from inspection.holdpoints.chain.links import WORST_FIRST, Link, State
from inspection.plan.models import PlanLine
from inspection.works.models import Lot, LotMix
from inspection.works.paint.fitness import fitness, set_apart

# Lines by which a plan asks which batches went where.
OF_BATCHES = (PlanLine.Activity.RECEIPT, PlanLine.Activity.MIXING)


def paint_links(facts: Facts, area: UUID, lot: Lot) -> Iterator[Link]:
    mixes = facts.mixes.get(lot.pk, [])
    yield from _batches(facts, area, lot, mixes)
    told = [_usable(facts, area, lot, row) for row in mixes if row.mix.usable_from or row.mix.usable_until]
    if told:
        yield min(told, key=_worst)


def _worst(link: Link) -> int:
    return WORST_FIRST.index(link.state)


def _batches(facts: Facts, area: UUID, lot: Lot, mixes: list[LotMix]) -> Iterator[Link]:
    key, title = "batches", "Batches in date"
    parts = [part for row in mixes for part in facts.parts.get(row.mix_id, ())]
    if not parts:
        line = next((each for each in facts.lines_at(facts.areas[area]) if each.activity in OF_BATCHES), None)
        if line:
            yield Link(
                key=key, title=title, state=State.NOT_RECORDED, sentence=f"No mix of batches is recorded for {lot}.",
                source=of_plan(line),
            )  # fmt: skip
        return
    told = []
    for part in parts:
        found = fitness(part.batch, lot.begun_at)
        if doubts := found.lasting if not set_apart(part.batch, facts.at) else found.doubts:
            state, sentence = State.NOT_MET, " ".join(doubts)
        elif found.in_quarantine:
            state, sentence = State.MET, f"{part.batch} was in quarantine then, and is released from it."
        elif found.until is None:
            state, sentence = State.NOT_RECORDED, f"{part.batch}: its expiry is not recorded."
        else:
            state, sentence = State.MET, f"{part.batch}: {found.words.lower()}."
        told.append(
            Link(
                key=key, title=title, state=state, sentence=sentence, kind="batch", id=part.batch_id,
                source="Shelf life as the maker states it for the batch",
            )
        )  # fmt: skip
    yield min(told, key=_worst)


def in_quarantine(facts: Facts, lots: Iterable[Lot]) -> Iterator[Link]:
    """That the lots took of a batch which is in quarantine now: until it is released nobody knows whether it was fit.

    There is no such link before and after; what was withdrawn is told by itself.
    """
    told: dict[UUID, list[Lot]] = defaultdict(list)
    why: dict[UUID, str] = {}
    for lot in lots:
        parts = (part for row in facts.mixes.get(lot.pk, ()) for part in facts.parts.get(row.mix_id, ()))
        for batch in {part.batch_id: part.batch for part in parts}.values():
            if sentence := set_apart(batch, facts.at):
                told[batch.pk].append(lot)
                why[batch.pk] = sentence
    if why:
        sentences = [f"{each.rstrip('.')}; in {', '.join(map(str, told[pk]))}." for pk, each in why.items()]
        yield Link(
            key="quarantine", title="Paint in quarantine", state=State.NOT_MET, sentence=" ".join(sentences),
            kind="batch", id=next(iter(why)), source="Until the batch is released from quarantine",
        )  # fmt: skip


def _usable(facts: Facts, area: UUID, lot: Lot, row: LotMix) -> Link:
    """Whether the lot ended within the time in which its mix may be used, as the data sheet states it."""
    mix = row.mix
    ended = facts.ended(lot)
    last = ended or facts.at
    state = State.MET
    sentence = f"{mix}, usable until {facts.told(area, mix.usable_until)}." if mix.usable_until else f"{mix} was ready."
    if mix.usable_from and last < mix.usable_from:
        state, sentence = State.NOT_MET, f"{mix} was usable only from {facts.told(area, mix.usable_from)}."
    elif mix.usable_until and last > mix.usable_until:
        until = facts.told(area, mix.usable_until)
        if ended:
            state, sentence = State.NOT_MET, f"{mix}: its pot life ended {until}, before {lot} did."
        else:
            state = State.NOT_RECORDED
            sentence = f"{mix}: its pot life ended {until}; when {lot} ended is not recorded."
    return Link(
        key="pot_life", title="Pot life", state=state, sentence=sentence, kind="mix", id=mix.pk,
        source=f"Data sheet {mix.sheet_told}" if mix.sheet_told else "Data sheet of the paint",
    )  # fmt: skip
