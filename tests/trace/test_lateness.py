"""What it costs to calibrate a gauge late: what rests on it, what waiting adds, and who is told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person
from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints import actions as holdpoints
from inspection.instruments import gauge_errors
from inspection.instruments.models import Certificate, Gauge, InstrumentRules, Verification
from inspection.projects.models import InspectionArea, Project
from inspection.standards import calculate
from inspection.trace.lateness import Lateness
from tests.cast import Cast
from tests.holdpoints.scene import a_point, signed
from tests.instruments.pages import as_person, text_of
from tests.past_triggers import rewrite
from tests.standing.scene import clock, measure, new_gauge_certificate, verify, withdraw
from tests.trace.scene import issued

NOW = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _monday() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def lateness(cast: Cast, person: Person | None = None) -> Lateness:
    person = person or cast.quinn
    series = gauge_errors.series_of(cast.gauge, person)
    return Lateness(cast.gauge, person, timezone.now(), series[0] if series else None)


def due(cast: Cast, day: date) -> None:
    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), expires=day)


def drifting(cast: Cast, *, a_month_nm: int) -> None:
    """Six monthly checks up to the day of the cast, each further off, with a little scatter."""
    for month in range(6):
        verify(cast, clock("06:40") - timedelta(days=30 * (5 - month)), off_by_nm=a_month_nm * month + 60 * (month % 2))


def told(cast: Cast, person: Person, **asked: str) -> str:
    return text_of(as_person(person).get(reverse("gauge_lateness", args=[cast.gauge.pk]), asked))


# --- what rests on it -------------------------------------------------------------------------------------------------
def test_what_rests_on_the_gauge_is_counted_since_its_calibration_and_since_its_last_check(cast: Cast) -> None:
    verify(cast, "06:40")
    first = measure(cast, "08:00", "08:30")
    measure(cast, "08:30", "08:50", site=cast.foreign)
    verify(cast, "09:00")
    last = measure(cast, "10:00", "10:30", area=cast.site.other_area, values_um=[90, 100])
    verify(cast, "17:30", off_by_nm=30_000)
    point = a_point(cast)
    holdpoints.release(cast.clara, **signed(point))
    a_point(cast, area=cast.site.other_area)
    issued(cast, cast.site, first, last)
    of = lateness(cast)
    found = of.at_stake
    assert (found.records, found.readings, found.in_question) == (3, 8, 2)
    assert (found.projects, found.areas, found.area_m2) == (2, 3, Decimal(76))
    assert (found.points, found.reports) == (1, 1)
    since = of.since_check
    assert since
    assert (since.records, since.readings, since.areas, since.area_m2) == (1, 2, 1, Decimal(60))
    assert (since.projects, since.points, since.reports) == (1, 0, 1)


def test_readings_of_before_the_calibration_and_of_other_gauges_are_not_at_stake(cast: Cast) -> None:
    other = Gauge.objects.create(
        identity="G-02", range_from_nm=0, range_to_nm=1_500_000, accuracy_pct=1, accuracy_nm=1_000
    )
    measure(cast, "", "", at=datetime(2025, 9, 1, 5, 59, tzinfo=UTC))  # the project's day begins at 06:00
    measure(cast, "", "", at=datetime(2025, 9, 1, 6, 0, tzinfo=UTC))
    measure(cast, "08:00", "08:30", gauge=other)
    assert lateness(cast).at_stake.records == 1


def test_a_correction_is_counted_in_place_of_what_it_corrects(cast: Cast) -> None:
    wrong = measure(cast, "08:00", "08:30", values_um=[90, 100, 110, 120])
    measure(cast, "08:00", "08:30", replaces=wrong)
    assert (lateness(cast).at_stake.records, lateness(cast).at_stake.readings) == (1, 3)


def test_a_check_made_after_adjusting_says_nothing_of_the_readings_before_it(cast: Cast) -> None:
    before = verify(cast, "06:40")
    measure(cast, "08:00", "08:30")
    verify(cast, "09:00", adjustment="zero")
    of = lateness(cast)
    assert of.last_check == before
    assert of.since_check
    assert of.since_check.readings == 3


def test_a_new_calibration_takes_the_readings_before_it_off_the_stake(cast: Cast) -> None:
    verify(cast, "06:40")
    measure(cast, "08:00", "08:30")
    new_gauge_certificate(cast, "CG-2", date(2026, 3, 6), date(2027, 3, 6))
    measure(cast, "", "", at=datetime(2026, 3, 6, 8, 0, tzinfo=UTC))
    of = lateness(cast)
    assert (of.at_stake.records, of.since_check) == (1, None)
    assert "so the next check speaks for all of them" in told(cast, cast.quinn)


# --- what waiting adds ------------------------------------------------------------------------------------------------
def test_the_pace_is_that_of_the_last_days_with_work(cast: Cast) -> None:
    for days in range(40):
        measure(cast, "", "", at=clock("08:00") - timedelta(days=2 * days), tell=False)
    found = lateness(cast).pace
    assert found is not None
    assert (found.days, found.readings, found.since) == (30, 90, date(2026, 1, 5))
    assert found.per_working_day == 3
    assert found.working_days_per_week == Decimal(210) / 64  # from 5 January to today are 64 days


def test_one_day_of_work_is_no_week_of_them(cast: Cast) -> None:
    with time_machine.travel(clock("20:00"), tick=False):
        measure(cast, "08:00", "08:30")
        found = lateness(cast).pace
        assert found is not None
        assert found.working_days_per_week == 1


def test_the_table_goes_from_today_over_the_due_day_to_ninety_days_after_it(cast: Cast) -> None:
    due(cast, date(2026, 3, 29))
    for days in range(7):
        measure(cast, "", "", at=NOW - timedelta(days=days), values_um=[100] * 10, tell=False)
    rows = lateness(cast).rows
    assert [(row.label, row.on.isoformat()) for row in rows] == [
        ("Today", "2026-03-09"), ("On its due day", "2026-03-29"), ("7 days late", "2026-04-05"),
        ("30 days late", "2026-04-28"), ("90 days late", "2026-06-27"),
    ]  # fmt: skip
    assert [row.answer["readings_at_stake"] for row in rows] == [70, 270, 340, 570, 1170]
    assert [row.answer["readings_certain"] for row in rows] == [0, 0, 70, 300, 900]


def test_readings_of_days_after_the_due_day_are_in_question_for_certain(cast: Cast) -> None:
    """A night shift belongs to the day on which it began, in the project's own zone."""
    Project.objects.filter(pk=cast.site.project.pk).update(time_zone="America/New_York")
    due(cast, date(2026, 3, 5))
    measure(cast, "", "", at=datetime(2026, 3, 6, 10, 59, tzinfo=UTC))  # 05:59 there, still the day before
    measure(cast, "", "", at=datetime(2026, 3, 6, 11, 0, tzinfo=UTC), values_um=[100, 110])
    of = lateness(cast)
    assert [row.label for row in of.rows] == ["Today", "7 days from now", "30 days from now", "90 days from now"]
    assert of.rows[0].answer["readings_at_stake"] == 5
    assert of.rows[0].answer["readings_certain"] == 2
    assert of.rows[0].answer["days_past_due"] == 4
    words = told(cast, cast.quinn)
    assert "Calibrate it now: it is 4 days late, which puts 2 readings in question for certain" in words
    assert "certificate CG-1 expired on 2026-03-05" in words


