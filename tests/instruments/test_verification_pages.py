"""Checking a gauge on the phone, step by step, without scripts."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from inspection.instruments import actions
from inspection.instruments.models import Certificate, Verification
from tests.cast import Cast
from tests.instruments.pages import as_person, begin, checked, text_of

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
    Certificate.objects.filter(pk=cast.shim_certificate.pk).update(expires=date(2025, 12, 1))
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
    assert "S-125 on S-50, 175.6 µm" in text_of(client.get(where))
    client.post(where, {"readings1": "175.9 176.2", "taken_at": "2026-03-04T07:00"})
    assert Verification.objects.get().points.get().certified_nm == 175_600


def test_one_shim_is_no_stack(in_date: Cast) -> None:
    where = address(in_date, adjustment="zero", stack=[in_date.shims[50].pk])
    answer = as_person(in_date.ines).get(where)
    assert (answer.status_code, "One shim is no stack" in text_of(answer)) == (422, True)


def test_a_failed_check_says_what_to_do_and_leads_to_the_check_as_left(cast: Cast) -> None:
    check = checked(cast, offset_nm=20_000, as_left=False)
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
