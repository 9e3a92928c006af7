"""The database triggers that hold what `of_record.py` declares, made again by themselves after migrations."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from inspection.foundation.of_record import DECLARED, OfRecord

# One function for all tables; what may change comes with the trigger. Rows are compared as JSON, so that a column
# which a later migration adds is fixed by itself.
REFUSE = "refuse_change_of_record"
FUNCTION = f"""
CREATE OR REPLACE FUNCTION {REFUSE}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND TG_NARGS > 0 THEN
        IF to_jsonb(NEW) - TG_ARGV IS NOT DISTINCT FROM to_jsonb(OLD) - TG_ARGV THEN
            RETURN NEW;
        END IF;
        RAISE EXCEPTION '% is append-only but for %', TG_TABLE_NAME, array_to_string(TG_ARGV, ', ')
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END $$
"""
KINDS = ("no_update", "no_delete", "no_truncate", "no_replace")


def wanted(database: BaseDatabaseWrapper) -> dict[str, str]:
    """The statement of each trigger that is declared, by the trigger's name; only for tables that stand."""
    with database.cursor() as cursor:
        standing = set(database.introspection.table_names(cursor))
        found: dict[str, str] = {}
        for declared in DECLARED:
            if declared.table in standing:
                make = _on_postgresql if database.vendor == "postgresql" else _on_sqlite
                found.update(make(declared, cursor))
    return found


def _on_postgresql(declared: OfRecord, cursor: Any) -> dict[str, str]:
    table = declared.table
    changing = ", ".join(f"'{column}'" for column in declared.columns_that_may_change)
    statements = {
        f"{table}_no_update": f"BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {REFUSE}({changing})",
        f"{table}_no_truncate": f"BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION {REFUSE}()",
    }
    if not declared.deletable:
        statements[f"{table}_no_delete"] = f"BEFORE DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION {REFUSE}()"
    return {name: f"CREATE TRIGGER {name} {statement}" for name, statement in statements.items()}


def _on_sqlite(declared: OfRecord, cursor: Any) -> dict[str, str]:
    table = declared.table
    cursor.execute(f"PRAGMA table_info({table})")
    rows = cursor.fetchall()
    changing = declared.columns_that_may_change
    differs = " OR ".join(f'OLD."{name}" IS NOT NEW."{name}"' for _, name, *_ in rows if name not in changing)
    words = f"{table} is append-only" + (f" but for {', '.join(changing)}" if changing else "")
    when = f"WHEN {differs} " if changing else ""
    (key,) = (name for _, name, *_, of_key in rows if of_key)
    refuse = f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
    statements = {
        f"{table}_no_update": f"BEFORE UPDATE ON {table} {when}{refuse}",
        # INSERT OR REPLACE deletes what stands in its way, and tells no trigger of deletions unless the connection asks
        # for it (recursive_triggers), which ours do and others do not.
        f"{table}_no_replace": f"BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key}) "  # noqa: S608 - names of our tables
        f"BEGIN SELECT RAISE(ABORT, 'UNIQUE constraint failed: {table}.{key}'); END",
    }
    if not declared.deletable:
        statements[f"{table}_no_delete"] = f"BEFORE DELETE ON {table} {refuse}"
    return {name: f"CREATE TRIGGER {name} {statement}" for name, statement in statements.items()}


def present(database: BaseDatabaseWrapper) -> dict[str, tuple[str, str]]:
    """Each trigger of ours that stands: by its name the table, and its statement, empty when it is switched off."""
    with database.cursor() as cursor:
        if database.vendor == "postgresql":
            cursor.execute(
                "SELECT tgname, tgrelid::regclass::text, CASE WHEN tgenabled IN ('O', 'A')"
                " THEN pg_get_triggerdef(oid, true) ELSE '' END"
                " FROM pg_trigger WHERE NOT tgisinternal"
            )
        else:
            cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
        return {
            name: (table, statement)
            for name, table, statement in cursor.fetchall()
            if name in {f"{table}_{kind}" for kind in KINDS}
        }


def missing(database: BaseDatabaseWrapper) -> list[str]:
    """A sentence for each trigger that is not there, is switched off, or says something else than is declared."""
    standing = present(database)
    found = []
    for name, statement in wanted(database).items():
        if name not in standing:
            found.append(f"trigger {name} is missing")
        elif not standing[name][1]:
            found.append(f"trigger {name} is switched off")
        elif standing[name][1] != statement:
            found.append(f"trigger {name} is not the one that is declared")
    if database.vendor == "postgresql" and not _function_is_ours(database):
        found.append(f"function {REFUSE} is not the one that is declared")
    return found


def install(database: BaseDatabaseWrapper) -> None:
    """Make the triggers as they are declared, and take away those that no model declares any more."""
    with database.cursor() as cursor:
        if database.vendor == "postgresql" and not _function_is_ours(database):
            cursor.execute(FUNCTION)
        standing, asked = present(database), wanted(database)
        for name, (table, statement) in standing.items():
            if asked.get(name) != statement:
                _take_off(cursor, table, name, postgresql=database.vendor == "postgresql")
        for name, statement in asked.items():
            if standing.get(name, ("", ""))[1] != statement:
                cursor.execute(statement)


@contextmanager
def lifted(database: BaseDatabaseWrapper, *tables: str) -> Iterator[None]:
    """For a data migration, and nothing else: the tables named take changes of rows of record until the context ends.

    The migration's transaction holds it: where anything fails, rows and triggers are as they were. What it writes must
    keep to the digests, so it sets columns that are in none, or adds rows: `manage.py verify` tells whatever else it
    did. Raises RuntimeError outside a transaction, ValueError for a table that nothing protects.
    """
    if not database.in_atomic_block:
        raise RuntimeError("The triggers of record are lifted inside a transaction only.")
    theirs = {name: found for name, found in present(database).items() if found[0] in tables}
    if unprotected := set(tables) - {table for table, _ in theirs.values()}:
        raise ValueError(f"No trigger of record stands on {', '.join(sorted(unprotected))}.")
    with database.cursor() as cursor:
        for name, (table, _) in theirs.items():
            _take_off(cursor, table, name, postgresql=database.vendor == "postgresql")
        yield
        # What PostgreSQL still has to check about the rows stands in the way of changing their table.
        database.check_constraints()
        for _, statement in theirs.values():
            cursor.execute(statement)


def _take_off(cursor: Any, table: str, name: str, *, postgresql: bool) -> None:
    cursor.execute(f"DROP TRIGGER IF EXISTS {name}" + (f" ON {table}" if postgresql else ""))
    if postgresql:
        # What each table had for itself before the declarations.
        cursor.execute(f"DROP FUNCTION IF EXISTS {name.replace('_no_', '_refuse_')}()")


def _function_is_ours(database: BaseDatabaseWrapper) -> bool:
    with database.cursor() as cursor:
        cursor.execute("SELECT prosrc FROM pg_proc WHERE proname = %s", [REFUSE])
        return [source for (source,) in cursor.fetchall()] == [FUNCTION.split("$$")[1]]


def after_migrations(*, using: str, **_: Any) -> None:
    """Receiver of `post_migrate`."""
    install(connections[using])
