"""Database triggers that refuse to change or delete a row, on PostgreSQL and SQLite alike."""

from typing import Any

from django.db import migrations

POSTGRESQL = """
CREATE FUNCTION {table}_refuse_{event}() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION '{table} is append-only' USING ERRCODE = 'integrity_constraint_violation'; END
$$ LANGUAGE plpgsql;
CREATE TRIGGER {table}_no_{event} BEFORE {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {table}_refuse_{event}();
"""
SQLITE = """
CREATE TRIGGER {table}_no_{event} BEFORE {event} ON {table}
BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END;
"""


def append_only(*tables: str) -> migrations.RunPython:
    """A migration operation after which no row of these tables can be updated or deleted."""

    def add(apps: Any, schema_editor: Any) -> None:
        sql = POSTGRESQL if schema_editor.connection.vendor == "postgresql" else SQLITE
        for table in tables:
            for event in ("update", "delete"):
                schema_editor.execute(sql.format(table=table, event=event), params=None)

    def drop(apps: Any, schema_editor: Any) -> None:
        postgresql = schema_editor.connection.vendor == "postgresql"
        for table in tables:
            for event in ("update", "delete"):
                schema_editor.execute(f"DROP TRIGGER {table}_no_{event}" + (f" ON {table}" if postgresql else ""))
                if postgresql:
                    schema_editor.execute(f"DROP FUNCTION {table}_refuse_{event}()")

    return migrations.RunPython(add, drop)
