"""Which links of a chain are not met since a release, and were not accepted with it: the one rule over what it kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.utils import timezone

from inspection.fieldwork.models import Record
from inspection.holdpoints.chain.asked_of_steel import STEEL_KINDS
from inspection.holdpoints.chain.facts import Facts, facts_of
from inspection.holdpoints.chain.links import Link, State, not_met
from inspection.holdpoints.chain.told import chains_of, steps_of
from inspection.holdpoints.models import Decision, HoldPoint, Requirement

# Links that are told whatever was recorded, as soon as something asks for them.
ON_DEMAND = frozenset({*STEEL_KINDS, "pre_cleaning", "first_coat_in_time", "recoat_window"})
HOLD, STRIPE = "hold:", "stripe:"
# By link how it stood when the point was released; None of a release that kept no chain.
Kept = dict[str, str] | None


def kept_at_release(points: Iterable[HoldPoint]) -> dict[UUID, Kept]:
    """By released point how the links of its chain stood when it was last released."""
    released = [point.pk for point in points if point.state == HoldPoint.State.RELEASED]
    if not released:
        return {}
    rows = Decision.objects.filter(point__among=released, outcome=Decision.Outcome.RELEASED).order_by("number")
    found: dict[UUID, Kept] = {}
    for point, chain in rows.values_list("point", "evidence__chain"):
        found[point] = None if chain is None else {link["link"]: link["state"] for link in chain}
    return found


def since_release(links: Iterable[Link], kept: Kept) -> list[Link]:
    """Of links that are not met those that the release did not accept.

    What was asked for only later is none: a demand puts no release in doubt that was given before it.
    """
    if kept is None:
        return []
    return [
        link for link in links
        if kept.get(link.key, "" if _on_demand(link) else State.MET) in (State.MET, State.NOT_RECORDED)
    ]  # fmt: skip


def _on_demand(link: Link) -> bool:
    return link.key in ON_DEMAND or link.key.startswith((HOLD, STRIPE))


def breaking(links: Iterable[Link]) -> list[Link]:
    """Of links not met since a release those that put it in doubt; of holds it is told that they were passed over."""
    return [link for link in links if not link.key.startswith(HOLD)]


def but_climate_told(links: Iterable[Link], failed: Iterable[Any]) -> list[Link]:
    """Without the links that only say that a climate record failed which is told, and was accepted, as itself."""
    told = {row.pk for row in failed}
    return [link for link in links if link.id not in told]


def failed_climate(facts: Facts, point: HoldPoint) -> list[Any]:
    """The climate records of the point's area and coat that failed."""
    rows = facts.climate.get((point.area_id, point.coat_id), ()) if point.coat_id else ()
    return [row for row in rows if row.verdict == Record.Verdict.FAIL]


def broken(points: Iterable[HoldPoint]) -> set[UUID]:
    """Those of the points whose release is in doubt by a link of their chain; as many reads for many as for one."""
    kept = {pk: chain for pk, chain in kept_at_release(points).items() if chain is not None}
    released = [point for point in points if point.pk in kept]
    if not released:
        return set()
    kinds: dict[UUID, set[str]] = defaultdict(set)
    for pk, kind in Requirement.objects.filter(point__among=list(kept)).values_list("point", "kind"):
        kinds[pk].add(kind)
    steps = steps_of(released, {pk: frozenset(names) for pk, names in kinds.items()})
    facts = facts_of(steps, timezone.now())
    found = set()
    for point, chain in zip(released, chains_of(steps, facts), strict=True):
        links = but_climate_told(not_met(chain), failed_climate(facts, point))
        if breaking(since_release(links, kept[point.pk])):
            found.add(point.pk)
    return found
