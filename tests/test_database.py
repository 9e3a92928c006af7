"""The databases the tests run on are set up as the ones that hold records."""

from __future__ import annotations

import sqlite3

import pytest
from django.db import DatabaseError, connection, transaction

from accounts import journal
from accounts.models import JournalEntry
from tests.cast import cast


@pytest.mark.sqlite
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("pragma", "value"), [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1)])
def test_sqlite_writes_ahead_and_keeps_foreign_keys(pragma: str, value: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {pragma}")
        assert cursor.fetchone() == (value,)


@pytest.mark.sqlite
@pytest.mark.django_db(transaction=True)
def test_sqlite_takes_the_write_lock_when_a_transaction_begins() -> None:
    """So that two that read and then write wait for each other instead of failing half-way."""
    other = sqlite3.connect(connection.settings_dict["NAME"], timeout=0, isolation_level=None)
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
    other.execute("BEGIN IMMEDIATE")
    other.execute("ROLLBACK")
    other.close()


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_postgresql_is_one_that_we_support() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version_num")
        assert int(cursor.fetchone()[0]) >= 150_000


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("round_", [1, 2])
def test_emptying_the_tables_between_tests_leaves_the_triggers(round_: int) -> None:
    people = cast()
    assert not JournalEntry.objects.exists()
    with transaction.atomic():
        journal.record("project.opened", people.site.project, by=people.quinn)
    with pytest.raises(DatabaseError, match="append-only"):
        # Straight to the row: Django itself would first look for what rests on the entry.
        JournalEntry.objects.all()._raw_delete("default")
    assert JournalEntry.objects.count() == 1