def test_the_probability_is_that_of_the_line_through_the_errors_in_its_history(cast: Cast) -> None:
    drifting(cast, a_month_nm=150)
    measure(cast, "08:00", "08:30")
    of = lateness(cast)
    series = gauge_errors.series_of(cast.gauge, cast.quinn)[0]
    forecast = gauge_errors.study_of(cast.gauge, series, cast.quinn, now=timezone.now()).forecast
    assert forecast
    assert forecast["earliest"] < "2026-09-01"
    row = of.rows[1]
    given = {
        "today": "2026-03-09", "due_on": "2026-09-01", "calibrated_on": "2026-09-01", "readings_at_stake": 0,
        "readings_per_working_day": 0, "tolerance_um": gauge_errors.tolerance_at(series),
        "errors_um": [{"date": error.day, "value": error.error_um} for error in series.errors],
    }  # fmt: skip
    probability = calculate("lateness-cost", given)["probability_out_of_tolerance"]
    assert row.answer["probability_out_of_tolerance"] == pytest.approx(probability)
    assert row.answer["readings_expected"] == pytest.approx(probability * row.answer["readings_at_stake"])
    assert "Bring the calibration forward" in told(cast, cast.quinn)


def test_a_gauge_that_does_not_drift_may_wait_for_its_due_day(cast: Cast) -> None:
    drifting(cast, a_month_nm=0)
    measure(cast, "08:00", "08:30")
    assert "The due day can stand" in told(cast, cast.quinn)


