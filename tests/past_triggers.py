"""What somebody with the database in their hands can do, and what a test does to set a scene: change rows of record."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

from django.db import connection, transaction
from django.db.models import QuerySet


@contextmanager
def no_triggers(database: Any, table: str = "") -> Iterator[None]:
    """Inside a transaction, the triggers of the table, or of all of them, are lifted and put back."""
    with database.cursor() as cursor:
        if database.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = replica")
            yield
            cursor.execute("SET LOCAL session_replication_role = origin")
            return
        cursor.execute("SELECT name, sql, tbl_name FROM sqlite_master WHERE type = 'trigger'")
        triggers = [(name, sql) for name, sql, of in cursor.fetchall() if table in ("", of)]
        for name, _ in triggers:
            cursor.execute(f"DROP TRIGGER {name}")
        yield
        for _, sql in triggers:
            cursor.execute(sql)


def rewrite(rows: QuerySet[Any], **values: Any) -> int:
    """Set columns of rows that their triggers hold fixed, be they the row's own or its parent's."""
    with transaction.atomic(), ExitStack() as lifted:
        for model in (rows.model, *rows.model._meta.parents):
            lifted.enter_context(no_triggers(connection, model._meta.db_table))
        return rows.update(**values)
