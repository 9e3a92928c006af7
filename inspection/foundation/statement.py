"""One SQL statement over named sets, each found once and kept: for what is asked of many rows in several ways at once.

The sets are ordinary querysets; a later one refers to an earlier one by `ids_of`, hand-written SQL as set_<name>. The
database computes each set once (a materialised common table expression), however many later sets and answers use it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import Model, QuerySet
from django.db.models.expressions import RawSQL

Found = tuple[str, UUID, int, int]
# How a set is read where each of its ids is looked up in a table. Ordered, so that neighbours are found on one page of
# an index. Limited, because PostgreSQL's planner expects a tenth of the rows of a limit that it cannot read ahead:
# without that it thinks far too many of a set whose size it cannot know, and reads the whole table through instead.
KNOWN = "SELECT DISTINCT id FROM set_{} {where} ORDER BY id LIMIT (SELECT 9000000000000000000)"


class Statement:
    def __init__(self) -> None:
        self._sets: list[str] = []
        self._params: list[Any] = []
        self._names: set[str] = set()

    def __contains__(self, name: str) -> bool:
        return name in self._names

    def add(self, name: str, rows: Iterable[QuerySet[Any] | str], *, then: str = "", columns: str = "id") -> None:
        """Name the union of querysets and SQL; `then` is SQL against the set that may add to it from itself."""
        parts = []
        for each in rows:
            sql, params = (each, []) if isinstance(each, str) else _compiled(each)
            parts.append(sql)
            self._params += params
        kept = "" if then else "MATERIALIZED "
        union = " UNION ".join([*parts, *([then] if then else [])])
        self._sets.append(f"{self._of(name)}({columns}) AS {kept}({union})")
        self._names.add(name)

    def add_sql(self, name: str, sql: str) -> None:
        """Name a set with columns of its own, the first of them `id`; the SQL reads earlier ones as set_<name>."""
        self._sets.append(f"{self._of(name)} AS MATERIALIZED ({sql})")
        self._names.add(name)

    def ids_of(self, name: str, where: str = "") -> RawSQL:
        """The ids of the set, all or those of a condition in SQL on columns that the set carries."""
        return RawSQL(KNOWN.format(name, where=where and f"WHERE {where}"), ())  # noqa: S611 - a name of ours

    def fetch(self, answers: Iterable[tuple[str, QuerySet[Any] | str]]) -> list[Found]:
        """All answers at once: the label, an id and two numbers of each row of the querysets, which give just those."""
        selects, params = [], list(self._params)
        for label, rows in answers:
            sql, more = (rows, []) if isinstance(rows, str) else _compiled(rows)
            # The SQL is what Django compiled or ours; values are parameters.
            selects.append(f"SELECT CAST(%s AS varchar(40)) AS label, answer.* FROM ({sql}) AS answer")  # noqa: S608 - SQL of Django's or ours
            params += [label, *more]
        if not selects:
            return []
        found = self._run(" UNION ALL ".join(selects), params)
        return [(label, UUID(str(pk)), int(one), int(two)) for label, pk, one, two in found]

    def rows(self, sql: str, params: Iterable[Any] = ()) -> list[tuple[Any, ...]]:
        """The rows of one hand-written SELECT over the sets."""
        return self._run(sql, [*self._params, *params])

    def _run(self, sql: str, params: list[Any]) -> list[tuple[Any, ...]]:
        with connection.cursor() as cursor:
            cursor.execute(f"WITH RECURSIVE {', '.join(self._sets)} {sql}", params)
            return list(cursor.fetchall())

    def _of(self, name: str) -> str:
        return f"set_{name}"


class _Names:
    """A model in hand-written SQL: {name} is its table, {name.field} the column of a field."""

    def __init__(self, model: type[Model]) -> None:
        self._model = model

    def __format__(self, spec: str) -> str:
        return connection.ops.quote_name(self._model._meta.db_table)

    def __getattr__(self, field: str) -> str:
        return column(self._model, field)


def over_tables(sql: str, **models: type[Model]) -> str:
    """Hand-written SQL, with {name} for the table of a model and {name.field} for a column, as the models call them.

    Raises FieldDoesNotExist for a field that the model has not.
    """
    return sql.format(**{name: _Names(model) for name, model in models.items()})


def column(model: type[Model], field: str) -> str:
    """The name of the field's column, quoted; `pk` is the key's. Raises FieldDoesNotExist."""
    found: Any = model._meta.pk if field == "pk" else model._meta.get_field(field)
    return str(connection.ops.quote_name(found.column))


def looked_up(name: str, model: type[Model], fields: Iterable[str]) -> str:
    """SQL of a wider set: the rows whose ids are in the named set, with the columns of these fields and `id` first."""
    wanted = ", ".join(f"looked_up.{column(model, field)}" for field in fields)
    return over_tables(
        f"SELECT known.id, {wanted} FROM ({KNOWN.format(name, where='')}) known "  # noqa: S608 - names of the models' own
        "JOIN {table} looked_up ON looked_up.{table.pk} = known.id",
        table=model,
    )


def count_up_to(most: int, rows: QuerySet[Any], field: str, values: Iterable[int]) -> dict[int, int]:
    """How many of the rows have each of these values in the field, none counted beyond `most`; one query."""
    sql, params = _compiled(rows.filter(**{field: RawSQL("asked.value", ())}).values("pk")[:most])
    asked = " UNION ALL ".join(f"SELECT {int(value)} AS value" for value in values)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT value, (SELECT COUNT(*) FROM ({sql}) AS counted) FROM ({asked}) AS asked", params)  # noqa: S608 - SQL of Django's
        return dict(cursor.fetchall())


def _compiled(rows: QuerySet[Any]) -> tuple[str, list[Any]]:
    # A set known to be empty is compiled as one that holds nothing, instead of not at all.
    sql, params = rows.query.get_compiler(connection=connection, elide_empty=False).as_sql()
    return str(sql), list(params)
