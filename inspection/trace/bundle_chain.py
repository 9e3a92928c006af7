"""The chains in an evidence bundle: what had to come before each hold point and each lot in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from accounts.models import Person
from inspection.holdpoints.chain.links import Chain, Link, outlined
from inspection.holdpoints.chain.of_lot import areas_of
from inspection.holdpoints.chain.told import of_lots
from inspection.holdpoints.evidence import evidence_of_many
from inspection.holdpoints.models import HoldPoint
from inspection.works.models import Lot


def chains_in(person: Person, points: Sequence[UUID], lots: Sequence[UUID]) -> dict[str, Any]:
    """By id the chain of each point, and of each lot at each of its areas; as many reads for many as for one.

    Of a lot that was withdrawn or corrected nothing is told.
    """
    of_points = _of_points(points)
    rows = list(Lot.objects.that_count().filter(pk__among=list(lots)).select_related("coat__system", "stripe"))
    areas = areas_of(rows)
    by_lot: dict[str, dict[str, list[dict[str, Any]]]] = {}
    for (lot, area), chain in of_lots(rows, areas).items():
        by_lot.setdefault(str(lot), {})[str(area)] = _told(person, chain)
    told = {"holdpoints": {str(pk): _told(person, chain) for pk, chain in of_points.items()}, "lots": by_lot}
    return {name: each for name, each in told.items() if each}


def _of_points(ids: Sequence[UUID]) -> dict[UUID, Chain]:
    rows = HoldPoint.objects.filter(pk__among=list(ids)).select_related("project", "area", "coat", "line")
    return {pk: found.chain for pk, found in evidence_of_many(list(rows)).items()} if ids else {}


def in_words(told: dict[str, Any], pk: UUID) -> list[tuple[str, str]]:
    """The chain of one of the points, or of one of the lots wherever it lies, for the head of the readable part."""
    links = told.get("holdpoints", {}).get(str(pk)) or [
        link for chain in told.get("lots", {}).get(str(pk), {}).values() for link in chain
    ]
    return [
        (f"Before it: {link['title'].lower()}", f"{link['state'].capitalize()}. {link['sentence']}") for link in links
    ]


def _told(person: Person, chain: Chain) -> list[dict[str, Any]]:
    return [_link(link) for link in (outlined(chain) if person.is_contractors else chain)]


def _link(link: Link) -> dict[str, Any]:
    return {**link.content, "sentence": link.sentence, "asked_by": link.source, "kind": link.kind}
