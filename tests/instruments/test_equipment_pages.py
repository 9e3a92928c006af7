"""The register, the page of a gauge with its history, the page of a standard, and what is done there."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inspection.instruments import actions
from inspection.instruments.models import Certificate, Gauge, ReferenceStandard
from tests.cast import Cast
from tests.instruments.pages import as_person, checked, text_of
from tests.past_triggers import rewrite


@pytest.mark.usefixtures("in_date")
def test_an_inspector_lands_on_what_is_in_their_hands(cast: Cast) -> None:
    client = as_person(cast.ines)
    assert "In your hands" not in text_of(client.get(reverse("equipment")))
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.ines)
    actions.hand_over(cast.quinn, standard=cast.shims[50], to=cast.ines)
    words = text_of(client.get(reverse("equipment")))
    assert "Gauges in your hands" in words
    assert "S-50" in words
    assert "S-125" not in words


def test_the_register_says_how_many_days_a_certificate_has_left(cast: Cast) -> None:
    rewrite(Certificate.objects.filter(pk=cast.gauge_certificate.pk), expires=timezone.now().date() + timedelta(days=9))
    client = as_person(cast.quinn)
    assert "Expires in 9 days" in text_of(client.get(reverse("equipment"), {"show": "gauges"}))
    shown = text_of(client.get(reverse("equipment"), {"show": "gauges", "papers": "expiring"}))
    assert "G-01" in shown
    assert "G-01" not in text_of(client.get(reverse("equipment"), {"show": "gauges", "papers": "none"}))


def test_the_register_is_filtered_by_state_and_words(cast: Cast) -> None:
    actions.set_state(cast.quinn, standard=cast.shims[50], state="quarantined", reason="Kinked")
    client = as_person(cast.quinn)
    shown = text_of(client.get(reverse("equipment"), {"show": "standards", "state": "quarantined"}))
    assert ("S-50" in shown, "S-125" in shown) == (True, False)
    shown = text_of(client.get(reverse("equipment"), {"show": "standards", "words": "s-12"}))
    assert ("S-50" in shown, "S-125" in shown) == (False, True)


@pytest.mark.parametrize("show", ["gauges", "standards"])
def test_the_register_costs_the_same_for_three_things_and_thirty(cast: Cast, show: str) -> None:
    client = as_person(cast.quinn)

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse("equipment"), {"show": show})
        return len(caught)

    before = cost()
    for number in range(30):
        ReferenceStandard.objects.create(identity=f"T-{number}", nominal_nm=1000, holder=cast.igor)
        Gauge.objects.create(identity=f"C-{number}", kind="climate", holder=cast.igor)
    assert cost() == before


def test_a_gauge_page_shows_its_accuracy_and_its_certificates(cast: Cast) -> None:
    words = text_of(as_person(cast.ines).get(reverse("gauge", args=[cast.gauge.pk])))
    assert "± 1 % ± 1.0 µm" in words
    assert "0.0 to 1500.0 µm" in words
    assert "CG-1" in words
    meter = Gauge.objects.create(identity="C-1", kind="climate", holder=cast.ines)
    page = as_person(cast.ines).get(reverse("gauge", args=[meter.pk])).content.decode()
    assert re.search(r"<title>\s*Climate meter C-1\b", page)


def test_the_history_names_the_check_that_stands_out_and_the_drift(cast: Cast) -> None:
    for day, offset in enumerate((100, 0, -100, 100, 0, -100, 100, 0, -100, 0, 1_500)):
        checked(cast, days=day, offset_nm=offset)
    client = as_person(cast.quinn)
    words = text_of(client.get(reverse("gauge", args=[cast.gauge.pk])))
    assert "2026-03-14: 1.50 µm stands out on the individuals chart" in words
    assert "µm a year, ±" in words
    assert "days from the calibration of 2025-09-01." in words[words.index("Interval between calibrations") :]
    chart = client.get(reverse("gauge_chart", args=[cast.gauge.pk]))
    assert chart.headers["Content-Type"] == "image/svg+xml"
    assert b"Errors of G-01 on S-50" in chart.content


def test_few_checks_give_no_limits_and_the_page_says_so(cast: Cast) -> None:
    checked(cast)
    words = text_of(as_person(cast.quinn).get(reverse("gauge", args=[cast.gauge.pk])))
    assert "Limits need at least 8 checks on the same standard; there are 1." in words
    assert "A drift needs checks on at least 5 days" in words


def test_checks_that_are_all_the_same_break_nothing(cast: Cast) -> None:
    for day in range(9):
        checked(cast, days=day)
    assert as_person(cast.quinn).get(reverse("gauge", args=[cast.gauge.pk])).status_code == 200


def test_an_outsider_sees_only_their_own_projects_part_of_a_gauges_history(cast: Cast) -> None:
    checked(cast)
    other = checked(cast, days=1, project=cast.site.project)
    words = text_of(as_person(cast.audrey).get(reverse("gauge", args=[cast.gauge.pk])))
    assert reverse("verification", args=[other.pk]) in words
    assert as_person(cast.carl).get(reverse("gauge", args=[cast.gauge.pk])).status_code == 404


def test_a_gauge_is_registered_in_mil_or_um(cast: Cast) -> None:
    sent = {
        "identity": "G-77", "kind": "thickness", "unit": "mil", "range_from_nm": "0", "range_to_nm": "60",
        "accuracy_pct": "1,5", "accuracy_nm": "0.1",
    }  # fmt: skip
    answer = as_person(cast.quinn).post(reverse("gauge_new"), sent)
    gauge = Gauge.objects.get(identity="G-77")
    assert answer.headers["Location"] == reverse("gauge", args=[gauge.pk])
    assert (gauge.range_to_nm, gauge.accuracy_nm, str(gauge.accuracy_pct)) == (1_524_000, 2_540, "1.50")


def test_a_slip_in_the_form_keeps_what_was_typed(cast: Cast) -> None:
    sent = {"identity": "G-77", "kind": "thickness", "unit": "um", "range_to_nm": "many", "maker": "Nordic Works"}
    answer = as_person(cast.quinn).post(reverse("gauge_new"), sent)
    words = text_of(answer)
    assert answer.status_code == 422
    assert "“many” is not a number" in words
    assert 'value="Nordic Works"' in words


def test_a_number_already_used_is_told_together_with_wrong_figures(cast: Cast) -> None:
    sent = {"identity": "g-01", "kind": "thickness", "unit": "um", "range_to_nm": "many"}
    words = text_of(as_person(cast.quinn).post(reverse("gauge_new"), sent))
    assert "“many” is not a number" in words
    assert "g-01 is already registered" in words


def test_the_form_of_a_gauge_says_which_figures_a_thickness_gauge_must_have(cast: Cast) -> None:
    page = text_of(as_person(cast.quinn).get(reverse("gauge_new")))
    assert page.count("(coating thickness gauges must have it)") == 4
    assert 'Maker <span class="quiet">(optional)</span>' in page


@pytest.mark.usefixtures("in_date")
def test_a_standard_is_handed_over_quarantined_and_shown_so(cast: Cast) -> None:
    client = as_person(cast.quinn)
    shim = cast.shims[50]
    client.post(reverse("standard_hand_over", args=[shim.pk]), {"to": str(cast.ines.pk), "place": ""})
    client.post(reverse("standard_state", args=[shim.pk]), {"state": "quarantined", "reason": "Kinked"})
    words = text_of(client.get(reverse("standard", args=[shim.pk])))
    assert "Quarantined" in words
    assert "Ines Inspector" in words


def test_an_incident_is_reported_in_the_time_of_the_site(cast: Cast) -> None:
    type(cast.site.project).objects.update(time_zone="Europe/Oslo")
    client = as_person(cast.ines)
    assert "time in Europe/Oslo" in text_of(client.get(reverse("incident_new", args=[cast.gauge.pk])))
    client.post(reverse("incident_new", args=[cast.gauge.pk]), {"at": "2026-03-04T08:00", "what": "Fell"})
    assert cast.gauge.incidents.get().at.isoformat() == "2026-03-04T07:00:00+00:00"


def test_a_scanned_label_leads_to_the_thing(cast: Cast) -> None:
    client = as_person(cast.ines)
    assert client.get("/i/g-01").headers["Location"] == reverse("gauge", args=[cast.gauge.pk])
    assert client.get("/i/S-50").headers["Location"] == reverse("standard", args=[cast.shims[50].pk])
    assert client.get("/i/nothing").status_code == 404


@pytest.mark.parametrize("name", ["gauge_new", "standard_new"])
def test_only_the_quality_manager_registers(cast: Cast, name: str) -> None:
    for someone in (cast.ines, cast.clara, cast.audrey, cast.admin):
        assert as_person(someone).get(reverse(name)).status_code == 403


def test_a_stranger_is_sent_to_the_sign_in(cast: Cast) -> None:
    answer: Any = Client().get(reverse("gauge", args=[cast.gauge.pk]))
    assert answer.headers["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("name", ["gauge", "standard", "certificate", "verification"])
def test_a_page_costs_the_same_however_long_the_history(cast: Cast, name: str) -> None:
    check = checked(cast)
    pk = {
        "gauge": cast.gauge.pk, "standard": cast.shims[50].pk, "certificate": cast.shim_certificate.pk,
        "verification": check.pk,
    }[name]  # fmt: skip
    client = as_person(cast.quinn)

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            assert client.get(reverse(name, args=[pk])).status_code == 200
        return len(caught)

    for day in range(1, 3):
        checked(cast, days=day)
    before = cost()
    for day in range(3, 10):
        checked(cast, days=day)
    assert cost() <= before
