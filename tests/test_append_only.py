"""Tables of record keep what was written, through every migration and every statement an engine can refuse."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, IntegrityError, connection, models, transaction

from accounts import journal
from accounts.models import JournalEntry
from inspection.foundation import triggers
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Certificate, CertifiedValue, GaugeIncident
from inspection.nonconformance.models import Nonconformance
from tests.cast import MORNING, Cast

# Issued reports, the journal and its chain; what was found, measured, certified, handed over, decided and chosen.
OF_RECORD = {
    "accounts.chainlink", "accounts.factorrule", "accounts.journalentry", "fieldwork.cleanlinessrecord",
    "projects.storedtable", "fieldwork.abrasiverecord", "fieldwork.airrecord",
    "fieldwork.lookrecord", "fieldwork.steelworkrecord",
    "fieldwork.climaterecord", "fieldwork.dustrecord", "fieldwork.saltsrecord",
    "fieldwork.profilerecord", "fieldwork.pulloffrecord", "fieldwork.curerecord", "fieldwork.hardnessrecord",
    "fieldwork.cuttestrecord", "fieldwork.defectsrecord", "fieldwork.highvoltagerecord", "fieldwork.wetspongerecord",
    "fieldwork.wetfilmrecord",
    "fieldwork.printedarea", "fieldwork.reading", "fieldwork.record", "fieldwork.thicknessrecord",
    "diary.signedthing", "holdpoints.decidedon", "holdpoints.decision", "holdpoints.requirement",
    "instruments.certifiedvalue",
    "instruments.gaugeincident", "instruments.instrumentrules", "instruments.standarduse",
    "instruments.verification", "instruments.verificationpoint", "nonconformance.disposition",
    "nonconformance.reworkentry", "nonconformance.remainder",
    "notices.heldplace",
    "photos.photolayer",
    "notices.noticeparty", "notices.noticestep", "recall.recall",
    "reports.clientword", "reports.companyhead", "reports.projecthead", "reports.review", "reports.reporting",
    "reports.basis", "reports.readinganswer", "reports.reminded", "reports.reportissue", "reports.setaside",
    "works.lotparent", "works.lotplace",
}  # fmt: skip
# What a later action sets; all else of the row is fixed, and it is never deleted unless this says so.
MAY_CHANGE = {
    "holdpoints.holdpoint": {
        "coat",
        "title",
        "line",
        "kind",
        "measured",
        "state",
        "doubted_at",
        "fresh_from",
        "further",
        "lies",
        "passed_over_at",
        "passed_draft",
        "presented_at",
        "notified_for",
        "chain_broken",
    },
    "instruments.custody": {"confirmed_at"},
    "holdpoints.pointletter": {"ended_at", "ended_by"},
    "notices.notice": {
        "state",
        "begins_at",
        "ends_at",
        "meeting_place",
        "sequence",
        "short_hours",
        "due_by",
    },
    "notices.noticeplace": {"point"},
    "plan.approval": {"withdrawn_at", "withdrawn_by", "withdrawn_because"},
    "nonconformance.reworkitem": {"state"},
    "nonconformance.extentspot": {"withdrawn_at", "withdrawn_by", "withdrawn_why"},
    "nonconformance.repairedpart": {"undone_at", "undone_by", "undone_why"},
    "nonconformance.nonconformance": {"state", "repair", "closed_by", "closed_at", "closing_record"},
    "instruments.certificate": {"withdrawn_at", "withdrawn_by", "withdrawal_reason"},
}
MAY_CHANGE["reports.readingquestion"] = {"state"}
MAY_CHANGE["works.paintbatch"] = {
    "product", "component", "number", "made_on", "expires_on", "received", "unit", "containers", "storage_min_c",
    "storage_max_c", "received_at", "received_by", "place", "note", "file", "file_name", "withdrawn_at", "withdrawn_by",
    "withdrawn_why",
}  # fmt: skip
MAY_CHANGE["works.mix"] = {
    "coat", "sheet_told", "mixed_at", "used_from", "used_until", "stirred", "paint_c", "thinner_pct", "ratio_by",
    "ratio_wanted", "ratio_mixed", "deviation_pct", "usable_from", "usable_until", "pot_life_told", "note",
    "gone_over", "reason", "withdrawn_at", "withdrawn_by", "withdrawn_why",
}  # fmt: skip
MAY_CHANGE["photos.photo"] = {
    "caption", "shown", "in_report", "withdrawn_at", "withdrawn_by", "withdrawn_why", "record", "area",
    "came_with",
}  # fmt: skip
_WITHDRAWN = {"withdrawn_at", "withdrawn_by", "withdrawn_why"}
MAY_CHANGE["drawings.drawing"] = {"number", "title", "section"}
MAY_CHANGE["drawings.drawingrevision"] = {"revision", *_WITHDRAWN}
MAY_CHANGE["drawings.drawingarea"] = {"ended_at", "ended_by"}
MAY_CHANGE["drawings.drawingnote"] = {"shown", *_WITHDRAWN}
MAY_CHANGE["diary.noteread"] = {"taken_back_at"}
MAY_CHANGE["works.mixpart"] = {"taken_out_at"}
MAY_CHANGE["works.lotmix"] = {"drawn_l", "returned_l"}
MAY_CHANGE["works.lot"] = {"ended_at", "drawn_l", "returned_l", "withdrawn_at", "withdrawn_by", "withdrawn_why"}
WITHDRAWN = {"withdrawn_at", "withdrawn_by", "withdrawn_why"}
MAY_CHANGE |= dict.fromkeys(
    (
        "works.batchstep",
        "projects.specificationrevision",
        "projects.deviation",
        "projects.deviationanswer",
        "diary.diaryentry",
        "diary.daysignature",
        "fieldwork.printedsheet",
    ),
    WITHDRAWN,
)
MAY_CHANGE["fieldwork.loggerfile"] = {"withdrawn_at", "withdrawn_why"}
# While nobody has decided on the point.
MAY_BE_DELETED = {"holdpoints.holdpoint", "holdpoints.requirement", "holdpoints.pointletter"}


def rows_of(cast: Cast) -> dict[str, models.QuerySet[Any]]:
    area, coat, project = cast.site.area, cast.site.coats[0], cast.site.project
    HoldPoint.objects.create(project=project, area=area, coat=coat, title="After the primer")
    found = {"project": project, "area": area, "coat": coat}
    Nonconformance.objects.create(**found, number=1, title="Runs", raised_by=cast.ines, drafted=True)
    GaugeIncident.objects.create(gauge=cast.gauge, at=MORNING, what="It fell", reported_by=cast.ines)
    of = (HoldPoint, Nonconformance, GaugeIncident, Certificate, CertifiedValue)
    return {model._meta.label_lower: model._default_manager.all() for model in of}


@pytest.mark.django_db
def test_every_table_of_record_has_its_triggers() -> None:
    kinds = ["update", "delete", "truncate" if connection.vendor == "postgresql" else "replace"]
    wanted = {
        f"{apps.get_model(name)._meta.db_table}_no_{kind}"
        for name in {*OF_RECORD, *MAY_CHANGE}
        for kind in kinds
        if not (kind == "delete" and name in MAY_BE_DELETED)
    }
    assert set(triggers.present(connection)) == wanted
    assert triggers.missing(connection) == []


def test_each_declaration_is_named_here() -> None:
    declared = {each.model._meta.label_lower: set(each.may_change) for each in triggers.DECLARED}
    assert declared == {**{name: set() for name in OF_RECORD}, **MAY_CHANGE}
    deletable = {each.model._meta.label_lower for each in triggers.DECLARED if each.deletable}
    assert deletable == MAY_BE_DELETED


def refused(change: Any) -> None:
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        change()


def another(field: models.Field[Any, Any]) -> Any:
    """A value that no row of the cast has in this column."""
    target = field.target_field if isinstance(field, models.ForeignKey) else field
    values: dict[type[Any], Any] = {
        models.UUIDField: uuid4(), models.DateTimeField: datetime(2001, 1, 1, tzinfo=UTC), models.DecimalField: 7,
        models.DateField: date(2001, 1, 1), models.IntegerField: 77, models.BooleanField: False,
    }  # fmt: skip
    return next((value for kind, value in values.items() if isinstance(target, kind)), "another")


def test_what_was_written_of_a_certificate_a_point_or_a_nonconformance_is_fixed(cast: Cast) -> None:
    for label, rows in rows_of(cast).items():
        fixed = [
            field
            for field in rows.model._meta.concrete_fields
            if field.name not in MAY_CHANGE.get(label, set()) and not field.primary_key
        ]
        assert fixed
        for field in fixed:
            refused(lambda rows=rows, field=field: rows.update(**{field.attname: another(field)}))
        if label not in MAY_BE_DELETED:
            refused(lambda rows=rows: rows._raw_delete(rows.db))


def test_what_is_meant_to_change_does(cast: Cast) -> None:
    rows = rows_of(cast)
    assert rows["holdpoints.holdpoint"].update(state="released", title="After coat 1", doubted_at=MORNING) == 1
    assert rows["nonconformance.nonconformance"].update(state="closed", repair="Ground", closed_at=MORNING) == 1
    assert rows["instruments.certificate"].update(withdrawn_at=MORNING, withdrawal_reason="Mixed up")
    certificate = Certificate.objects.first()
    assert certificate
    certificate.save()  # the whole row, with nothing changed that is fixed
    assert HoldPoint.objects.all().delete()[0] == 1


def test_a_missing_trigger_is_told_and_comes_back_with_the_next_release(cast: Cast) -> None:
    name = "accounts_journalentry_no_delete"
    on = " ON accounts_journalentry" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {name}{on}")
    assert triggers.missing(connection) == [f"trigger {name} is missing"]
    call_command("migrate", verbosity=0)
    assert triggers.missing(connection) == []


def test_a_data_migration_changes_rows_of_record_where_it_says_so_and_nowhere_else(cast: Cast) -> None:
    entry = journal.record("area.measured", cast.site.area, by=cast.ines)
    entries = JournalEntry.objects.filter(pk=entry.pk)
    with transaction.atomic():
        with triggers.lifted(connection, JournalEntry._meta.db_table):
            assert entries.update(object_text="Hatch A1") == 1
            # With something that PostgreSQL checks at the transaction's end.
            journal.record("area.measured", cast.site.area, by=cast.ines)
            refused(lambda: CertifiedValue.objects.update(value_nm=1))
        refused(lambda: entries.update(object_text="Hatch A2"))
    assert triggers.missing(connection) == []
    refused(lambda: entries._raw_delete(entries.db))
    assert entries.get().object_text == "Hatch A1"


def test_a_data_migration_that_fails_leaves_rows_and_triggers_as_they_were(cast: Cast) -> None:
    values = CertifiedValue.objects.filter(value_nm=50_200)

    def migrate() -> None:
        with transaction.atomic(), triggers.lifted(connection, CertifiedValue._meta.db_table):
            assert values.update(value_nm=1) == 1
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        migrate()
    assert values.exists()
    assert triggers.missing(connection) == []
    with pytest.raises(ValueError, match="accounts_person"), triggers.lifted(connection, "accounts_person"):
        pass


@pytest.mark.django_db(transaction=True)
def test_triggers_are_lifted_inside_a_transaction_only() -> None:
    with pytest.raises(RuntimeError, match="transaction"), triggers.lifted(connection, JournalEntry._meta.db_table):
        pass


@pytest.mark.postgresql
@pytest.mark.django_db
def test_a_trigger_that_is_switched_off_or_hollowed_out_is_told() -> None:
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE fieldwork_reading DISABLE TRIGGER fieldwork_reading_no_update")
        assert triggers.missing(connection) == ["trigger fieldwork_reading_no_update is switched off"]
        cursor.execute("ALTER TABLE fieldwork_reading ENABLE TRIGGER fieldwork_reading_no_update")
        cursor.execute(
            f"CREATE OR REPLACE FUNCTION {triggers.REFUSE}() RETURNS trigger LANGUAGE plpgsql AS"
            " $$ BEGIN RETURN NEW; END $$"
        )
        assert triggers.missing(connection) == [f"function {triggers.REFUSE} is not the one that is declared"]
    triggers.install(connection)
    assert triggers.missing(connection) == []


@pytest.mark.postgresql
def test_no_table_of_record_is_emptied(cast: Cast) -> None:
    for table in ("accounts_journalentry", "nonconformance_nonconformance"):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"TRUNCATE {table} CASCADE")


REPLACE = "INSERT OR REPLACE INTO accounts_journalentry SELECT {columns} FROM accounts_journalentry"


def entry_and_replacing(cast: Cast) -> tuple[JournalEntry, str]:
    entry = journal.record("area.measured", cast.site.area, by=cast.ines)
    columns = [field.column for field in JournalEntry._meta.concrete_fields]
    return entry, REPLACE.format(columns=", ".join("'other'" if name == "verb" else name for name in columns))


@pytest.mark.sqlite
def test_sqlite_replaces_no_row_of_record(cast: Cast) -> None:
    with transaction.atomic():
        entry, replacing = entry_and_replacing(cast)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(replacing)
    # Nor by another key than the first: the row in the way is deleted, which our connections tell the triggers.
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers")
        assert cursor.fetchone() == (1,)
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT OR REPLACE INTO instruments_certifiedvalue (certificate_id, standard_id, value_nm,"
            " expanded_uncertainty_nm) SELECT certificate_id, standard_id, 1, 1 FROM instruments_certifiedvalue"
            " WHERE standard_id IS NOT NULL LIMIT 1"
        )
    entry.refresh_from_db()
    assert entry.verb == "area.measured"


@pytest.fixture
def raw(transactional_db: None) -> Iterator[sqlite3.Connection]:
    """A connection of somebody else's, with SQLite's own defaults."""
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as other:
        yield other


@pytest.mark.sqlite
def test_a_connection_of_somebody_else_replaces_none_by_its_id(raw: sqlite3.Connection, cast: Cast) -> None:
    with transaction.atomic():
        _, replacing = entry_and_replacing(cast)
    with pytest.raises(sqlite3.IntegrityError, match="UNIQUE"):
        raw.execute(replacing)


@pytest.mark.sqlite
def test_what_sqlite_cannot_refuse_to_a_connection_of_somebody_else_is_told_afterwards(
    raw: sqlite3.Connection, cast: Cast
) -> None:
    """It has no roles: who can write the file can drop a trigger. Which is why `verify` looks."""
    raw.execute("DROP TRIGGER accounts_journalentry_no_update")
    raw.commit()
    assert triggers.missing(connection) == ["trigger accounts_journalentry_no_update is missing"]
    triggers.install(connection)
