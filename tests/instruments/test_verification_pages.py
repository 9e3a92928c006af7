"""Checking a gauge on the phone, step by step, without scripts."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspection.instruments import actions
from inspection.instruments.closing import closing_told
from inspection.instruments.models import Certificate, Verification
from inspection.projects.models import Project
from tests.cast import Cast
from tests.instruments.pages import as_person, begin, checked, text_of
from tests.past_triggers import rewrite
from tests.standing import scene as standing

NEW = "/instruments/verifications/new/"


def address(cast: Cast, **more: Any) -> str:
    return f"{NEW}?{urlencode(begin(cast) | more, doseq=True)}"


def test_the_first_step_offers_gauges_to_hand_before_others(in_date: Cast) -> None:
    cast = in_date
    for identity in ("A-0", "Z-9"):
        gauge = actions.register_gauge(
            cast.quinn, identity=identity, range_from_nm=0, range_to_nm=10**6, accuracy_pct=1, accuracy_nm=1000
        )
    actions.record_certificate(
        cast.quinn, number="CG-9", laboratory="L", issued=date(2026, 1, 1), expires=date(2050, 1, 1),
        traceable_to="N", gauges=[gauge],
    )  # fmt: skip
    actions.hand_over(cast.quinn, gauge=gauge, to=cast.ines)
    words = text_of(as_person(cast.ines).get(NEW))
    assert words.index("Z-9") < words.index("G-01") < words.index("A-0")
    assert "it has no certificate" in words


def test_purpose_and_target_are_asked_for_and_a_slip_keeps_what_was_chosen(in_date: Cast) -> None:
    cast = in_date
    client = as_person(cast.ines)
    assert client.get(f"{NEW}?gauge={cast.gauge.pk}").status_code == 200
    answer = client.get(address(cast, target="thick", purpose="closing"))
    words = text_of(answer)
    assert answer.status_code == 422
    assert "“thick” is not a number; give the thickness in µm, such as 84.5." in words
    assert 'value="closing" required id="id_purpose_1" checked' in words


def test_the_advice_names_method_and_shims_for_the_target(in_date: Cast) -> None:
    cast = in_date
    words = text_of(as_person(cast.ines).get(address(cast, surface="blasted")))
    assert "Adjust at two points" in words
    assert "S-50 (50.2 µm) and S-125 (125.4 µm)" in words
    ticked = [str(cast.shims[nominal].pk) in part for nominal, part in ((50, words), (125, words))]
    assert all(ticked)


def test_an_expired_shim_is_not_offered_and_the_reason_is_given(in_date: Cast) -> None:
    cast = in_date
    rewrite(Certificate.objects.filter(pk=cast.shim_certificate.pk), expires=date(2025, 12, 1))
    words = text_of(as_person(cast.ines).get(address(cast)))
    assert "No shim is in date and in service" in words
    assert "S-50: certificate CS-1 expired on 2025-12-01" in words
    assert f'value="{cast.shims[50].pk}"' not in words


def readings_page(cast: Cast, **posted: str) -> tuple[Any, str]:
    where = address(cast, adjustment="zero", on=[cast.shims[50].pk, cast.shims[125].pk])
    client = as_person(cast.ines)
    return (client.post(where, posted) if posted else client.get(where)), where


def test_readings_are_shown_with_mean_and_scatter_before_anything_is_stored(in_date: Cast) -> None:
    answer, _ = readings_page(
        in_date, readings1="50.1 50.3\n50,2", readings2="125.4", taken_at="2026-03-04T07:00", look="1"
    )
    words = text_of(answer)
    assert answer.status_code == 200
    assert "<dt>Mean</dt><dd>50.2 µm</dd>" in words
    assert "<dt>Scatter (s)</dt><dd>0.1 µm</dd>" in words
    assert "1, take at least three" in words
    assert not Verification.objects.exists()


def test_a_check_is_stored_once_however_often_it_is_sent(in_date: Cast) -> None:
    sent = {
        "readings1": "50.1 50.3 50.2", "readings2": "125.4 125.0 125.9", "taken_at": "2026-03-04T07:00", "note": "Damp",
    }  # fmt: skip
    answer, where = readings_page(in_date, **sent)
    check = Verification.objects.get()
    assert answer.headers["Location"] == reverse("verification", args=[check.pk])
    assert (check.verdict, check.note, check.points.count()) == ("pass", "Damp", 2)
    again = as_person(in_date.ines).post(where, sent)
    assert again.headers["Location"] == answer.headers["Location"]
    assert Verification.objects.count() == 1


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ("", "Give the readings on S-50, such as 50.1 50.3 49.9."),
        ("50.1 fifty", "Reading 2: “fifty” is not a number"),
        ("50.1,50.3,49.9", "put a space between readings"),
        ("50.1234", "has too many digits"),
        ("999999", "beyond anything measured here"),
    ],
)
def test_what_is_no_reading_is_named_and_nothing_typed_is_lost(in_date: Cast, readings: str, words: str) -> None:
    answer, _ = readings_page(in_date, readings1=readings, readings2="125.4", taken_at="2026-03-04T07:00")
    page = text_of(answer)
    assert answer.status_code == 422
    assert words in page
    assert "125.4</textarea>" in page
    assert readings.strip() in page
    assert not Verification.objects.exists()


def test_a_certificate_expired_on_the_day_of_the_readings_is_refused_beside_them(in_date: Cast) -> None:
    answer, _ = readings_page(in_date, readings1="50.1", readings2="125.4", taken_at="2025-08-04T07:00")
    words = text_of(answer)
    assert answer.status_code == 422
    assert "S-50: certificate CS-1 was issued only on 2025-09-01." in words
    assert "50.1</textarea>" in words


def test_a_stack_is_read_as_one_point(in_date: Cast) -> None:
    cast = in_date
    where = address(cast, adjustment="zero", stack=[cast.shims[50].pk, cast.shims[125].pk])
    client = as_person(cast.ines)
    assert "S-125 + S-50 (stacked, from the bottom up), 175.6 µm" in text_of(client.get(where))
    client.post(where, {"readings1": "175.9 176.2", "taken_at": "2026-03-04T07:00"})
    assert Verification.objects.get().points.get().certified_nm == 175_600


def test_the_order_of_a_stack_is_told_alike_from_the_hint_to_the_verdict(in_date: Cast) -> None:
    cast, client = in_date, as_person(in_date.ines)
    assert "laid with the thickest at the bottom" in text_of(client.get(address(cast)))
    where = address(cast, adjustment="zero", stack=[cast.shims[50].pk, cast.shims[125].pk])
    words = text_of(client.get(where))
    assert "Readings on S-125 + S-50 (stacked, from the bottom up), µm" in words
    assert "S-125 on S-50" not in words
    client.post(where, {"readings1": "175.9 176.2", "taken_at": "2026-03-04T07:00"})
    check = Verification.objects.get()
    words = re.sub("<[^>]*>", "", text_of(client.get(reverse("verification", args=[check.pk]))))
    assert "S-125 + S-50 (stacked, from the bottom up)" in words
    uses = check.points.get().uses.order_by("pk")
    assert [use.certified_value.standard.identity for use in uses] == ["S-125", "S-50"]


# --- as found and as left ---------------------------------------------------------------------------------------------
def chosen(words: str, name: str) -> str:
    """The value of the radio button that is on."""
    return next((value for value in re.findall(rf'name="{name}" value="([^"]*)"[^>]* checked', words)), "")


@pytest.mark.parametrize(
    ("purpose", "when", "adjustment"),
    [("opening", "left", "two-point"), ("closing", "found", "none"), ("suspicion", "found", "none")],
)
def test_a_check_after_work_or_on_suspicion_is_as_found_and_unadjusted_unless_chosen_otherwise(
    in_date: Cast, purpose: str, when: str, adjustment: str
) -> None:
    asked = begin(in_date, purpose=purpose, surface="blasted")
    del asked["as_left"]
    words = text_of(as_person(in_date.ines).get(NEW, asked))
    assert (chosen(words, "as_left"), chosen(words, "adjustment")) == (when, adjustment)
    found = when == "found"
    assert ("only that shows how the gauge was while the readings were taken" in words) is found
    assert ("Adjust at two points" in words) is not found
    assert ("Do not adjust" in words) is found
    assert "Check on S-50 (50.2 µm) and S-125 (125.4 µm)" in words


@pytest.mark.parametrize(
    ("purpose", "when", "adjustment", "warned"),
    [
        ("closing", "left", "zero", True),
        ("suspicion", "left", "two-point", True),
        ("closing", "left", "none", False),
        ("closing", "found", "none", False),
        ("opening", "left", "zero", False),
    ],
)
def test_what_was_chosen_is_shown_before_storing_and_a_loss_of_evidence_is_warned_of(
    in_date: Cast, purpose: str, when: str, adjustment: str, warned: bool
) -> None:
    chosen_shims = [in_date.shims[50].pk]
    where = address(in_date, purpose=purpose, as_left=when, adjustment=adjustment, on=chosen_shims)
    words = text_of(as_person(in_date.ines).get(where))
    assert ("the records since its last check will be in question" in words) is warned
    assert ("ended before it: give a time after the last reading" in words) is (purpose == "closing")
    for label, told in (
        ("Purpose", Verification.Purpose(purpose).label),
        ("When", "As found, before" if when == "found" else "As left, after"),
        ("Adjustment", Verification.Adjustment(adjustment).label),
    ):
        assert f"<dt>{label}</dt><dd>{told}" in words


def test_an_adjustment_before_readings_as_found_is_refused_on_the_page_that_asks_for_it(in_date: Cast) -> None:
    where = address(in_date, as_left="found", adjustment="one-point", on=[in_date.shims[50].pk])
    answer = as_person(in_date.ines).get(where)
    words = text_of(answer)
    assert answer.status_code == 422
    assert "Adjustment made before these readings: Readings as found come before any adjusting" in words
    assert (chosen(words, "as_left"), chosen(words, "adjustment")) == ("found", "one-point")


def test_a_check_names_the_records_it_bears_on_with_their_standing(cast: Cast) -> None:
    standing.verify(cast, "06:40")
    record = standing.measure(cast, "08:00", "09:00")
    elsewhere = standing.measure(cast, "08:10", "09:10", site=cast.foreign, area=cast.foreign.area)
    adjusted = checked(cast, purpose="closing", taken_at=standing.clock("17:30"))
    where = reverse("verification", args=[adjusted.pk])
    words = text_of(as_person(cast.ines).get(where))
    assert adjusted.verdict == "pass"
    assert reverse("thickness", args=[record.pk]) in words
    assert "after work" in words
    assert "In question</span> The check after work, at 17:30, was made after adjusting the gauge" in words
    assert reverse("thickness", args=[elsewhere.pk]) not in words  # a foreign project's
    found = checked(cast, days=1, purpose="closing", adjustment="none", as_left=False)
    assert "No record yet." in text_of(as_person(cast.ines).get(reverse("verification", args=[found.pk])))


def test_a_closing_check_as_found_names_the_record_it_makes_sound(cast: Cast) -> None:
    opening = standing.verify(cast, "06:40")
    record = standing.measure(cast, "08:00", "09:00")
    closing = checked(cast, purpose="closing", adjustment="none", as_left=False, taken_at=standing.clock("17:30"))
    for check, role in ((opening, "before work"), (closing, "after work")):
        words = text_of(as_person(cast.clara).get(reverse("verification", args=[check.pk])))
        assert f"{role}</td>" in words
        assert "Sound</span>" in words
        assert reverse("thickness", args=[record.pk]) in words
        assert ("It closes 1 record: A1 after Primer." in words) == (check == closing)


def test_a_closing_check_in_the_minute_of_the_last_reading_says_what_it_does_not_close(cast: Cast) -> None:
    standing.verify(cast, "06:40")
    record = standing.measure(cast, "", "", at=standing.clock("09:00") + timedelta(seconds=20))
    assert record.ended_at == standing.clock("09:20") + timedelta(seconds=20)
    tomorrow = standing.measure(cast, "", "", at=standing.clock("09:00") + timedelta(days=1))
    foreign = standing.measure(cast, "09:10", "09:30", site=cast.foreign, area=cast.foreign.area)
    as_found = {"purpose": "closing", "adjustment": "none", "as_left": False}
    check = checked(cast, **as_found, taken_at=standing.clock("09:20"))
    where, client = reverse("verification", args=[check.pk]), as_person(cast.ines)
    words = text_of(client.get(where))
    assert "It closes no record." in words
    told = "this one was made at 09:20:00. 1 record ended after it and has no check after work: A1 after Primer, "
    assert f"{told}read until 09:20:20." in words
    assert [reverse("thickness", args=[row.pk]) in words for row in (tomorrow, foreign)] == [False, False]
    later = checked(cast, **as_found, taken_at=standing.clock("09:21"))
    assert closing_told(check, cast.ines) == ["It closes no record."], "the next check closed the other"
    assert closing_told(later, cast.ines) == ["It closes 1 record: A1 after Primer."]


def test_the_number_of_queries_does_not_grow_with_the_records_a_check_bears_on(
    cast: Cast, django_assert_max_num_queries: Any
) -> None:
    opening = standing.verify(cast, "06:40")
    where, client = reverse("verification", args=[opening.pk]), as_person(cast.ines)
    standing.measure(cast, "08:00", "08:01")
    with CaptureQueriesContext(connection) as few:
        client.get(where)
    for minute in range(10, 40):
        standing.measure(cast, f"08:{minute}", f"08:{minute}")
    with django_assert_max_num_queries(len(few)):
        assert text_of(client.get(where)).count("before work</td>") == 31


def test_a_passing_check_as_found_is_made_again_as_found_and_a_failed_one_as_left(cast: Cast) -> None:
    client = as_person(cast.ines)
    for offset, words, when in ((0, "Verify again", "found"), (20_000, "Adjust, then verify as left", "left")):
        check = checked(cast, offset_nm=offset, as_left=False, adjustment="none")
        page = text_of(client.get(reverse("verification", args=[check.pk])))
        assert words in page
        assert f"as_left={when}" in page
        # What comes next is named after a check that passed, and to those who measure.
        assert (reverse("today") in page.partition("<main")[2]) is (not offset)
        assert ("measure the areas next" in page) is (not offset)
        assert "Next: " not in text_of(as_person(cast.audrey).get(reverse("verification", args=[check.pk])))


# --- what is asked first ----------------------------------------------------------------------------------------------
def test_the_unit_of_the_target_is_named(in_date: Cast) -> None:
    cast, client = in_date, as_person(in_date.ines)
    where = f"{NEW}?gauge={cast.gauge.pk}"
    assert "The whole film down to the steel, in µm" in text_of(client.get(where))
    Project.objects.filter(pk=cast.site.project.pk).update(unit="mil")
    assert "The whole film down to the steel, in mil" in text_of(client.get(where))
    words = text_of(as_person(cast.quinn).get(where))  # who sees both projects
    assert "in µm or mil, as its project has it" in words
    assert f"{cast.site.project}, in mil</option>" in words
    assert f"{cast.foreign.project}, in µm</option>" in words


@pytest.mark.parametrize(("target", "status"), [("1500", 200), ("1500.1", 422), ("5000", 422), ("99999", 422)])
def test_a_target_beyond_the_range_of_the_gauge_is_refused(in_date: Cast, target: str, status: int) -> None:
    answer = as_person(in_date.ines).get(address(in_date, target=target))
    assert answer.status_code == status
    assert ("G-01 measures 0.0 to 1500.0 µm; give a thickness within that" in text_of(answer)) is (status == 422)


def test_nobody_is_said_to_have_the_bare_surface_at_hand_until_they_say_so(in_date: Cast) -> None:
    words = text_of(as_person(in_date.ines).get(f"{NEW}?gauge={in_date.gauge.pk}"))
    assert 'name="profile_known"' in words
    assert not re.search(r'name="profile_known"[^>]* checked', words)


# --- times ------------------------------------------------------------------------------------------------------------
def test_times_are_said_as_clocks_show_them_on_the_project(in_date: Cast) -> None:
    Project.objects.update(time_zone="Europe/Oslo")
    future, where = readings_page(in_date, readings1="50.1", readings2="125.4", taken_at="2999-01-01T10:00")
    assert "2999-01-01 10:00 CET lies in the future" in text_of(future)
    stored = as_person(in_date.ines).post(
        where, {"readings1": "50.1", "readings2": "125.4", "taken_at": "2026-03-04T14:19"}, follow=True
    )
    words = text_of(stored)
    assert "G-01 opening check of 2026-03-04 14:19 is stored." in words
    assert "13:19" not in words


def test_one_shim_is_no_stack(in_date: Cast) -> None:
    where = address(in_date, adjustment="zero", stack=[in_date.shims[50].pk])
    answer = as_person(in_date.ines).get(where)
    assert (answer.status_code, "One shim is no stack" in text_of(answer)) == (422, True)


def test_a_failed_check_says_what_to_do_and_leads_to_the_check_as_left(cast: Cast) -> None:
    check = checked(cast, offset_nm=20_000, as_left=False, adjustment="none")
    words = text_of(as_person(cast.ines).get(reverse("verification", args=[check.pk])))
    assert "Do not use this gauge for records." in words
    assert "Adjust, then verify as left" in words
    assert "Readings since the last passing check are suspect" in words


def test_a_passing_check_shows_range_points_and_certificates(cast: Cast) -> None:
    check = checked(cast)
    words = text_of(as_person(cast.audrey).get(reverse("verification", args=[check.pk])))
    assert "Verified from 50.2 to 249.8 µm" in words
    assert "50.2 50.4 50.0" in words
    assert "CS-1" in words
    assert "Verify again" not in words  # an auditor only reads


def test_the_list_of_checks_can_be_narrowed_to_failures_and_to_a_project(cast: Cast) -> None:
    checked(cast, days=0)
    failed = checked(cast, days=1, offset_nm=20_000)
    client = as_person(cast.quinn)
    words = text_of(client.get(reverse("verification_list"), {"verdict": "fail", "project": cast.site.project.pk}))
    assert reverse("verification", args=[failed.pk]) in words
    assert words.count('data-label="Purpose"') == 1


@pytest.mark.parametrize("name", ["verification_list", "equipment"])
def test_the_number_of_queries_does_not_grow_with_checks(
    cast: Cast, name: str, django_assert_max_num_queries: Any
) -> None:
    for day in range(20):
        checked(cast, days=day)
    client = as_person(cast.ines)
    client.get(reverse(name))
    with django_assert_max_num_queries(14):
        assert client.get(reverse(name)).status_code == 200


def test_strangers_neither_check_nor_see_foreign_checks(cast: Cast) -> None:
    check = checked(cast)
    for someone in (cast.clara, cast.audrey, cast.admin):
        assert as_person(someone).get(NEW).status_code == 403
    assert as_person(cast.carl).get(reverse("verification", args=[check.pk])).status_code == 404
    # Inspectors of the company share gauges, so they see every check of them.
    assert as_person(cast.igor).get(reverse("verification", args=[check.pk])).status_code == 200
