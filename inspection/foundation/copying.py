"""Many rows at once: the one place that asks which database it talks to, because COPY is worth it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connection, models


def bulk_rows(model: type[models.Model], columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Add rows of one table inside the caller's transaction: COPY on PostgreSQL, executemany elsewhere.

    Values are given as the database keeps them (ids as UUID, moments in UTC); constraints and triggers hold as ever.
    """
    quote = connection.ops.quote_name
    table = quote(model._meta.db_table)
    names = ", ".join(quote(name) for name in columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with connection.wrap_database_errors, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                copy.write("".join("\t".join(map(_copied, row)) + "\n" for row in rows))
        else:
            known = {field.attname: field for field in model._meta.concrete_fields}
            fields = [known[name] for name in columns]
            places = ", ".join("%s" for _ in columns)
            cursor.executemany(
                f"INSERT INTO {table} ({names}) VALUES ({places})",  # noqa: S608 - names come from the model
                [
                    [field.get_db_prep_save(value, connection) for field, value in zip(fields, row, strict=True)]
                    for row in rows
                ],
            )


_ESCAPES = str.maketrans({"\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\r"})


def _copied(value: Any) -> str:
    """One value in PostgreSQL's text format of COPY."""
    if value is None:
        return "\\N"
    if isinstance(value, str):
        return value.translate(_ESCAPES) if value else ""
    if isinstance(value, dict | list):
        return json.dumps(value).translate(_ESCAPES)
    return str(value)
