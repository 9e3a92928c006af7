"""Evidence as a painting contractor's people are told of it: whether it carries a release, without its records."""

from __future__ import annotations

from dataclasses import dataclass

from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.holdpoints.chain.links import Chain, Link, not_met, not_recorded, outlined
from inspection.holdpoints.evidence import Evidence

RELIED = "cannot be relied on yet"
FAILED_CLIMATE = "A climate record of this area and coat failed."
CHAIN_NOT_MET = "Something that had to come before is not met."
OPEN_REWORK = "Rework of this area is not closed."
WITHDRAWN_PAINT = "Paint of this area is of a batch that was withdrawn."


@dataclass(frozen=True)
class Needed:
    """One thing that a release of the point rests on, and how it stands in words."""

    title: str
    carries: bool
    words: str


@dataclass(frozen=True)
class Outline:
    digest: str
    needed: tuple[Needed, ...]
    why_not: tuple[str, ...]
    to_accept: tuple[str, ...]
    hangs_on: str
    # Whether any was recorded while the coat went on.
    climate: bool
    # What had to come before, without what says so.
    chain: Chain = ()

    @property
    def links_not_met(self) -> list[Link]:
        return not_met(self.chain)

    @property
    def links_not_recorded(self) -> list[Link]:
        return not_recorded(self.chain)

    @property
    def releasable(self) -> bool:
        return not self.why_not


def outline_of(evidence: Evidence) -> Outline:
    needed = []
    if evidence.point.measured:
        needed.append(_needed(evidence.kind.title, evidence.record, evidence.measurement_faults))
    needed += [_needed(each.kind.title, each.record, each.faults) for each in evidence.required]
    return Outline(
        digest=evidence.digest,
        needed=tuple(needed),
        why_not=(*(f"{each.title}: {each.words}." for each in needed if not each.carries), *evidence.still_open),
        to_accept=(
            *(FAILED_CLIMATE,) * len(evidence.failed_climate),
            *(CHAIN_NOT_MET,) * bool(evidence.links_not_met),
            *(OPEN_REWORK,) * bool(evidence.rework),
            *(WITHDRAWN_PAINT,) * bool(evidence.paint),
        ),
        hangs_on=evidence.hangs_on,
        climate=bool(evidence.climate) or evidence.point.coat is None,
        chain=outlined(evidence.chain),
    )


def _needed(title: str, record: Record | None, faults: list[str]) -> Needed:
    if record is None:
        return Needed(title, not faults, "not recorded yet")
    verdict = record.get_verdict_display().lower()
    return Needed(title, not faults, f"{verdict}, {RELIED}" if faults and record.verdict == "pass" else verdict)


def why_not_told(person: Person, evidence: Evidence) -> list[str]:
    """Why the point cannot be released, as far as the person is told."""
    return list(outline_of(evidence).why_not) if person.is_contractors else evidence.why_not
