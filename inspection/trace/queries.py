"""What a thing rests on and what rests on it, in both directions, one or two statements a kind at any size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Person
from inspection.instruments.models import Certificate
from inspection.trace.kinds import Ids, Kind, Row, kind_named, kinds, links, narrowed

SHOWN = 25
# Sets of ids up to this size are fetched on the way; larger ones stay subqueries.
FETCHED = 2_000
UP, DOWN = "up", "down"


@dataclass(frozen=True)
class Node:
    kind: Kind
    pk: UUID
    row: Row


@dataclass(frozen=True)
class Layer:
    """The things of one kind on one side of a trace: the newest of them, and how many there are."""

    kind: Kind
    nodes: tuple[Node, ...]
    total: int

    @property
    def more(self) -> int:
        return self.total - len(self.nodes)

    @property
    def caption(self) -> str:
        newest = f", the newest {len(self.nodes)}" if self.more else ""
        return f"{self.kind.many} ({self.total}{newest})"


def rests_on(thing: Any, kind: Kind, person: Person) -> list[Layer]:
    """What the thing rests on, nearest first."""
    return _layers(kind, _reached(kind, thing.pk, DOWN), person, exclude=thing.pk, nearest_last=False)


def rests_on_it(thing: Any, kind: Kind, person: Person) -> list[Layer]:
    """What rests on the thing, nearest first."""
    return _layers(kind, _reached(kind, thing.pk, UP), person, exclude=thing.pk, nearest_last=True)


def all_of(thing: Any, kind: Kind, other: Kind, direction: str, person: Person) -> QuerySet[Any]:
    """Every thing of one kind on one side of the trace."""
    ids = _reached(kind, thing.pk, direction).get(other.name)
    if ids is None:
        return other.seen(person).none()
    return narrowed(other.seen(person), "pk", ids).exclude(pk=thing.pk).order_by(other.newest, "pk")


def node_of(kind: Kind, thing: Any) -> Node:
    return Node(kind, thing.pk, kind.describe(thing))


def search(words: str, person: Person) -> list[Layer]:
    """Things of every kind that the words name: an identity, a number, an area's code, or an id."""
    try:
        wanted = UUID(words)
    except ValueError:
        wanted = None
    found = []
    for kind in kinds():
        rows = kind.seen(person).filter(Q(pk=wanted) if wanted else kind.search(words))
        layer = _layer(kind, rows)
        if layer.total:
            found.append(layer)
    return found


def edges(nodes: Sequence[Node]) -> set[tuple[UUID, UUID]]:
    """Which of the nodes rest directly on which: pairs of (above, below)."""
    by_kind: dict[str, list[UUID]] = {}
    for node in nodes:
        by_kind.setdefault(node.kind.name, []).append(node.pk)
    found = {
        pair
        for link in links()
        if link.above in by_kind and link.below in by_kind
        for pair in link.pairs(by_kind[link.above], by_kind[link.below])
    }
    papers = by_kind.get("certificate", [])
    parents = Certificate.objects.filter(pk__in=papers, parent__in=papers).values_list("pk", "parent")
    return found | {(pk, parent) for pk, parent in parents if parent}


# --- walking ----------------------------------------------------------------------------------------------------------
def _reached(kind: Kind, pk: UUID, direction: str) -> dict[str, Ids]:
    """By kind, the ids on one side of the thing: lists where they are few by nature, else subqueries."""
    return _upwards(kind, pk) if direction == UP else _downwards(kind, pk)


def _upwards(start: Kind, pk: UUID) -> dict[str, Ids]:
    reached: dict[str, Ids] = {start.name: [pk]}
    ends: dict[str, Ids] = {}
    if start.name == "certificate":
        reached["certificate"] = certificates_above(versions([pk]))
    for kind in kinds():
        if kind.name in reached:
            continue
        known = [link for link in links() if link.above == kind.name and link.below in reached]
        steps = [link.resting_on(reached[link.below]) for link in known if not link.near]
        if steps:
            reached[kind.name] = _either(steps)
        elif known:
            ends[kind.name] = _either([link.resting_on(reached[link.below]) for link in known])
    return reached | ends


def _downwards(start: Kind, pk: UUID) -> dict[str, Ids]:
    reached: dict[str, Ids] = {start.name: versions([pk]) if start.name == "certificate" else [pk]}
    for kind in reversed(kinds()):
        known = [link for link in links() if link.below == kind.name and link.above in reached]
        steps = [link.under(reached[link.above]) for link in known if not link.near or link.above == start.name]
        if steps and kind.name not in reached:
            reached[kind.name] = _either(steps)
    if "certificate" in reached:
        reached["certificate"] = certificates_below(list(reached["certificate"]))
    return reached


def _either(sets: list[QuerySet[Any]]) -> Ids:
    """The union: fetched where it is short, so that the next step starts from a list; else left to the database."""
    union = sets[0].union(*sets[1:]) if len(sets) > 1 else sets[0].distinct()
    ids = list(union[: FETCHED + 1])
    return ids if len(ids) <= FETCHED else union


def versions(ids: Sequence[UUID]) -> list[UUID]:
    """Every version of the certificates: a check made on an older version is judged by the newest."""
    found, newest = set(ids), set(ids)
    while newest:
        near = Certificate.objects.filter(Q(replaces__in=newest) | Q(replaced_by__in=newest))
        newest = set(near.values_list("pk", flat=True)) - found
        found |= newest
    return list(found)


def certificates_above(ids: Sequence[UUID]) -> list[UUID]:
    """The certificates and all that are traceable to them, in every version."""
    found, newest = set(ids), set(ids)
    while newest:
        children = Certificate.objects.filter(parent__in=newest).values_list("pk", flat=True)
        newest = set(versions(list(children))) - found
        found |= newest
    return list(found)


def certificates_below(ids: Sequence[UUID]) -> list[UUID]:
    """The certificates and all they are traceable to."""
    found, newest = set(ids), set(ids)
    while newest:
        parents = Certificate.objects.filter(pk__in=newest).exclude(parent=None).values_list("parent", flat=True)
        newest = {pk for pk in parents if pk} - found
        found |= newest
    return list(found)


def _layers(start: Kind, reached: dict[str, Ids], person: Person, *, exclude: UUID, nearest_last: bool) -> list[Layer]:
    ordered = kinds() if nearest_last else list(reversed(kinds()))
    found = []
    for kind in ordered:
        if kind.name not in reached or (kind.name == start.name and kind.name != "certificate"):
            continue
        layer = _layer(kind, narrowed(kind.seen(person), "pk", reached[kind.name]).exclude(pk=exclude))
        if layer.total:
            found.append(layer)
    return found


def _layer(kind: Kind, rows: QuerySet[Any]) -> Layer:
    """The newest few and, only where there are more, a count."""
    newest = list(rows.order_by(kind.newest, "pk")[: SHOWN + 1])
    total = len(newest) if len(newest) <= SHOWN else rows.order_by().count()
    return Layer(kind, tuple(node_of(kind, row) for row in newest[:SHOWN]), total)


def find(name: str, pk: UUID, person: Person) -> tuple[Kind, Any] | None:
    """The kind and the thing, if the person may see it."""
    kind = kind_named(name)
    thing = kind.seen(person).filter(pk=pk).first() if kind else None
    return (kind, thing) if kind and thing else None
