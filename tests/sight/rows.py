"""What a row of the sight table says: one address and method, and what each role gets for their own and for a foreign
project."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

from tests.sight.world import Place

ANONYMOUS, INSPECTOR, MANAGER, CLIENT, CONTRACTOR, AUDITOR, ADMIN = (
    "anonymous", "inspector", "quality manager", "client", "contractor", "auditor", "administrator",
)  # fmt: skip
# Without the contractor, to whom an address is closed unless its row names them.
SIGNED_IN = (INSPECTOR, MANAGER, CLIENT, AUDITOR, ADMIN)
EVERYBODY = (*SIGNED_IN, CONTRACTOR)
# Roles that see one project and not the other.
NARROW = (INSPECTOR, CLIENT, CONTRACTOR, AUDITOR)
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")

SHOWN = frozenset({200})
# A deed that was allowed to the person: done, or refused for what was sent or for the state of the thing.
HEARD = frozenset({200, 201, 204, 302, 409, 422})


def pk_of(thing: str) -> Callable[[Place], dict[str, Any]]:
    """The arguments of an address that names one thing of the place by its id."""
    return lambda place: place.pk(thing)


def project_pk(place: Place) -> dict[str, Any]:
    return {"pk": place.site.project.pk}


def in_project(place: Place) -> dict[str, Any]:
    return {"project": place.site.project.pk}


def none_needed(place: Place) -> dict[str, Any]:
    return {}


@dataclass(frozen=True)
class Row:
    """One method of one address.

    `allowed` are the roles that get through in their own project, the other signed-in ones get `refusal`. The same
    address in a foreign project answers 404 to the narrow roles, but for those in `foreign_seen`, who are answered as
    at home; a role that has no right anywhere may be told so before the thing is looked up. A contractor's people are
    refused with 403 wherever others are `allowed` and they are not. `to_strangers` is what
    nobody signed in gets: pages lead to the sign-in, the API answers 401.
    """

    name: str
    method: str = "GET"
    args: Callable[[Place], dict[str, Any]] = none_needed
    allowed: Collection[str] = SIGNED_IN
    refusal: int = 403
    but: Mapping[str, int] = field(default_factory=dict)
    # The address names a thing of one project, so that there is a foreign one too.
    scoped: bool = False
    foreign_seen: Collection[str] = ()
    to_strangers: int | None = None
    answers: frozenset[int] | None = None
    # The company's inspectors share instruments, so pages about those name other projects to them.
    names_others_to: Collection[str] = ()
    data: Callable[[Place], dict[str, Any]] = none_needed

    def expected(self, role: str, *, foreign: bool, api: bool) -> frozenset[int]:
        if role == ANONYMOUS:
            return frozenset({self.to_strangers or (401 if api else 302)})
        if role == CONTRACTOR and self.allowed and role not in (*self.allowed, *self.but):
            return frozenset({403, 404} if foreign else {403})
        if foreign and role in NARROW and role not in self.foreign_seen:
            return frozenset({404} if role in self.allowed else {404, self.refusal})
        if role in self.but:
            return frozenset({self.but[role]})
        if role in self.allowed:
            return self.answers or (SHOWN if self.method == "GET" else HEARD)
        return frozenset({self.refusal})


@dataclass(frozen=True)
class Route:
    name: str
    pattern: str

    @property
    def api(self) -> bool:
        return self.pattern.startswith("api/")


def routes() -> list[Route]:
    """Every address of the site, from the resolver itself."""
    return list(_walk(get_resolver().url_patterns, ""))


def _walk(patterns: list[URLPattern | URLResolver], before: str) -> Iterator[Route]:
    for found in patterns:
        pattern = before + str(found.pattern)
        if isinstance(found, URLResolver):
            yield from _walk(found.url_patterns, pattern)
        else:
            yield Route(found.name or f"without a name: {pattern}", pattern)
