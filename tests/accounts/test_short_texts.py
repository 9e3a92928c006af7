"""Codes, names and titles are one line that reads as it is stored; what would break or disguise them is refused."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, models
from django.test import Client

from accounts import post, vault
from accounts.models import ApiToken, JournalEntry, Letter, Person, Scheme
from inspection.foundation.lookalikes import alike
from inspection.foundation.refusals import Refused
from inspection.foundation.text_columns import LongText, ShortText
from inspection.instruments.models import Gauge
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import InspectionArea, Project
from reports.daily import actions as reports
from tests.cast import Cast
from tests.fieldwork.test_api import climate, thickness
from tests.reports.day import worked
from tests.reports.test_issue import built

# A line break, nothing, a turn of direction, a space of no width, the line separator of Unicode.
UNSEEN = ("\n", "\0", "\u202e", "\u200b", "\u2028")
SAID = re.compile("Use plain text on one line|Null characters are not allowed")
# Columns that the platform writes itself: verbs, states, words put together from stored ones; and e-mail addresses,
# which have a rule of their own.
WRITTEN_BY_ITSELF = {
    "accounts.apitoken.token_key", "accounts.chainlink.code", "accounts.chainlink.key", "accounts.guesses.key",
    "accounts.invitation.email", "accounts.journalentry.actor_text", "accounts.journalentry.object_id",
    "accounts.journalentry.object_text", "accounts.journalentry.object_type", "accounts.journalentry.reason",
    "accounts.journalentry.request_id", "accounts.journalentry.verb", "accounts.letter.about", "accounts.letter.body",
    "accounts.letter.kind", "accounts.letter.recipient", "accounts.letter.subject", "accounts.person.admission",
    "accounts.person.email", "accounts.person.password", "accounts.storedfile.media_type", "accounts.storedfile.name",
    "fieldwork.loggerfile.file_name", "fieldwork.loggerfile.time_zone",
    "fieldwork.printedsheet.code",
    "fieldwork.latest.kind", "fieldwork.record.kind", "fieldwork.thicknessrecord.file_name",
    "instruments.certificate.file_name",
    "accounts.postchoice.kind", "accounts.tiding.about", "accounts.tiding.body", "accounts.tiding.kind",
    "accounts.tiding.subject", "plan.approval.admitted", "plan.approval.signed_as", "plan.linerequirement.kind",
    "plan.planline.order_key", "plan.workingcalendar.weekdays", "projects.specificationrevision.file_name",
    "fieldwork.pulloffrecord.calculation", "fieldwork.pulloffrecord.method",
    "fieldwork.wetspongerecord.calculation", "fieldwork.highvoltagerecord.calculation",
    "fieldwork.cuttestrecord.calculation", "fieldwork.cuttestrecord.scale", "fieldwork.cuttestrecord.worst",
    "fieldwork.curerecord.calculation", "fieldwork.curerecord.method", "fieldwork.curerecord.found",
    "fieldwork.hardnessrecord.calculation", "fieldwork.hardnessrecord.method", "fieldwork.hardnessrecord.found",
    "fieldwork.defectsrecord.calculation",
    "fieldwork.wetfilmrecord.calculation", "accounts.letter.calendar", "accounts.tiding.calendar",
    "fieldwork.abrasiverecord.calculation", "fieldwork.airrecord.calculation",
    "fieldwork.cleanlinessrecord.calculation", "fieldwork.dustrecord.calculation", "fieldwork.lookrecord.calculation",
    "fieldwork.saltsrecord.calculation", "fieldwork.steelworkrecord.calculation", "notices.notice.signed_as",
    "notices.noticestep.signed_as",
    "fieldwork.profilerecord.calculation", "fieldwork.thicknessrecord.calculation", "holdpoints.decision.admitted",
    "holdpoints.decision.signed_as", "holdpoints.requirement.kind", "reports.basis.kind",
    "nonconformance.disposition.admitted", "nonconformance.disposition.signed_as", "projects.inspectionarea.told_by",
    "projects.toldtable.table", "projects.storedtable.table",
    "diary.daysignature.signed_as", "diary.signedthing.kind", "reports.basis.told", "reports.clientword.admitted",
    "reports.clientword.signed_as", "photos.photo.file_name",
    "drawings.drawingrevision.file_name",
    "reports.heartbeat.name", "reports.job.about", "reports.job.kind", "recall.askedrecall.fault",
}  # fmt: skip


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def typed_columns() -> list[models.Field[Any, Any]]:
    return [
        field
        for model in apps.get_models()
        if model.__module__.split(".")[0] in {"accounts", "inspection", "reports"}
        for field in model._meta.local_concrete_fields
        if isinstance(field, models.CharField | models.TextField) and not field.choices
    ]


# --- the columns ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("column", [each for each in typed_columns() if isinstance(each, ShortText)], ids=str)
def test_no_column_of_one_line_takes_what_is_not_seen(column: models.Field[Any, Any]) -> None:
    assert column.get_db_prep_save("Heron 7 µm – ½", connection) == "Heron 7 µm – ½"
    for char in UNSEEN:
        with pytest.raises(Refused) as refusal:
            column.get_db_prep_save(f"A{char}B", connection)
        assert [fault.field for fault in refusal.value.faults] == [column.name]


@pytest.mark.parametrize("column", [each for each in typed_columns() if isinstance(each, LongText)], ids=str)
def test_a_note_keeps_its_lines_and_takes_no_turn_of_direction(column: models.Field[Any, Any]) -> None:
    assert column.get_db_prep_save("one\r\ntwo\tthree", connection) == "one\r\ntwo\tthree"
    for char in "\0\x1b\u202e\u2066":
        with pytest.raises(Refused):
            column.get_db_prep_save(f"A{char}B", connection)


def test_every_column_that_people_write_into_is_a_short_or_a_long_text() -> None:
    plain = {str(each).lower() for each in typed_columns() if not isinstance(each, ShortText | LongText)}
    machine = {name for name in plain if name.split(".")[-1].endswith(("digest", "_error"))}
    assert sorted(plain - machine - WRITTEN_BY_ITSELF) == []


# --- the ways in ------------------------------------------------------------------------------------------------------
def project_sent(cast: Cast, **more: str) -> dict[str, str]:
    return {
        "code": "J-14", "name": "Jetty", "client": str(cast.owner.pk), "contractor": "", "time_zone": "Europe/Oslo",
        "unit": "um", "shift_starts": "06:00",
    } | more  # fmt: skip


def area_sent(cast: Cast) -> dict[str, str]:
    return {
        "structure": str(cast.site.structure.pk), "system": str(cast.site.system.pk), "code": "B9", "name": "Roof",
        "area_m2": "12", "shape": "plate",
    }  # fmt: skip


Sent = Callable[[Cast], dict[str, Any]]
# Who sends what to which page, and its short texts.
PAGES: dict[str, tuple[str, Callable[[Cast], str], Sent, tuple[str, ...]]] = {
    "project": ("quinn", lambda cast: "/projects/new/", project_sent, ("code", "name")),
    "correction": (
        "quinn", lambda cast: f"/projects/{cast.site.project.pk}/correct/",
        lambda cast: project_sent(cast, time_zone="UTC", shift_starts="06:00, 18:00", reason="Typing"),
        ("code", "name", "reason"),
    ),
    "structure": (
        "quinn", lambda cast: f"/projects/{cast.site.project.pk}/structures/new/", lambda cast: {"name": "Tower"},
        ("name",),
    ),
    "area": ("quinn", lambda cast: f"/projects/{cast.site.project.pk}/areas/new/", area_sent, ("code", "name")),
    "points": (
        "quinn", lambda cast: f"/projects/{cast.site.project.pk}/hold-points/plan/",
        lambda cast: {"title": "Primer", "kind": "hold", "coat": str(cast.site.coats[0].pk), "every": "on"},
        ("title",),
    ),
    "nonconformance": (
        "ines", lambda cast: f"/projects/{cast.site.project.pk}/nonconformances/new/",
        lambda cast: {"against": "procedure", "named": "PP-4", "title": "Dust"}, ("title", "named"),
    ),
    "gauge": (
        "quinn", lambda cast: "/instruments/gauges/new/",
        lambda cast: {
            "identity": "G-77", "kind": "thickness", "unit": "um", "range_from_nm": "0", "range_to_nm": "1500",
            "accuracy_pct": "1", "accuracy_nm": "1", "maker": "M", "model": "N", "serial": "1",
        },
        ("identity", "maker", "model", "serial"),
    ),
    "standard": (
        "quinn", lambda cast: "/instruments/standards/new/",
        lambda cast: {"identity": "S-77", "kind": "shim", "unit": "um", "nominal_nm": "75", "maker": "M"},
        ("identity", "maker"),
    ),
    "incident": (
        "ines", lambda cast: f"/instruments/gauges/{cast.gauge.pk}/incidents/new/",
        lambda cast: {"at": "2026-03-04T08:00", "what": "Fell"}, ("what",),
    ),
    "custody": (
        "quinn", lambda cast: f"/instruments/gauges/{cast.gauge.pk}/hand-over/",
        lambda cast: {"to": "", "place": "Shelf"}, ("place",),
    ),
    "invitation": (
        "admin", lambda cast: "/people/invite/",
        lambda cast: {
            "name": "Nora", "email": "nora@example.com", "organisation": str(cast.company.pk), "role": "inspector",
        },
        ("name",),
    ),
    "organisation": (
        "quinn", lambda cast: "/people/organisations/new/", lambda cast: {"name": "Owner 3", "kind": "client"},
        ("name",),
    ),
    "rename": (
        "quinn", lambda cast: f"/people/{cast.ines.pk}/rename/",
        lambda cast: {"name": "Ines Other", "reason": "Marriage"}, ("name", "reason"),
    ),
    "qualification": (
        "quinn", lambda cast: f"/people/{cast.ines.pk}/qualifications/",
        lambda cast: {
            "scheme": str(Scheme.objects.get_or_create(name="Coatings")[0].pk), "level": "2", "number": "1",
            "issued": "2025-01-01", "expires": "2030-01-01",
        },
        ("level", "number"),
    ),
    "token": ("ines", lambda cast: "/me/tokens/new/", lambda cast: {"name": "laptop", "days": "9"}, ("name",)),
    "calendar": ("ines", lambda cast: "/calendar/", lambda cast: {"name": "phone"}, ("name",)),
}  # fmt: skip


@pytest.mark.parametrize("way", PAGES)
def test_a_page_refuses_what_is_not_seen_beside_its_field_and_keeps_nothing(cast: Cast, way: str) -> None:
    who, address, sent, texts = PAGES[way]
    client, body = as_person(getattr(cast, who)), sent(cast)
    for number, text in enumerate(texts):
        for char in UNSEEN[number % 2 :: 2] if number < 2 else UNSEEN[number % 5 :: 5]:
            wrong = body | {text: f"{body[text][:1]}{char}{body[text][1:]}x"}
            answer = client.post(address(cast), wrong)
            if char == "\0":  # no browser can type it: refused before any form reads it
                assert answer.status_code == 400, text
                continue
            assert answer.status_code == 422, (text, char)
            assert SAID.search(answer.content.decode()), (text, char)
    assert not JournalEntry.objects.exists()
    assert client.post(address(cast), body).status_code in (200, 302)
    assert JournalEntry.objects.exists()


def test_the_api_refuses_what_is_not_seen_and_keeps_nothing(cast: Cast) -> None:
    ines = as_person(cast.ines)
    for char in UNSEEN:
        body = thickness(cast)
        body["readings"][0]["void_reason"] = f"dust{char}on it"
        for address, sent in (
            ("/api/tokens/", {"name": f"lap{char}top", "days": 9}),
            ("/api/thickness/", body),
        ):
            answer = ines.post(address, json.dumps(sent), "application/json")
            assert answer.status_code == 422, (address, char, answer.content)
    for char in "\0\u202e":
        for address, sent in (
            ("/api/thickness/", thickness(cast, note=f"a{char}b")),
            ("/api/climate/", climate(cast, note=f"a{char}b")),
        ):
            answer = ines.post(address, json.dumps(sent), "application/json")
            assert answer.status_code == 422, (address, char, answer.content)
    assert not ApiToken.objects.exists()
    assert not JournalEntry.objects.exists()
    assert ines.post("/api/climate/", climate(cast, note="one\ntwo"), "application/json").status_code == 201


@pytest.mark.parametrize("char", ["\u202e", "\u200b", "\u2028"])
def test_a_table_of_areas_is_told_the_row_of_what_is_not_seen(cast: Cast, char: str) -> None:
    table = f"code;name;area_m2;shape\nB1;Bay;12;plate\nB{char}2;Bay;8;plate\nB3;B{char}ay;8;plate\n"
    where = f"/projects/{cast.site.project.pk}/areas/upload/"
    sent = {"file": SimpleUploadedFile("areas.csv", table.encode()), "store": "1"}
    page = as_person(cast.quinn).post(where, sent).content.decode()
    assert "row 3, code: Use plain text on one line" in page
    assert "row 4, name: Use plain text on one line" in page
    assert not InspectionArea.objects.filter(code__startswith="B").exists()


# --- what was stored before -------------------------------------------------------------------------------------------
def stored_before(model: type[models.Model], column: str, value: str, pk: Any) -> None:
    """Written as an earlier version wrote it, past the rule of today."""
    plain = models.Func(
        models.Value(value), function="LOWER", template="%(expressions)s", output_field=models.TextField()
    )
    model._default_manager.filter(pk=pk).update(**{column: plain})


def test_a_report_and_its_letters_survive_a_code_with_a_line_break(cast: Cast, mailoutbox: list[Any]) -> None:
    stored_before(Project, "code", "P-1\nBcc: x", cast.site.project.pk)
    cast.site.project.refresh_from_db()
    assert "\n" in cast.site.project.code
    worked(cast)
    issue = reports.issue_report(cast.quinn, report=built(cast))
    answer = as_person(cast.clara).get(f"/reports/{issue.report_id}/revision-1.pdf")
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")
    assert as_person(cast.quinn).get(f"/reports/{issue.report_id}/draft.pdf").status_code == 200
    Letter.objects.create(kind="old", about="1", recipient="x@example.com", subject="Report P-1\nBcc: x", body="-")
    assert post.send_due() == Letter.objects.count()
    assert {"\n" in letter.subject for letter in mailoutbox} == {False}


def test_a_failing_measurement_is_kept_though_the_areas_code_has_an_unseen_character(cast: Cast) -> None:
    stored_before(InspectionArea, "code", "A\u202e1", cast.site.area.pk)
    body = thickness(cast)
    for reading in body["readings"]:
        reading["value_um"] = 10
    answer = as_person(cast.ines).post("/api/thickness/", json.dumps(body), "application/json")
    assert answer.status_code == 201
    assert "\u202e" not in Nonconformance.objects.get().title


def test_what_a_file_is_called_turns_no_file_away(cast: Cast) -> None:
    row = vault.store(b"x", name="cert\n\u202efdp.exe", media_type="application/pdf", by=None)
    assert row.name == "cert fdp.exe"


# --- lookalikes -------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("other", ["G-0l", "G-О1", "G‑01", "Ｇ－01", "g-OI"])
def test_an_identity_that_reads_like_another_is_told(cast: Cast, other: str) -> None:
    """Cyrillic О, a dash of another kind, full width, letter for figure."""
    assert alike([other], ["G-01", "G-02"]) == [(other, "G-01")]
    sent = PAGES["gauge"][2](cast) | {"identity": other}
    page = as_person(cast.quinn).post("/instruments/gauges/new/", sent, follow=True).content.decode()
    assert "reads like “G-01”" in page
    assert Gauge.objects.filter(identity=other).exists()


def test_what_reads_otherwise_is_not_told(cast: Cast) -> None:
    assert alike(["G-07", "g-01", "Tank"], ["G-01", "G-02", "Bank"]) == []


def test_a_project_code_that_reads_like_another_is_told(cast: Cast) -> None:
    client = as_person(cast.quinn)
    page = client.post("/projects/new/", project_sent(cast, code="Р-1"), follow=True).content.decode()
    assert "reads like “P-1”" in page