def of_gauge(cast: Cast) -> str:
    return text_of(as_person(cast.quinn).get(reverse("gauge", args=[cast.gauge.pk])))


@pytest.mark.parametrize(
    ("a_month_nm", "expires", "interval", "advice"),
    [
        (150, date(2026, 9, 1), "Make it shorter", "Bring the calibration forward"),
        (0, date(2026, 9, 1), "It could be longer", "The due day can stand"),
        # The drift may leave in 2026, but long after so short an interval has ended.
        (150, date(2026, 3, 20), "It could be longer", "The due day can stand"),
    ],
)
def test_the_interval_advised_and_the_cost_of_waiting_say_the_same(
    cast: Cast, a_month_nm: int, expires: date, interval: str, advice: str
) -> None:
    """The interval runs from the day on which the certificate was issued to the earliest day of the drift."""
    due(cast, expires)
    drifting(cast, a_month_nm=a_month_nm)
    measure(cast, "08:00", "08:30")
    study = lateness(cast).study
    assert study
    assert study.advice
    assert study.forecast
    if "earliest" in study.forecast:
        ends = cast.gauge_certificate.issued + timedelta(days=study.advice["next_interval_days"])
        assert ends.isoformat() == study.forecast["earliest"]
    words = of_gauge(cast)
    assert f"<strong>{interval}</strong>: {study.advice['next_interval_days']} days from the calibration of" in words
    assert advice in told(cast, cast.quinn)


def test_without_a_check_since_the_calibration_no_interval_is_advised(cast: Cast) -> None:
    drifting(cast, a_month_nm=0)
    new_gauge_certificate(cast, "CG-2", date(2026, 3, 6), date(2027, 3, 6))
    assert "and one of them since the calibration" in of_gauge(cast)


def test_a_withdrawn_certificate_begins_no_interval(cast: Cast) -> None:
    drifting(cast, a_month_nm=0)
    withdraw(cast, new_gauge_certificate(cast, "CG-2", date(2026, 3, 3), date(2026, 3, 20)))
    assert f"days from the calibration of {cast.gauge_certificate.issued}" in of_gauge(cast)


# --- a failed check ---------------------------------------------------------------------------------------------------
def failing(cast: Cast) -> Verification:
    """An opening check that passes and a closing check of the same day that fails, after months of passing ones."""
    due(cast, date(2026, 9, 1))
    drifting(cast, a_month_nm=0)
    measure(cast, "08:00", "08:30")
    return verify(cast, "17:30", off_by_nm=8_560, purpose="closing")


def test_both_pages_name_a_failed_check_first_and_promise_nothing(cast: Cast) -> None:
    failed = failing(cast)
    history_page, cost_page = of_gauge(cast), told(cast, cast.quinn)
    for words in (history_page, cost_page):
        assert "Out of tolerance now." in words
        assert reverse("verification", args=[failed.pk]) in words[words.index("Out of tolerance now.") :]
        assert "Keep the gauge out of use" in words
    cards = history_page[history_page.index("Drift</h3>") : history_page.index("Errors as a table")]
    assert "lies outside its tolerance now, so no day ahead is told" in cards
    assert "None holds now" in cards
    for promise in ("leaves its tolerance on", "could be longer", "Keep it", "Make it shorter", "may leave"):
        assert promise not in cards
    assert cost_page.index("Out of tolerance now.") < cost_page.index(
        "<strong>Advice.</strong> Have it calibrated now."
    )
    assert "under 0.1 %" not in cost_page
    assert "can stand" not in cost_page
    assert "Not told while a failed check is not settled" in cost_page
    assert not [row for row in lateness(cast).rows if row.known]


def test_a_failed_check_on_another_standard_is_named_too(cast: Cast) -> None:
    drifting(cast, a_month_nm=0)
    verify(cast, "17:30", off_by_nm=9_000, shims=[250])
    for words in (
        text_of(as_person(cast.quinn).get(reverse("gauge", args=[cast.gauge.pk]), {"on": str(cast.shims[50].pk)})),
        told(cast, cast.quinn, on=str(cast.shims[50].pk)),
    ):
        assert "Out of tolerance now." in words
        assert "could be longer" not in words


