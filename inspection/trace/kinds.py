"""The kinds of things a trace is made of, and the registry that a higher room adds its own kinds to.

A room above this one (reports) registers what it holds when the site starts, in its AppConfig.ready::

    from inspection.trace.kinds import Kind, Link, Row, narrowed, register

    register(
        Kind(
            name="report", one="Issued report", many="Issued reports", layer=10,
            seen=lambda person: ReportIssue.objects.visible_to(person).select_related("report__project"),
            describe=lambda issue: Row(title=str(issue), detail=issue.issued_by.name, address=reverse(...)),
            search=lambda words: Q(report__project__code__icontains=words), newest="-issued_at",
            told=lambda issues: [narrowed(ReportIssue.objects.all(), "pk", issues).values("issued_by")],
        ),
        links=[
            Link("report", "thickness", lambda: basis("thickness")),
            Link("report", "verification", lambda: basis("verification")),
            Link("report", "holdpoint", lambda: basis("holdpoint")),
        ],
    )

where `basis(kind)` is a queryset of a table with one row for each thing an issue rests on, annotated with `above` (the
id of the issue) and `below` (the id of the thing). A trace only ever filters these two columns by subqueries, so that
it stays one statement in SQL at any size; it must not be a list in Python.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Model, Q, QuerySet
from django.db.models.expressions import RawSQL

from accounts.models import Person, StoredFile
from inspection.fieldwork.models import Record
from inspection.foundation.statement import over_tables

Ids = RawSQL | Sequence[UUID]


@dataclass(frozen=True)
class Row:
    """How one thing is shown in a trace: a name, a line about it, perhaps its state, and its own page if it has one."""

    title: str
    detail: str = ""
    state: str = ""
    words: str = ""
    address: str = ""
    # As a box of the drawing names it, where the title is long.
    short: str = ""


@dataclass(frozen=True)
class Carried:
    """Fields that a trace reads once with the things of a kind, not again for each question; seen by `project`."""

    model: type[Model]
    fields: tuple[str, ...]
    # The field among them by which the newest are told, as `Kind.newest` does.
    newest: str


# Of records, of whatever kind.
RECORDS = Carried(
    Record, ("project", "area", "coat", "taken_by", "taken_at", "reading_count", "kind"), newest="taken_at"
)
# Those of one kind among them, as a condition in SQL.
OF_KIND = over_tables("{record.kind} = '{{}}'", record=Record)


@dataclass(frozen=True)
class Kind:
    """One kind of thing. Things of a higher layer rest on things of lower ones."""

    name: str
    one: str
    many: str
    layer: int
    # What the person may see, with the relations that `describe` reads.
    seen: Callable[[Person], QuerySet[Any]]
    describe: Callable[[Any], Row]
    # Where a search on the landing page looks.
    search: Callable[[str], Q]
    newest: str = "-pk"
    # For a kind that comes by the ten thousand.
    carried: Carried | None = None
    # Querysets of the ids of people to be told when these things lose what they rest on; a recall asks it of reports.
    told: Callable[[Ids], Sequence[QuerySet[Any]]] = lambda things: ()
    # The rows as an evidence bundle needs them, whole and with all that `content` reads.
    whole: Callable[[QuerySet[Any]], QuerySet[Any]] = lambda rows: rows
    # Everything that is recorded of the thing, as JSON can hold it.
    content: Callable[[Any], dict[str, Any]] = lambda thing: {}
    # Its figures, a line each, for people to read in a bundle; asked of whole rows only.
    figures: Callable[[Any], list[str]] = lambda thing: []
    # Its stored file, if it has one; and the lookup of that file, by which a bundle is weighed before it is made.
    file: Callable[[Any], StoredFile | None] = lambda thing: None
    stored: str = ""
    # The column that counts its readings, for a kind of which one thing alone may have very many.
    readings: str = ""
    # Label and value pairs at the head of the thing's page.
    facts: Callable[[Any], list[tuple[str, str]]] = lambda thing: []


@dataclass(frozen=True)
class Link:
    """A table that says which thing above rests on which below, in columns annotated `above` and `below`.

    A `near` link names what is close by but is no step of a chain: a certificate covers a shim, yet what rests on the
    shim need not rest on this certificate. It is followed only from the thing a trace starts at, or as an end.

    Where the kind below carries columns, `carried` is SQL over `set_<below>` for the ids above; `rows` says the same.

    Where the rows name records of every kind above, `together` names the set that a walk finds once for all of them.
    """

    above: str
    below: str
    rows: Callable[[], QuerySet[Any]]
    near: bool = False
    carried: str = ""
    together: str = ""

    def resting_on(self, below: Ids) -> QuerySet[Any]:
        return _column(self.rows(), "above", "below", below)

    def under(self, above: Ids) -> QuerySet[Any]:
        return _column(self.rows(), "below", "above", above)

    def pairs(self, above: Sequence[UUID], below: Sequence[UUID]) -> Iterable[tuple[UUID, UUID]]:
        rows = self.rows().filter(above__in=above, below__in=below).order_by()
        return rows.values_list("above", "below").distinct()


def _column(rows: QuerySet[Any], wanted: str, given: str, ids: Ids) -> QuerySet[Any]:
    return narrowed(rows, given, ids).order_by().values_list(wanted, flat=True)


def narrowed(rows: QuerySet[Any], column: str, ids: Ids) -> QuerySet[Any]:
    """The rows whose column is one of the ids, be they a list or a set of the statement under way."""
    return rows.filter(**{f"{column}__{'in' if isinstance(ids, RawSQL) else 'among'}": ids})


_kinds: dict[str, Kind] = {}
_links: list[Link] = []


def register(kind: Kind, *, links: Iterable[Link] = ()) -> None:
    """Add a kind and what it rests on. Each name once."""
    if kind.name in _kinds:
        raise ValueError(f"kind {kind.name} is registered twice")
    _kinds[kind.name] = kind
    _links.extend(links)


def kinds() -> list[Kind]:
    """All kinds, from the ground up."""
    return sorted(_kinds.values(), key=lambda kind: kind.layer)


def kind_named(name: str) -> Kind | None:
    return _kinds.get(name)


def links() -> list[Link]:
    return list(_links)
