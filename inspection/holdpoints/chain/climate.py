"""The links of climate: before the coat went on, while it did, and after, each by the readings of that time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from uuid import UUID

from inspection.fieldwork.models import Record
from inspection.holdpoints.chain.facts import Facts
from inspection.holdpoints.chain.links import Link, State
from inspection.holdpoints.chain.logged import Logged, logged_during
from inspection.projects.models import Coat
from inspection.works.lots.checks import CLIMATE_STANDS
from inspection.works.models import Lot

FAIL = Record.Verdict.FAIL
KIND = "climate"


def climate_links(facts: Facts, area: UUID, coat: Coat, lot: Lot) -> Iterator[Link]:
    own = facts.read(area, coat.pk)
    source = f"Limits of climate of {coat.told}, {coat.system}"
    readings = sorted([*own, *facts.read(area, None)], key=lambda row: (row.taken_at, row.pk))
    over = facts.ended(lot)
    ended = over or facts.at
    before = [row for row in readings if lot.begun_at - _stands(row) <= row.taken_at <= lot.begun_at]
    during = [row for row in readings if lot.begun_at < row.taken_at <= ended]
    yield _before(facts, area, lot, coat, before, source)
    yield _during(facts, area, coat, before, during, lot.begun_at, ended, source)
    if over:
        after = [row for row in own if row.taken_at > over and row.taken_at < _painted_over(facts, area, coat)]
        if after:
            yield _after(facts, area, after, source)


def climate_without_lot(facts: Facts, area: UUID, coat: Coat) -> Link:
    """Where nobody recorded when the coat went on: a reading that failed counts, one that passed says too little."""
    own = facts.read(area, coat.pk)
    source = f"Limits of climate of {coat.told}, {coat.system}"
    key, title = "climate", "Climate when it went on"
    failed = next((row for row in own if row.verdict == FAIL), None)
    if failed:
        return _by(facts, area, failed, key, title, State.NOT_MET, source, "when the coat went on is not recorded")
    told = (
        "Readings pass, but when the coat went on is not recorded." if own else "No climate is recorded for this coat."
    )
    return Link(key=key, title=title, state=State.NOT_RECORDED, sentence=told, source=source)


def _stands(row: Any) -> timedelta:
    """How long a reading counts: at a station as long as that says."""
    held: timedelta = row.station.holds_for if row.station else CLIMATE_STANDS
    return held


def _before(facts: Facts, area: UUID, lot: Lot, coat: Coat, rows: Sequence[Any], source: str) -> Link:
    key, title = "climate_before", "Climate before"
    last = rows[-1] if rows else None
    if last and last.verdict == FAIL:
        return _by(facts, area, last, key, title, State.NOT_MET, source, "the last before the coat went on")
    of_coat = [row for row in rows if row.coat_id == coat.pk]
    if of_coat:
        return _by(facts, area, of_coat[-1], key, title, State.MET, source)
    begun = facts.told(area, lot.begun_at)
    told = f"No reading for this coat stood when it went on at {begun}."
    if last:
        told += " One for no coat passed, which judges the margin above the dew point alone."
    return Link(key=key, title=title, state=State.NOT_RECORDED, sentence=told, source=source)


def _during(
    facts: Facts, area: UUID, coat: Coat, before: Sequence[Any], during: Sequence[Any], begun: datetime,
    ended: datetime, source: str,
) -> Link:  # fmt: skip
    key, title = "climate_during", "Climate during"
    failed = next((row for row in during if row.verdict == FAIL), None)
    if failed:
        return _by(facts, area, failed, key, title, State.NOT_MET, source, "while the coat went on")
    log = logged_during(facts, area, coat, begun, ended)
    if log and log.state == State.NOT_MET:
        return _by_log(log, key, title, source)
    read = [row for row in (*before[-1:], *during) if row.coat_id == coat.pk and row.verdict != FAIL]
    gap = _gap(read, begun, ended)
    if gap and log and log.state == State.MET:
        return _by_log(log, key, title, source)
    if gap:
        told = f"No reading for this coat stands from {facts.told(area, gap[0])} to {facts.told(area, gap[1])}."
        if log:
            return _by_log(log, key, title, source, also=told)
        return Link(key=key, title=title, state=State.NOT_RECORDED, sentence=told, source=source)
    return _by(facts, area, read[-1], key, title, State.MET, source)


def _by_log(log: Logged, key: str, title: str, source: str, *, also: str = "") -> Link:
    told = f"{also} {log.sentence}".strip()
    return Link(
        key=key, title=title, state=log.state, sentence=told, source=source, kind="logger_file", id=log.file
    )  # fmt: skip


def _gap(read: Sequence[Any], begun: datetime, ended: datetime) -> tuple[datetime, datetime] | None:
    """The first time of the application for which no reading stands."""
    if not read:
        return begun, ended
    if read[0].taken_at > begun:
        return begun, read[0].taken_at
    for row, until in pairwise([*((row, row.taken_at) for row in read), (None, ended)]):
        if row[0] and until[1] - row[1] > _stands(row[0]):
            return row[1] + _stands(row[0]), until[1]
    return None


def _after(facts: Facts, area: UUID, rows: Sequence[Any], source: str) -> Link:
    key, title = "climate_after", "Climate after"
    failed = next((row for row in rows if row.verdict == FAIL), None)
    if failed:
        return _by(facts, area, failed, key, title, State.NOT_MET, source, "after the coat went on")
    return _by(facts, area, rows[-1], key, title, State.MET, source)


def _painted_over(facts: Facts, area: UUID, coat: Coat) -> datetime:
    """When the next coat was begun; now, where it was not."""
    film = facts.film(area, coat)
    place = next((number for number, each in enumerate(film) if each.pk == coat.pk), len(film))
    later = [begun for each in film[place + 1 :] if (begun := facts.begun(area, each))]
    return min(later, default=facts.at + timedelta(days=1))


def _by(
    facts: Facts, area: UUID, row: Any, key: str, title: str, state: State, source: str, why: str = ""
) -> Link:  # fmt: skip
    at = f" at station {row.station.code}" if row.station else ""
    told = f"Climate{at} of {facts.told(area, row.taken_at)}: {row.get_verdict_display().lower()}"
    return Link(
        key=key, title=title, state=state, sentence=f"{told}, {why}." if why else f"{told}.", source=source, kind=KIND,
        id=row.pk,
    )  # fmt: skip
