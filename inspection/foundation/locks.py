"""Holding rows together with others: what Django's select_for_update does not offer."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.db.models import QuerySet


def hold_shared(rows: QuerySet[Any], *, weakly: bool = False) -> None:
    """Keep the rows as they are until the transaction ends, together with others who only read them.

    Waits for whoever is changing one; weakly, only for whoever holds one for any update (`select_for_update()` without
    `no_key`). Where writers follow one another anyway (SQLite) there is nothing to hold.
    """
    if not connection.features.has_select_for_update:
        return
    # No rows is lawful: nothing is held.
    compiler = rows.order_by("pk").values("pk").query.get_compiler(connection=connection, elide_empty=False)
    sql, params = compiler.as_sql()
    with connection.cursor() as cursor:
        cursor.execute(f"{sql} FOR {'KEY ' if weakly else ''}SHARE", params)
