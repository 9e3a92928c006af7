"""The cast at work: for each of the two projects one of everything that an address can name."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from accounts.models import Person
from tests import cast as casting
from tests.cast import Cast


@dataclass
class Place:
    """One project with the things in it, and the house around it that both projects share."""

    cast: Cast
    site: casting.Site
    inspector: Person
    client: Person
    things: dict[str, Any] = field(default_factory=dict)


@dataclass
class World:
    cast: Cast
    own: Place
    foreign: Place
    # Words that only the foreign project's pages may hold.
    secrets: tuple[str, ...] = ("P-2", "Owner Two", "Carl Client")


def build() -> World:
    cast = casting.cast()
    own = Place(cast, cast.site, cast.ines, cast.clara)
    foreign = Place(cast, cast.foreign, cast.igor, cast.carl)
    return World(cast, own, foreign)
