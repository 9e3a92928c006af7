"""The chain on the page of a lot, which lies in a room below this one."""

from __future__ import annotations

from typing import Any

from django import template

from accounts.models import Person
from inspection.holdpoints.chain.of_lot import MOST_PLACES, chains_of_lot, counted
from inspection.works.models import Lot

register = template.Library()


@register.inclusion_tag("holdpoints/chain_of_lot.html")
def chain_of_lot(user: Person, lot: Lot) -> dict[str, Any]:
    """What had to come before the lot, place by place; as many reads for many places as for one."""
    places = chains_of_lot(user, lot)
    return {
        "places": places[:MOST_PLACES], "others": places[MOST_PLACES:], "counted": counted(places),
        "linked": not user.is_contractors,
    }  # fmt: skip
