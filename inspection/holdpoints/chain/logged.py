"""What a logger says of the climate while a coat went on: by the time within the coat's limits, and by its gaps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from inspection.fieldwork.climate.log_shown import HOUR_S
from inspection.fieldwork.climate.logger_files import Window
from inspection.holdpoints.chain.facts import Facts
from inspection.holdpoints.chain.links import State
from inspection.projects.models import Coat


@dataclass(frozen=True)
class Logged:
    """How a station's log stands for one application: outside for a time, not known throughout, or within."""

    state: State
    sentence: str
    file: UUID


def logged_during(facts: Facts, area: UUID, coat: Coat, begun: datetime, ended: datetime) -> Logged | None:
    """By the log that says the worst of those that know anything; none where no logger's file reaches into it.

    A log that is within the limits for the whole time outweighs one with gaps; time outside them is told whatever
    another logger says.
    """
    if ended <= begun:
        return None
    found = list(_told(facts, area, coat, begun, ended))
    order = (State.NOT_MET, State.MET, State.NOT_RECORDED)
    return min(found, key=lambda each: order.index(each.state), default=None)


def _told(facts: Facts, area: UUID, coat: Coat, begun: datetime, ended: datetime) -> Iterator[Logged]:
    for log in facts.logs.get(area, ()):
        window = log.over(begun, ended, coat)
        if window is None or not window.limits:
            continue
        share = window.judged.all
        whole = (window.begins, window.ends) == (begun, ended)
        if share.outside_s > 0:
            state = State.NOT_MET
        else:
            state = State.MET if whole and share.unknown_s == 0 else State.NOT_RECORDED
        yield Logged(state, _in_words(facts, area, log.serving.station.code, window), window.files[-1].pk)


def _in_words(facts: Facts, area: UUID, station: str, window: Window) -> str:
    found = window.judged
    hours = (window.ends - window.begins).total_seconds() / HOUR_S
    told = [f"Log of {station}: within the limits {found.all.within_pct:.0f} % of {_hours(hours)}"]
    if (longest := found.longest_breach) is not None:
        since = datetime.fromtimestamp(longest[0], UTC)
        told.append(f"outside them {_hours(found.all.outside_s / HOUR_S)}, first at {facts.told(area, _first(window))}")
        if len(found.breaches) > 1:
            told.append(f"longest {_hours((longest[1] - longest[0]) / HOUR_S)} from {facts.told(area, since)}")
    if found.all.unknown_s:
        gaps = found.gaps
        first = f" from {facts.told(area, datetime.fromtimestamp(gaps[0][0], UTC))}" if gaps else ""
        many = f"{len(gaps)} gaps, the first" if len(gaps) > 1 else "a gap"
        told.append(f"not known {_hours(found.all.unknown_s / HOUR_S)} ({many}{first})")
    return f"{'; '.join(told)}."


def _first(window: Window) -> datetime:
    return datetime.fromtimestamp(window.judged.breaches[0][0], UTC)


def _hours(hours: float) -> str:
    if hours >= 1:
        return f"{hours:.1f} h"
    minutes = round(hours * 60)
    return f"{minutes} min" if minutes else "less than a minute"
