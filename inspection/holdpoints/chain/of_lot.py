"""The chain of a lot at each of its places, as far as a person is told of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from inspection.holdpoints.chain.links import Chain, State, outlined
from inspection.holdpoints.chain.told import of_lots
from inspection.projects.models import InspectionArea
from inspection.works.models import Lot, LotPlace

# So many places of a lot are told; of more it is said how many.
MOST_PLACES = 50


@dataclass(frozen=True)
class PlaceChain:
    """What had to come before a lot at one of its places."""

    area: InspectionArea
    chain: Chain

    @property
    def not_met(self) -> bool:
        return any(link.state == State.NOT_MET for link in self.chain)


def chains_of_lot(person: Person, lot: Lot) -> list[PlaceChain]:
    """At each place of the lot by its code, those where something is not met first; for a lot that counts."""
    places = LotPlace.objects.filter(lot=lot).select_related("area__structure").order_by("area__code", "pk")
    return _told(person, lot, [place.area for place in places[:MOST_PLACES]])


def _told(person: Person, lot: Lot, areas: Sequence[InspectionArea]) -> list[PlaceChain]:
    chains = of_lots([lot], {lot.pk: [area.pk for area in areas]})
    found = [PlaceChain(area, _as_told(person, chains[lot.pk, area.pk])) for area in areas]
    return sorted(found, key=lambda each: not each.not_met)


def _as_told(person: Person, chain: Chain) -> Chain:
    return outlined(chain) if person.is_contractors else chain


def areas_of(lots: Iterable[Lot]) -> dict[UUID, list[UUID]]:
    """By lot its areas; one read."""
    found: dict[UUID, list[UUID]] = {}
    rows = LotPlace.objects.filter(lot__in=list(lots)).order_by("area__code", "pk")
    for lot, area in rows.values_list("lot", "area"):
        found.setdefault(lot, []).append(area)
    return found
