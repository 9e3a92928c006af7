"""Tables of record keep their triggers through every later migration, on both databases."""

from __future__ import annotations

import re

import pytest
from django.apps import apps
from django.db import connection

from tests import services

# Issued reports, the journal, and what was found, measured, decided and chosen.
OF_RECORD = {
    "accounts.journalentry", "fieldwork.climaterecord", "fieldwork.reading", "fieldwork.thicknessrecord",
    "holdpoints.decision", "holdpoints.disposition", "instruments.instrumentrules", "instruments.standarduse",
    "instruments.verification", "instruments.verificationpoint", "reports.basis", "reports.reminded",
    "reports.reportissue", "reports.setaside", "trace.recall",
}  # fmt: skip
TRIGGERS = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
}


@pytest.mark.django_db
def test_every_table_of_record_refuses_change_and_deletion() -> None:
    wanted = {
        f"{apps.get_model(name)._meta.db_table}_no_{event}" for name in OF_RECORD for event in ("update", "delete")
    }
    with connection.cursor() as cursor:
        cursor.execute(TRIGGERS[connection.vendor])
        assert {name for (name,) in cursor.fetchall()} == wanted


def test_every_table_that_a_migration_guards_is_named_here() -> None:
    guarded = set()
    for path in services.ROOT.glob("*/**/migrations/*.py"):
        if "site-packages" not in path.parts:
            for tables in re.findall(r"append_only\(([^)]*)\)", path.read_text()):
                guarded.update(re.findall(r'"(\w+)"', tables))
    assert guarded == {apps.get_model(name)._meta.db_table for name in OF_RECORD}
