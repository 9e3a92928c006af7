"""The links of the steel: what was asked of it before its first coat, and how long it lay bare."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from uuid import UUID

from inspection.fieldwork.cleanliness.models import CleanlinessRecord
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.look.models import LookRecord
from inspection.fieldwork.models import Record
from inspection.holdpoints.chain.asked_of_steel import asked_by, of_plan
from inspection.holdpoints.chain.facts import Facts
from inspection.holdpoints.chain.links import Link, State
from inspection.plan.models import PlanLine
from inspection.projects.models import CoatingSystem
from inspection.standing.models import Standing
from inspection.works.models import Lot

BY_VERDICT = {Record.Verdict.PASS: State.MET, Record.Verdict.FAIL: State.NOT_MET}
IN_QUESTION = Standing.State.IN_QUESTION


def state_of(record: Record) -> State:
    """A record that is incomplete, was not judged or cannot be relied on leaves the link open."""
    standing = getattr(record, "standing", None)
    if standing and standing.state == IN_QUESTION and record.verdict == Record.Verdict.PASS:
        return State.NOT_RECORDED
    return BY_VERDICT.get(Record.Verdict(record.verdict), State.NOT_RECORDED)


def by_record(facts: Facts, key: str, title: str, record: Record, source: str) -> Link:
    standing = getattr(record, "standing", None)
    doubt = ", in question" if standing and standing.state == IN_QUESTION else ""
    verdict = record.get_verdict_display().lower()
    return Link(
        key=key, title=title, state=state_of(record), source=source, kind=record.kind, id=record.pk,
        sentence=f"{BY_NAME[record.kind].title} of {facts.told(record.area_id, record.taken_at)}: {verdict}{doubt}.",
    )  # fmt: skip


def of_kinds(
    facts: Facts, area: UUID, system: CoatingSystem, kinds: Iterable[str], before: datetime | None
) -> Iterator[Link]:
    """A link for each of the kinds that something asks for, as it stood at the moment; None: as it stands now."""
    lines = facts.lines_at(facts.areas[area])
    for kind in kinds:
        source = asked_by(system, kind, lines)
        if not source:
            continue
        title = BY_NAME[kind].title
        record = facts.newest(area, None, kind, before)
        if record:
            yield by_record(facts, kind, title, record, source)
        else:
            yield Link(
                key=kind, title=title, state=State.NOT_RECORDED, source=source,
                sentence=_none_yet(facts, area, BY_NAME[kind].one, kind, before),
            )  # fmt: skip


def _none_yet(facts: Facts, area: UUID, one: str, kind: str, before: datetime | None) -> str:
    rows = facts.records.get((area, None, kind), ())
    if before and rows:
        return f"No {one} before it was begun; the first is of {facts.told(area, rows[0].taken_at)}."
    return f"No {one} on this area."


def pre_cleaning(facts: Facts, area: UUID, before: datetime) -> Iterator[Link]:
    """That the steel was pre-cleaned before it was blasted, where the plan has a line for it."""
    lines = facts.lines_at(facts.areas[area])
    line = next((each for each in lines if each.activity == PlanLine.Activity.PRE_CLEANING), None)
    if line is None:
        return
    done = [lot for lot in facts.lots.get(area, ()) if lot.activity == Lot.Activity.PRECLEAN]
    yield by_lots(facts, area, done, before, key="pre_cleaning", title="Pre-cleaning", source=of_plan(line))


def by_lots(
    facts: Facts, area: UUID, lots: list[Lot], before: datetime, *, key: str, title: str, source: str
) -> Link:  # fmt: skip
    """Whether lots that had to be done before a moment were, by their begin and end."""
    earlier = [lot for lot in lots if lot.begun_at <= before]
    lot = max(
        earlier or lots, key=lambda each: (not facts.ended(each), facts.ended(each) or each.begun_at), default=None
    )
    if lot is None:
        return Link(
            key=key, title=title, state=State.NOT_RECORDED, source=source, sentence="No lot of it is recorded here."
        )
    begun = facts.told(area, lot.begun_at)
    if not earlier:
        state, sentence = State.NOT_MET, f"{lot} was begun only at {begun}."
    elif (ended := facts.ended(lot)) is None:
        state, sentence = State.NOT_RECORDED, f"{lot}, begun {begun}; when it ended is not recorded."
    elif ended > before:
        state, sentence = State.NOT_MET, f"{lot} ended only at {facts.told(area, ended)}."
    else:
        state, sentence = State.MET, f"{lot}, ended {facts.told(area, ended)}."
    return Link(key=key, title=title, state=state, sentence=sentence, source=source, kind="lot", id=lot.pk)


# --- how long it lay bare ---------------------------------------------------------------------------------------------


def first_coat_in_time(facts: Facts, area: UUID, system: CoatingSystem, begun: datetime) -> Iterator[Link]:
    """The hours from the blast to the first coat, ends included, where the system limits them.

    Past the limit it is met all the same where the steel was looked at again after it and passed; visible rust fails
    whatever the clock (common practice, no source).
    """
    limit = system.first_coat_within_h
    if limit is None:
        return
    blasts = [lot for lot in facts.lots.get(area, ()) if lot.activity == Lot.Activity.BLAST and lot.begun_at <= begun]
    blast = blasts[-1] if blasts else None
    ended = facts.ended(blast) if blast else None
    looks = _looks(facts, area, ended, begun)
    last = looks[-1] if looks else None
    source = f"Coating system {system}: first coat within {limit.normalize():f} h of the blast"
    title, key = "First coat in time", "first_coat_in_time"
    if last and state_of(last) == State.NOT_MET:
        yield by_record(facts, key, title, last, source)
    elif blast and ended and ended <= begun:
        hours = (begun - ended) / timedelta(hours=1)
        again = last and last.taken_at >= ended + timedelta(hours=float(limit)) and state_of(last) == State.MET
        if hours > limit and again and last:
            yield by_record(facts, key, title, last, source)
        else:
            yield Link(
                key=key, title=title, state=State.MET if hours <= limit else State.NOT_MET, source=source,
                sentence=f"{blast} ended {facts.told(area, ended)}, {hours:.1f} h before the first coat.",
                kind="lot", id=blast.pk,
            )  # fmt: skip
    elif last and last.kind == LookRecord.KIND:
        yield by_record(facts, key, title, last, source)
    else:
        yield Link(
            key=key,
            title=title,
            state=State.NOT_RECORDED,
            source=source,
            sentence="When the blast ended is not recorded.",
        )


def _looks(facts: Facts, area: UUID, since: datetime | None, until: datetime) -> list[Record]:
    """What was seen of the blasted steel between two moments, oldest first."""
    rows = [
        record
        for kind in (CleanlinessRecord.KIND, LookRecord.KIND)
        for record in facts.records.get((area, None, kind), ())
        if (since is None or record.taken_at >= since) and record.taken_at <= until
    ]
    return sorted(rows, key=lambda record: (record.taken_at, record.pk))
