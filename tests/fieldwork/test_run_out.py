"""Work begun with what has run out is refused or warned of, as the company chose; what was measured is never lost."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from accounts.qualifying import withdraw_qualification
from inspection.fieldwork import actions
from inspection.fieldwork.models import ClimateRecord, Sheet, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Refused
from inspection.instruments.actions import record_certificate, register_gauge, withdraw_certificate
from inspection.instruments.models import Certificate, Gauge
from inspection.projects.models import Membership, Project
from tests.cast import MORNING, Cast, scheme
from tests.fieldwork.build import correct_by_page
from tests.fieldwork.test_api import climate as climate_sent
from tests.fieldwork.test_api import thickness as thickness_sent
from tests.fieldwork.test_sheet_pages import ines, words
from tests.fieldwork.test_upload_pages import GOOD, upload
from tests.instruments.test_api import content as check_sent
from tests.instruments.test_rules import EXPIRED, choose, qualified
from tests.past_triggers import rewrite

__all__ = ["ines"]
GAUGE = "G-01: certificate CG-1 expired on 2026-03-03."
PERSON = "Ines Inspector: qualification Coating inspector 2, number CI-17, ran out on 2026-03-03."


def gauge_run_out(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), expires=EXPIRED)


def open_sheet(cast: Cast, **changed: Any) -> Sheet:
    asked = {
        "id": new_id(), "area": cast.site.area, "coat": cast.site.coats[0], "gauge": cast.gauge,
        "profile_way": "adjusted", "at": MORNING,
    }  # fmt: skip
    return actions.open_sheet(cast.ines, **asked | changed)


def refused(act: Any, *given: Any, **named: Any) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as refusal:
        act(*given, **named)
    return [(fault.field, fault.message) for fault in refusal.value.faults]


def meter_of(cast: Cast, expires: date = EXPIRED) -> Gauge:
    meter = register_gauge(cast.quinn, identity="CM-1", kind="climate")
    record_certificate(
        cast.quinn, number="CC-1", laboratory="L", issued=date(2025, 1, 1), expires=expires, traceable_to="N",
        gauges=[meter],
    )  # fmt: skip
    return meter


# --- sheets -----------------------------------------------------------------------------------------------------------
def test_no_sheet_is_begun_with_a_gauge_or_by_a_person_whose_paper_has_run_out(cast: Cast) -> None:
    gauge_run_out(cast)
    qualified(cast.ines, EXPIRED)
    assert refused(open_sheet, cast) == [("gauge", GAUGE), ("", PERSON)]
    assert not Sheet.objects.exists()


def test_where_it_is_warned_of_the_sheet_begins_and_the_journal_says_so(cast: Cast) -> None:
    gauge_run_out(cast)
    qualified(cast.ines, EXPIRED)
    choose(cast.quinn, overdue="warn")
    open_sheet(cast)
    assert JournalEntry.objects.get(verb="sheet.opened").after["run_out"] == [GAUGE, PERSON]


def test_a_sheet_begun_in_time_is_finished_after_the_paper_ran_out(cast: Cast) -> None:
    sheet = open_sheet(cast)
    gauge_run_out(cast)
    assert open_sheet(cast, id=sheet.pk) == sheet
    actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
    assert actions.finish_sheet(cast.ines, sheet=sheet).reading_count == 1


def test_a_sheet_under_way_says_that_the_certificate_has_run_out_since(ines: Client, cast: Cast) -> None:
    today = cast.site.project.day_of(timezone.now())
    rewrite(Certificate.objects.all(), expires=today - timedelta(days=2))
    sheet = open_sheet(cast, at=timezone.now() - timedelta(days=3))
    shown = words(ines.get(reverse("sheet", args=[sheet.pk])))
    assert f"G-01: certificate CG-1 expired on {today - timedelta(days=2)}." in shown
    assert "readings with a gauge whose certificate has run out will be in question" in shown


def test_the_day_of_the_project_decides_not_that_of_the_calendar(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), expires=MORNING.date())
    night = MORNING.replace(hour=2) + timedelta(days=1)  # the project's day of the 4th lasts to 06:00 UTC of the 5th
    assert open_sheet(cast, at=night).gauge == cast.gauge
    assert refused(open_sheet, cast, at=night + timedelta(hours=6)) == [
        ("gauge", "G-01: certificate CG-1 expired on 2026-03-04.")
    ]


def test_the_page_that_begins_a_sheet_says_so_beforehand(ines: Client, cast: Cast) -> None:
    gauge_run_out(cast)
    Gauge.objects.update(holder=cast.ines)
    where = reverse("thickness_start", args=[cast.site.project.pk])
    shown = words(ines.get(where))
    assert GAUGE in shown
    assert "No measurement can begin with that." in shown
    assert "G-01, serial 1001 (certificate CG-1 expired on 2026-03-03; not checked in the shift that began at" in shown
    asked = {
        "area": cast.site.area.pk, "coat": cast.site.coats[0].pk, "gauge": cast.gauge.pk, "profile_way": "adjusted",
        "id": new_id(),
    }  # fmt: skip
    answer = ines.post(where, asked)
    assert (answer.status_code, f"Gauge: {GAUGE}" in words(answer)) == (422, True)
    choose(cast.quinn, overdue="warn")
    assert "You may begin; readings with a gauge" in words(ines.get(where))
    begun = ines.post(where, asked)
    assert begun.status_code == 302
    assert "You may go on; readings with a gauge" in words(ines.get(begun.url))


# --- today ------------------------------------------------------------------------------------------------------------
def test_the_day_s_page_says_what_has_run_out_before_work_begins(ines: Client, cast: Cast) -> None:
    gauge_run_out(cast)
    qualified(cast.ines, EXPIRED)
    Gauge.objects.update(holder=cast.ines)
    shown = words(ines.get(reverse("today")))
    assert all(
        part in shown for part in (GAUGE, PERSON, "No work can begin with it.", "No measurement or verification")
    )
    choose(cast.quinn, overdue="warn")
    shown = words(ines.get(reverse("today")))
    assert all(part in shown for part in (GAUGE, PERSON, "What rests on it will be in question."))


# --- what was measured already ----------------------------------------------------------------------------------------
def test_readings_sent_to_the_api_are_kept_and_answered_with_a_warning(ines: Client, cast: Cast) -> None:
    gauge_run_out(cast)
    qualified(cast.ines, EXPIRED)
    answer = ines.post("/api/thickness/", thickness_sent(cast), content_type="application/json")
    assert (answer.status_code, answer.json()["warnings"]) == (201, [GAUGE, PERSON])
    assert answer.json()["standing"]["state"] == "in_question"
    assert JournalEntry.objects.get(verb="thickness.recorded").after["run_out"] == [GAUGE, PERSON]


def test_readings_in_date_are_answered_without_a_warning(ines: Client, cast: Cast) -> None:
    answer = ines.post("/api/thickness/", thickness_sent(cast), content_type="application/json")
    assert (answer.status_code, answer.json()["warnings"]) == (201, [])
    assert "run_out" not in JournalEntry.objects.get(verb="thickness.recorded").after


def test_an_uploaded_file_is_kept_and_its_preview_says_so(ines: Client, cast: Cast) -> None:
    gauge_run_out(cast)
    preview = upload(ines, cast, GOOD).url
    shown = words(ines.get(preview))
    assert GAUGE in shown
    assert "The readings are kept all the same" in shown
    assert ines.post(preview).status_code == 302
    assert ThicknessRecord.objects.count() == 1


# --- climate ----------------------------------------------------------------------------------------------------------
def climate_page(cast: Cast, meter: Gauge, **changed: Any) -> dict[str, Any]:
    return {
        "area": cast.site.area.pk, "coat": cast.site.coats[0].pk, "taken_at": "2026-03-04T08:00:00",
        "dry_bulb_c": "20", "wet_bulb_c": "15", "surface_c": "18", "pressure_hpa": "1013.25", "gauge": meter.pk,
    } | changed  # fmt: skip


def test_a_climate_meter_that_has_run_out_is_refused_on_the_page_and_said_beforehand(ines: Client, cast: Cast) -> None:
    meter, where = meter_of(cast), reverse("climate_new", args=[cast.site.project.pk])
    Gauge.objects.filter(pk=meter.pk).update(holder=cast.ines)
    shown = words(ines.get(where))
    assert "CM-1 (certificate CC-1 expired on 2026-03-03)" in shown
    assert "A climate record with such a meter is refused; take another." in shown
    answer = ines.post(where, climate_page(cast, meter))
    assert answer.status_code == 422
    assert "Climate meter: CM-1: certificate CC-1 expired on 2026-03-03." in words(answer)
    assert ines.post(where, climate_page(cast, meter, gauge="")).status_code == 302
    choose(cast.quinn, overdue="warn")
    stored = words(ines.post(where, climate_page(cast, meter), follow=True))
    assert "The climate record is stored." in stored
    assert stored.count("CM-1: certificate CC-1 expired on 2026-03-03.") == 1


@pytest.mark.parametrize(
    ("certified", "why"),
    [(False, "it has no certificate"), (True, "certificate CC-1 was withdrawn on")],
    ids=["never certified", "withdrawn"],
)
def test_a_meter_that_nothing_can_rely_on_is_treated_as_one_that_has_run_out(
    ines: Client, cast: Cast, certified: bool, why: str
) -> None:
    where, started = reverse("climate_new", args=[cast.site.project.pk]), f"CM-1: {why}"
    if certified:
        meter = meter_of(cast, expires=timezone.now().date() + timedelta(days=30))
        withdraw_certificate(cast.quinn, certificate=Certificate.objects.get(number="CC-1"), reason="Bath was off")
    else:
        meter = register_gauge(cast.quinn, identity="CM-1", kind="climate")
    Gauge.objects.filter(pk=meter.pk).update(holder=cast.ines)
    shown = words(ines.get(where))
    assert started in shown
    assert f"CM-1 ({why}" in shown
    answer = ines.post(where, climate_page(cast, meter))
    assert (answer.status_code, f"Climate meter: {started}" in words(answer)) == (422, True)
    assert not ClimateRecord.objects.exists()
    sent = ines.post("/api/climate/", climate_sent(cast, gauge=str(meter.pk)), content_type="application/json")
    assert (sent.status_code, sent.json()["warnings"][0].startswith(started)) == (201, True)
    assert started in words(ines.get(reverse("climate", args=[sent.json()["id"]])))
    choose(cast.quinn, overdue="warn")
    assert "It may be used; the record says so." in words(ines.get(where))
    assert started in words(ines.post(where, climate_page(cast, meter), follow=True))
    entry = JournalEntry.objects.filter(verb="climate.recorded").latest("pk")
    assert entry.after["run_out"][0].startswith(started)


def test_a_climate_sent_to_the_api_is_kept_and_answered_with_a_warning(ines: Client, cast: Cast) -> None:
    meter = meter_of(cast)
    sent = climate_sent(cast, gauge=str(meter.pk))
    answer = ines.post("/api/climate/", sent, content_type="application/json")
    assert (answer.status_code, answer.json()["warnings"]) == (
        201, ["CM-1: certificate CC-1 expired on 2026-03-03."],
    )  # fmt: skip


def test_a_climate_record_is_corrected_though_its_meter_has_run_out(ines: Client, cast: Cast) -> None:
    meter = meter_of(cast)
    ines.post("/api/climate/", climate_sent(cast, gauge=str(meter.pk)), content_type="application/json")
    where = reverse("climate_new", args=[cast.site.project.pk]) + f"?replaces={ClimateRecord.objects.get().pk}"
    asked = climate_page(cast, meter, replacement_reason="Wet bulb misread", wet_bulb_c="14")
    assert correct_by_page(ines, where, asked).status_code == 302


def test_a_meter_in_date_is_used_without_a_word(ines: Client, cast: Cast) -> None:
    meter = meter_of(cast, expires=timezone.now().date() + timedelta(days=30))
    where = reverse("climate_new", args=[cast.site.project.pk])
    assert "expired" not in words(ines.get(where))
    assert ines.post(where, climate_page(cast, meter)).status_code == 302
    assert "run_out" not in JournalEntry.objects.get(verb="climate.recorded").after


# --- strangers --------------------------------------------------------------------------------------------------------
def test_strangers_learn_nothing_of_what_has_run_out(client: Client, cast: Cast) -> None:
    gauge_run_out(cast)
    for someone, status in ((cast.clara, 403), (cast.audrey, 403), (cast.igor, 404)):
        client.force_login(someone)
        answer = client.get(reverse("thickness_start", args=[cast.site.project.pk]))
        assert (answer.status_code, "CG-1" in words(answer)) == (status, False)


# --- what a project asks for ------------------------------------------------------------------------------------------
LACKING = "Ines Inspector: no qualification Coating inspector is recorded, which project P-1 asks for."


def asks(cast: Cast) -> None:
    """The quality manager chooses it on the page of the project."""
    quinn = Client()
    quinn.force_login(cast.quinn)
    where = reverse("project_qualifications", args=[cast.site.project.pk])
    assert quinn.post(where, {"schemes": [scheme().pk]}).status_code == 302


def test_who_lacks_the_paper_that_the_project_asks_for_is_treated_as_if_it_had_run_out(cast: Cast) -> None:
    asks(cast)
    assert JournalEntry.objects.get(verb="project.qualifications_asked").after == {"schemes": ["Coating inspector"]}
    qualified(cast.ines, date(2028, 1, 1), scheme=scheme("Rope access"))
    assert refused(open_sheet, cast) == [("", LACKING)]
    choose(cast.quinn, overdue="warn")
    open_sheet(cast)
    assert JournalEntry.objects.get(verb="sheet.opened").after["run_out"] == [LACKING]
    qualified(cast.ines, date(2028, 1, 1))
    open_sheet(cast)
    assert "run_out" not in JournalEntry.objects.filter(verb="sheet.opened").latest("pk").after


def test_the_pages_tell_it_beforehand_and_only_on_the_project_that_asks(ines: Client, cast: Cast) -> None:
    Membership.objects.create(project=cast.foreign.project, person=cast.ines, role="inspector")
    asks(cast)
    today = words(ines.get(reverse("today")))
    assert today.count(LACKING) == 1
    assert "No measurement or verification by you can begin" in today
    assert LACKING in words(ines.get(reverse("thickness_start", args=[cast.site.project.pk])))
    assert "no qualification" not in words(ines.get(reverse("thickness_start", args=[cast.foreign.project.pk])))
    assert "Qualifications asked of whoever measures: Coating inspector." in words(
        ines.get(reverse("project", args=[cast.site.project.pk]))
    )


def test_readings_and_checks_sent_in_without_the_paper_are_stored_with_the_warning(ines: Client, cast: Cast) -> None:
    asks(cast)
    kept = {"content_type": "application/json"}
    answer = ines.post(reverse("api_thickness_list"), thickness_sent(cast), **kept)
    assert (answer.status_code, answer.json()["warnings"]) == (201, [LACKING])
    check = ines.post(reverse("api_verification_list"), check_sent(cast), **kept)
    assert (check.status_code, check.json()["warnings"]) == (201, [LACKING])


def test_a_paper_that_never_runs_out_is_enough_and_a_withdrawn_one_is_none(cast: Cast) -> None:
    asks(cast)
    paper = qualified(cast.ines, None)
    open_sheet(cast)
    withdraw_qualification(cast.quinn, qualification=paper, reason="never seen")
    assert refused(open_sheet, cast) == [("", LACKING)]


def test_today_asks_the_database_no_more_for_many_projects_that_ask(ines: Client, cast: Cast) -> None:
    asks(cast)

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            ines.get(reverse("today"))
        return len(caught)

    few = cost()
    for number in range(8):
        project = Project.objects.create(code=f"Q-{number}", name="Q", client=cast.owner, shift_starts="06:00, 18:00")
        Membership.objects.create(project=project, person=cast.ines, role="inspector")
        project.schemes_asked.add(scheme())
    assert cost() == few
