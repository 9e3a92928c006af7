"""What the site's own role may do in PostgreSQL: read, add, and change only what the models let change.

The role owns nothing, so it can neither empty a table nor alter it nor switch a trigger off. The owner is another role,
which migrates, and whose password no process of the site is given.
"""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from inspection.foundation.of_record import DECLARED
from inspection.foundation.refusals import Refused


def grant(role: str, *, password: str = "") -> int:
    """Give the role its rights, and no others; for how many tables. A role that is not there is made.

    Run as the owner, after each migration. Raises Refused where the role could do more than it is granted.
    """
    if connection.vendor != "postgresql":
        raise Refused("Only PostgreSQL has roles; who can write the file of an SQLite database can change all of it.")
    with connection.cursor() as cursor:
        _make(cursor, role, password)
        _refuse_powerful(cursor, role)
        to = connection.ops.quote_name(role)
        schema = connection.ops.quote_name(_schema(cursor))
        tables = sorted(connection.introspection.table_names(cursor))
        # Nobody but the owner makes anything in the schema, where it would be found before what is meant.
        cursor.execute(f"REVOKE CREATE ON SCHEMA {schema} FROM PUBLIC")
        cursor.execute(f"REVOKE ALL ON ALL TABLES IN SCHEMA {schema} FROM {to}")
        cursor.execute(f"GRANT USAGE ON SCHEMA {schema} TO {to}")
        cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {schema} TO {to}")
        for table in tables:
            cursor.execute(f"GRANT {rights(table)} ON {connection.ops.quote_name(table)} TO {to}")
    return len(tables)


def rights(table: str) -> str:
    """What the site does with a table, as GRANT says it."""
    if table == MigrationRecorder.Migration._meta.db_table:
        return "SELECT"
    declared = next((each for each in DECLARED if each.table == table), None)
    if declared is None:
        return "SELECT, INSERT, UPDATE, DELETE"
    may = ["SELECT", "INSERT"]
    if declared.columns_that_may_change:
        columns = ", ".join(connection.ops.quote_name(column) for column in declared.columns_that_may_change)
        may.append(f"UPDATE ({columns})")
    return ", ".join([*may, "DELETE"] if declared.deletable else may)


def _make(cursor: Any, role: str, password: str) -> None:
    cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [role])
    if cursor.fetchone():
        return
    if not password:
        raise Refused(f"There is no role {role}, and no password to make it with.")
    # A statement that makes a role takes no parameters: the server writes it out, with the quotes where they belong.
    cursor.execute(
        "SELECT format('CREATE ROLE %%I LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE PASSWORD %%L', %s::text, %s::text)",
        [role, password],
    )
    cursor.execute(cursor.fetchone()[0])


def _refuse_powerful(cursor: Any, role: str) -> None:
    cursor.execute(
        "SELECT rolsuper OR rolcreaterole OR rolreplication OR rolbypassrls,"
        " EXISTS (SELECT 1 FROM pg_class WHERE relowner = pg_roles.oid),"
        " EXISTS (SELECT 1 FROM pg_auth_members WHERE member = pg_roles.oid)"
        " FROM pg_roles WHERE rolname = %s",
        [role],
    )
    powerful, owns, member = cursor.fetchone()
    if powerful:
        raise Refused(f"Role {role} may do more than a site's role should; take its special rights away first.")
    if owns:
        raise Refused(f"Role {role} owns tables, so it could switch their triggers off; let another role own them.")
    if member:
        raise Refused(f"Role {role} is a member of other roles and has their rights too; end that first.")


def _schema(cursor: Any) -> str:
    cursor.execute("SELECT current_schema()")
    return str(cursor.fetchone()[0])
