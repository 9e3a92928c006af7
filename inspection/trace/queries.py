"""What a thing rests on and what rests on it, in both directions, one or two statements a kind at any size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Count, Q, QuerySet, Value, Window

from accounts.models import Person
from inspection.foundation.statement import Found, Statement, column, looked_up, over_tables
from inspection.instruments.models import Certificate
from inspection.projects.models import Project
from inspection.trace.kinds import OF_KIND, RECORDS, Carried, Kind, Link, Row, kind_named, kinds, links, narrowed

SHOWN = 25
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
    walk = _walked(kind, thing, DOWN)
    return _layers(
        walk, [each for each in reversed(kinds()) if _shown(each, kind)], person, _elsewhere(thing, kind, DOWN)
    )


def rests_on_it(thing: Any, kind: Kind, person: Person) -> list[Layer]:
    """What rests on the thing, nearest first."""
    walk = _walked(kind, thing, UP)
    return _layers(walk, [each for each in kinds() if _shown(each, kind)], person, _elsewhere(thing, kind, UP))


def all_of(
    thing: Any, kind: Kind, other: Kind, direction: str, person: Person, *, first: int, many: int
) -> tuple[list[Node], int]:
    """So many things of one kind on one side of the trace, from the first on, and how many there are."""
    walk = _walked(kind, thing, direction)
    if other.name not in walk:
        return [], 0
    found = walk.fetch(
        [(other.name, _newest(walk, other, person, _elsewhere(thing, kind, direction), first=first, many=many))]
    )
    rows = other.seen(person).in_bulk([pk for _, pk, _, _ in found])
    return [node_of(other, rows[pk]) for _, pk, _, _ in found], found[0][2] if found else 0


def ids_below(thing: Any, kind: Kind, person: Person, *, most: int) -> dict[str, list[UUID]]:
    """By kind, from the nearest on, the ids of what the thing rests on; of each kind one more than `most` at most."""
    walk = _walked(kind, thing, DOWN)
    wanted = [each for each in reversed(kinds()) if _shown(each, kind) and each.name in walk]
    answers = [(each.name, _newest(walk, each, person, [thing.pk], many=most + 1)) for each in wanted]
    found: dict[str, list[UUID]] = {each.name: [] for each in wanted}
    for name, pk, _, _ in walk.fetch(answers):
        found[name].append(pk)
    return found


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
def _walked(kind: Kind, thing: Any, direction: str) -> Statement:
    """A statement with one set of ids for each kind on that side of the thing."""
    return _upwards(kind, thing) if direction == UP else _downwards(kind, thing)


def _itself(thing: Any) -> QuerySet[Any]:
    itself: QuerySet[Any] = type(thing)._default_manager.filter(pk=thing.pk).order_by().values("pk")
    return itself


def _papers(ids: Sequence[UUID]) -> QuerySet[Any]:
    return narrowed(Certificate.objects.order_by(), "pk", ids).values("pk")


def _upwards(start: Kind, thing: Any) -> Statement:
    walk = Statement()
    is_paper = start.name == "certificate"
    _add(walk, start, [_papers(certificates_above(versions([thing.pk]))) if is_paper else _itself(thing)])
    ends = set()
    for kind in kinds():
        if kind.name in walk:
            continue
        known = [link for link in links() if link.above == kind.name and link.below in walk and link.below not in ends]
        steps = [link for link in known if not link.near]
        if known:
            _add_above(walk, kind, steps or known)
        if known and not steps:
            ends.add(kind.name)
    return walk


def _add_above(walk: Statement, kind: Kind, known: Sequence[Link]) -> None:
    """Name the things of the kind that rest on what is named below; what kinds have together is found once."""
    sets = [link.carried or link.resting_on(walk.ids_of(link.below)) for link in known if not link.together]
    together = {link.together: [each for each in known if each.together == link.together] for link in known}
    together.pop("", None)
    for name, same in together.items():
        if name not in walk:
            walk.add(f"{name}_id", [link.resting_on(walk.ids_of(link.below)) for link in same])
            walk.add_sql(name, looked_up(f"{name}_id", RECORDS.model, RECORDS.fields))
    of_kind = [f"SELECT * FROM set_{name} WHERE {OF_KIND.format(kind.name)}" for name in together]  # noqa: S608 - names of ours
    if not (kind.carried and of_kind):
        _add(walk, kind, [*sets, *(f"SELECT id FROM ({rows}) AS {kind.name}" for rows in of_kind)])  # noqa: S608 - names of ours
        return
    if sets:
        walk.add(f"{kind.name}_id", sets)
        of_kind.append(looked_up(f"{kind.name}_id", kind.carried.model, kind.carried.fields))
    walk.add_sql(kind.name, " UNION ".join(of_kind))


# A certificate is traceable to its parent, that one to its own, up to the national institute.
PARENTS = over_tables(
    "SELECT paper.{paper.parent} FROM {paper} paper JOIN set_certificate known ON known.id = paper.{paper.pk} "
    "WHERE paper.{paper.parent} IS NOT NULL",
    paper=Certificate,
)


def _downwards(start: Kind, thing: Any) -> Statement:
    walk = Statement()
    if start.name == "certificate":
        walk.add(start.name, [_papers(versions([thing.pk]))], then=PARENTS)
        return walk
    _add(walk, start, [_itself(thing)])
    for kind in reversed(kinds()):
        known = [link for link in links() if link.below == kind.name and link.above in walk]
        steps = [link for link in known if not link.near or link.above == start.name]
        if steps and kind.name not in walk:
            sets = [link.under(walk.ids_of(link.above)) for link in steps]
            _add(walk, kind, sets, then=PARENTS if kind.name == "certificate" else "")
    return walk


def _add(walk: Statement, kind: Kind, sets: Sequence[QuerySet[Any] | str], *, then: str = "") -> None:
    """Name the things of the kind, with what the kind carries."""
    if not kind.carried:
        walk.add(kind.name, sets, then=then)
        return
    walk.add(f"{kind.name}_id", sets)
    walk.add_sql(kind.name, looked_up(f"{kind.name}_id", kind.carried.model, kind.carried.fields))


def versions(ids: Sequence[UUID]) -> list[UUID]:
    """Every version of the certificates: a check made on an older version is judged by the newest."""
    found, newest = set(ids), set(ids)
    while newest:
        near = Certificate.objects.filter(Q(replaces__in=newest) | Q(replaced_by__in=newest))
        newest = set(near.values_list("pk", flat=True)) - found
        found |= newest
    return list(found)


def _elsewhere(thing: Any, kind: Kind, direction: str) -> list[UUID]:
    """What does not stand on this side: the thing itself; and of a certificate, newer versions below, older above."""
    step = "replaces" if direction == DOWN else "replaced_by"
    found = [thing.pk]
    if kind.name != "certificate":
        return found
    keep, newest = {thing.pk}, [thing.pk]
    while newest:
        near = Certificate.objects.filter(pk__in=newest).exclude(**{step: None}).values_list(step, flat=True)
        newest = [pk for pk in near if pk not in keep]
        keep |= set(newest)
    return found + [pk for pk in versions([thing.pk]) if pk not in keep]


def certificates_above(ids: Sequence[UUID]) -> list[UUID]:
    """The certificates and all that are traceable to them, in every version."""
    found, newest = set(ids), set(ids)
    while newest:
        children = Certificate.objects.filter(parent__in=newest).values_list("pk", flat=True)
        newest = set(versions(list(children))) - found
        found |= newest
    return list(found)


def _shown(kind: Kind, start: Kind) -> bool:
    """Other versions of a certificate and those above it are part of its trace; other things of its kind are not."""
    return kind.name != start.name or kind.name == "certificate"


def _newest(
    walk: Statement, kind: Kind, person: Person, exclude: Sequence[UUID], *, first: int = 0, many: int = SHOWN
) -> QuerySet[Any] | str:
    """Ids of what the person may see of the set, newest first, each with how many there are in all."""
    if kind.carried:
        return _newest_carried(walk, kind.name, kind.carried, person, first, many)
    rows = narrowed(kind.seen(person), "pk", walk.ids_of(kind.name)).exclude(pk__in=exclude)
    return counted(rows.order_by(kind.newest, "-pk"))[first : first + many]


def _newest_carried(walk: Statement, name: str, carried: Carried, person: Person, first: int, many: int) -> str:
    where = ""
    if not person.sees_every_project:
        if "seen_project" not in walk:
            walk.add("seen_project", [Project.objects.visible_to(person).order_by().values("pk")])
        where = f"WHERE {column(carried.model, 'project')} IN (SELECT id FROM set_seen_project)"  # noqa: S608 - a column's name
    return (
        f"SELECT id, count(*) OVER (), 0 FROM set_{name} {where} "  # noqa: S608 - names of ours
        f"ORDER BY {column(carried.model, carried.newest)} DESC, id DESC LIMIT {many} OFFSET {first}"
    )


def counted(rows: QuerySet[Any]) -> QuerySet[Any]:
    """The rows as an answer of a statement: the id, how many there are in all, and a nought."""
    answer: QuerySet[Any] = rows.annotate(total=Window(Count("*")), nought=Value(0))
    return answer.values_list("pk", "total", "nought")


def _layers(walk: Statement, wanted: Sequence[Kind], person: Person, exclude: Sequence[UUID]) -> list[Layer]:
    answers = [(kind.name, _newest(walk, kind, person, exclude)) for kind in wanted if kind.name in walk]
    return layers_of(walk.fetch(answers), wanted, person)


def layers_of(found: Sequence[Found], wanted: Sequence[Kind], person: Person) -> list[Layer]:
    """The things of each kind that a statement found, in the order of the kinds."""
    layers = []
    for kind in wanted:
        ids = [pk for label, pk, _, _ in found if label == kind.name]
        if ids:
            rows = kind.seen(person).in_bulk(ids)
            total = next(total for label, _, total, _ in found if label == kind.name)
            layers.append(Layer(kind, tuple(node_of(kind, rows[pk]) for pk in ids if pk in rows), total))
    return layers


def _layer(kind: Kind, rows: QuerySet[Any]) -> Layer:
    """The newest few and, only where there are more, a count."""
    newest = list(rows.order_by(kind.newest, "-pk")[: SHOWN + 1])
    total = len(newest) if len(newest) <= SHOWN else rows.order_by().count()
    return Layer(kind, tuple(node_of(kind, row) for row in newest[:SHOWN]), total)


def find(name: str, pk: UUID, person: Person) -> tuple[Kind, Any] | None:
    """The kind and the thing, if the person may see it."""
    kind = kind_named(name)
    thing = kind.seen(person).filter(pk=pk).first() if kind else None
    return (kind, thing) if kind and thing else None
