"""What somebody with the database in their hands can do, and what a test does to set a scene: change rows of record."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
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
    """Set columns of rows that their triggers hold fixed."""
    with transaction.atomic(), no_triggers(connection, rows.model._meta.db_table):
        return rows.update(**values)