def test_a_check_after_adjusting_does_not_settle_a_failed_one_but_one_as_found_does(cast: Cast) -> None:
    failing(cast)
    verify(cast, "17:45", adjustment="one-point")
    assert "Out of tolerance now." in of_gauge(cast)
    assert not lateness(cast).rows[0].known
    verify(cast, "18:00")
    assert "Out of tolerance now." not in of_gauge(cast)
    assert lateness(cast).rows[0].known


@pytest.mark.parametrize(("issued_on", "settled"), [(date(2026, 3, 4), False), (date(2026, 3, 5), True)])
def test_a_calibration_of_a_later_day_settles_a_failed_check(cast: Cast, issued_on: date, settled: bool) -> None:
    failing(cast)
    new_gauge_certificate(cast, "CG-2", issued_on, date(2027, 3, 3))
    measure(cast, "", "", at=NOW - timedelta(days=1))
    words = told(cast, cast.quinn)
    assert ("Out of tolerance now." not in words) is settled
    assert ("Check it now: the last error found lies outside the tolerance" in words) is settled
    assert not lateness(cast).rows[0].known


def test_a_late_gauge_whose_check_failed_is_told_both(cast: Cast) -> None:
    failing(cast)
    due(cast, date(2026, 3, 5))
    words = told(cast, cast.quinn)
    assert "Out of tolerance now." in words
    assert "Calibrate it now: it is 4 days late" in words


def test_a_failed_check_is_named_without_a_certificate_too(cast: Cast) -> None:
    failing(cast)
    withdraw(cast, cast.gauge_certificate)
    assert "Out of tolerance now." in told(cast, cast.quinn)


def test_a_failed_check_of_a_project_one_may_not_see_is_not_told(cast: Cast) -> None:
    drifting(cast, a_month_nm=0)
    verify(cast, "17:30", off_by_nm=8_560, site=cast.foreign)
    assert "Out of tolerance now." in told(cast, cast.quinn)
    assert "Out of tolerance now." not in told(cast, cast.audrey)


def test_too_few_checks_give_no_probability_and_the_page_says_so(cast: Cast) -> None:
    verify(cast, "06:40")
    measure(cast, "08:00", "08:30")
    words = told(cast, cast.quinn)
    assert "needs checks on at least 5 days on the same standard; on S-50 there are 1" in words
    assert "not known" in words
    assert "Calibrate it by its due day" in words


def test_the_page_follows_the_standard_chosen_in_the_history(cast: Cast) -> None:
    drifting(cast, a_month_nm=150)
    address = reverse("gauge_lateness", args=[cast.gauge.pk])
    key = str(cast.shims[250].pk)
    assert "6 checks on S-250" in told(cast, cast.quinn, on=key)
    assert f"{address}?on={key}" in text_of(
        as_person(cast.quinn).get(reverse("gauge", args=[cast.gauge.pk]), {"on": key})
    )


def test_a_gauge_without_use_or_certificate_says_why_there_is_nothing_to_tell(cast: Cast) -> None:
    words = told(cast, cast.quinn)
    assert "waiting costs no readings" in words
    assert "Nothing was measured with it within a year" in words
    withdraw(cast, cast.gauge_certificate)
    assert "There is no day to count from: certificate CG-1 was withdrawn" in told(cast, cast.quinn)


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (date(2026, 3, 9), "Calibrate it by its due day: each day after it puts less than one reading in question"),
        (date(2036, 3, 9), "more than ten years ahead"),
        (date.max, "more than ten years ahead"),
    ],
)
def test_a_due_day_of_today_or_far_ahead_is_told_as_it_is(cast: Cast, day: date, sentence: str) -> None:
    due(cast, day)
    measure(cast, "08:00", "08:30")
    assert sentence in told(cast, cast.quinn)


def test_money_is_told_only_where_the_company_declared_what_a_reading_costs(cast: Cast) -> None:
    due(cast, date(2026, 3, 5))
    drifting(cast, a_month_nm=0)
    measure(cast, "", "", at=datetime(2026, 3, 6, 11, 0, tzinfo=UTC), values_um=[100] * 4)
    words = told(cast, cast.quinn)
    assert "Not declared, so there are counts only." in words
    assert "Expected cost" not in words
    InstrumentRules.objects.create(
        cost_of_a_reading=Decimal("12.50"), currency="EUR", reason="agreed", chosen_by=cast.quinn
    )
    words = told(cast, cast.quinn)
    assert "Expected cost, EUR" in words
    assert ">50<" in words
    assert "12.50 EUR, as the company declared it." in words


