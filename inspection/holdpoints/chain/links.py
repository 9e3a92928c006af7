"""The links of a chain: what had to come before, whether it did, what says so, and what asks for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.urls import reverse


class State(StrEnum):
    """The chain says no more than is recorded: that nothing is known of a link is a state of its own."""

    MET = "met"
    NOT_MET = "not met"
    NOT_RECORDED = "not recorded"


# Of one link at several lots the worst counts.
WORST_FIRST = (State.NOT_MET, State.NOT_RECORDED, State.MET)

MARKS = {State.MET: "pass", State.NOT_MET: "fail", State.NOT_RECORDED: "incomplete"}


@dataclass(frozen=True, kw_only=True)
class Link:
    """One thing that had to come before. There is one only where something asks for it: `source` says what."""

    # Which link it is, so that the same one at several lots of a place is told once; of a hold point with its id.
    key: str
    title: str
    state: State
    sentence: str
    source: str
    # The name of the address of what says so, with its id; neither where nothing does.
    kind: str = ""
    id: UUID | None = None

    @property
    def address(self) -> str:
        return reverse(self.kind, args=[self.id]) if self.kind else ""

    @property
    def told(self) -> str:
        """Its sentence, with what it is of where that does not begin with it."""
        return self.sentence if self.sentence.startswith(self.title) else f"{self.title}: {self.sentence}"

    @property
    def mark(self) -> str:
        return MARKS[self.state]

    @property
    def is_met(self) -> bool:
        return self.state == State.MET

    @property
    def content(self) -> dict[str, Any]:
        """As a decision keeps it: not its words, which tell times in the zone of the project."""
        on = str(self.id) if self.id else None
        return {"link": self.key, "title": self.title, "state": self.state.value, "on": on}


Chain = tuple[Link, ...]


def worst_of(chains: Iterable[Iterable[Link]]) -> Chain:
    """One chain of several: each link once, as it stands where it stands worst."""
    found: dict[str, Link] = {}
    for chain in chains:
        for link in chain:
            held = found.get(link.key)
            if held is None or WORST_FIRST.index(link.state) < WORST_FIRST.index(held.state):
                found[link.key] = link
    return tuple(found.values())


def not_met(chain: Iterable[Link]) -> list[Link]:
    return [link for link in chain if link.state == State.NOT_MET]


def not_recorded(chain: Iterable[Link]) -> list[Link]:
    return [link for link in chain if link.state == State.NOT_RECORDED]


def outlined(chain: Iterable[Link]) -> Chain:
    """As a painting contractor's people are told of it: how each link stands, without the record and who decided."""
    return tuple(
        Link(key=link.key, title=_plain_title(link), state=link.state, sentence="", source=_plain_source(link))
        for link in chain
    )


def _plain_title(link: Link) -> str:
    return "Hold point before it" if link.key.startswith("hold:") else link.title


def _plain_source(link: Link) -> str:
    return "" if link.key.startswith("hold:") else link.source
