"""The chain of a lot at each of its places, as far as a person is told of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from inspection.holdpoints.chain.links import MARKS, WORST_FIRST, Chain, State, not_met, not_recorded, outlined
from inspection.holdpoints.chain.told import of_lots
from inspection.projects.models import InspectionArea
from inspection.works.models import Lot, LotPlace

# So many places of a lot are told link by link on its page, those that lack something first; of the others, how they
# stand.
MOST_PLACES = 50


@dataclass(frozen=True)
class PlaceChain:
    """What had to come before a lot at one of its places."""

    area: InspectionArea
    chain: Chain

    @property
    def state(self) -> State:
        """As its worst link; met where nothing is asked for."""
        states = {link.state for link in self.chain}
        return next((each for each in WORST_FIRST if each in states), State.MET)

    @property
    def mark(self) -> str:
        return MARKS[self.state]

    @property
    def lacking(self) -> list[str]:
        """The links that are not met, then those not recorded, by their titles."""
        return [link.title for link in (*not_met(self.chain), *not_recorded(self.chain))]


def chains_of_lot(person: Person, lot: Lot) -> list[PlaceChain]:
    """At each place of the lot by its code, those first that lack something; for a lot that counts.

    As many reads for many places as for one.
    """
    places = LotPlace.objects.filter(lot=lot).select_related("area__structure").order_by("area__code", "pk")
    areas = [place.area for place in places]
    chains = of_lots([lot], {lot.pk: [area.pk for area in areas]})
    found = [PlaceChain(area, _as_told(person, chains[lot.pk, area.pk])) for area in areas]
    return sorted(found, key=lambda each: WORST_FIRST.index(each.state))


def counted(places: Iterable[PlaceChain]) -> list[tuple[str, str, int]]:
    """How many places stand how, the worst first, each with its mark."""
    many = Counter(place.state for place in places)
    return [(MARKS[each], each.value, many[each]) for each in WORST_FIRST if many[each]]


def _as_told(person: Person, chain: Chain) -> Chain:
    return outlined(chain) if person.is_contractors else chain


def areas_of(lots: Iterable[Lot]) -> dict[UUID, list[UUID]]:
    """By lot its areas; one read."""
    found: dict[UUID, list[UUID]] = {}
    rows = LotPlace.objects.filter(lot__in=list(lots)).order_by("area__code", "pk")
    for lot, area in rows.values_list("lot", "area"):
        found.setdefault(lot, []).append(area)
    return found