def test_the_money_of_a_row_is_that_of_the_whole_readings_it_shows(cast: Cast) -> None:
    """What is less than half a reading is shown as none, and so costs nothing."""
    due(cast, date(2026, 6, 25))
    drifting(cast, a_month_nm=150)
    measure(cast, "08:00", "08:30")
    InstrumentRules.objects.create(
        cost_of_a_reading=Decimal("12.60"), currency="EUR", reason="agreed", chosen_by=cast.quinn
    )
    rows = lateness(cast).rows
    assert [row for row in rows if row.answer["cost_expected"] >= 0.5 and row.answer["readings_expected"] < 0.5]
    assert all(row.cost == row.to_measure_again * Decimal("12.60") for row in rows)
    words = told(cast, cast.quinn)
    for row in rows:
        counted = f'<td data-label="To measure again" class="num">{row.answer["readings_expected"]:.0f}</td>'
        assert f'{counted} <td data-label="Expected cost, EUR" class="num">{row.cost:.0f}</td>' in words


# --- who is told ------------------------------------------------------------------------------------------------------
def test_each_reader_is_told_of_the_projects_they_may_see(cast: Cast) -> None:
    verify(cast, "06:40")
    measure(cast, "08:00", "08:30")
    measure(cast, "08:30", "08:50", site=cast.foreign, values_um=[100, 110])
    assert [lateness(cast, person).at_stake.readings for person in (cast.quinn, cast.admin, cast.ines, cast.igor)] == [
        5, 5, 3, 2,
    ]  # fmt: skip
    assert lateness(cast, cast.audrey).at_stake.readings == 3
    assert "counted over your projects" in told(cast, cast.audrey)
    assert "counted over your projects" not in told(cast, cast.quinn)


def test_a_client_is_told_nothing_of_it_and_finds_no_way_there(cast: Cast) -> None:
    verify(cast, "06:40")
    measure(cast, "08:00", "08:30")
    InstrumentRules.objects.create(
        cost_of_a_reading=Decimal("12.50"), currency="EUR", reason="agreed", chosen_by=cast.quinn
    )
    address = reverse("gauge_lateness", args=[cast.gauge.pk])
    client = as_person(cast.clara)
    answer = client.get(address)
    assert answer.status_code == 403
    assert "12.50" not in text_of(answer)
    page = client.get(reverse("gauge", args=[cast.gauge.pk]))
    assert page.status_code == 200
    assert address not in text_of(page)
    assert address in text_of(as_person(cast.audrey).get(reverse("gauge", args=[cast.gauge.pk])))


def test_what_is_no_thickness_gauge_has_no_such_page(cast: Cast) -> None:
    meter = Gauge.objects.create(identity="C-1", kind="climate")
    assert as_person(cast.quinn).get(reverse("gauge_lateness", args=[meter.pk])).status_code == 404


def test_the_page_costs_the_same_for_three_measurements_and_thirty(cast: Cast) -> None:
    due(cast, date(2026, 3, 5))
    client = as_person(cast.quinn)
    address = reverse("gauge_lateness", args=[cast.gauge.pk])

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert client.get(address).status_code == 200
        assert not [query for query in caught if "fieldwork_reading" in query["sql"]]
        return len(caught)

    def worked(first: int, end: int) -> None:
        for number in range(first, end):
            area = InspectionArea.objects.create(
                structure=cast.site.structure, system=cast.site.system, code=f"N{number}", name="Bay", area_m2=10
            )
            day = clock("08:00") - timedelta(days=number)
            verify(cast, day - timedelta(hours=1))
            record = measure(cast, "", "", at=day, area=area)
            point = a_point(cast, area=area)
            type(point).objects.filter(pk=point.pk).update(state="released")
            assert ThicknessRecord.objects.filter(pk=record.pk).exists()

    worked(0, 6)
    before = cost()
    worked(6, 30)
    assert cost() <= before
    assert lateness(cast).at_stake.points == 30


def test_a_foreign_reader_and_a_stranger_find_nothing(cast: Cast) -> None:
    verify(cast, "06:40", site=cast.foreign)
    address = reverse("gauge_lateness", args=[cast.gauge.pk])
    assert as_person(cast.audrey).get(address).status_code == 404
    answer: Any = Client().get(address)
    assert answer.headers["Location"].startswith("/sign-in/")
