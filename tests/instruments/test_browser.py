"""Instruments and projects in a real browser: axe finds nothing, and a check is made by hand on a phone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

import pytest
from django.urls import reverse
from django.utils import timezone

from inspection.instruments import actions
from inspection.instruments.models import Certificate, Verification
from tests import cast as casting
from tests.cast import Cast
from tests.instruments.pages import begin, checked
from tests.past_triggers import rewrite
from tests.standing import scene as standing

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def equipped(transactional_db: None) -> Cast:
    """The cast with a history: checks, an incident, equipment in the inspector's hands, papers in date today."""
    cast = casting.cast()
    rewrite(Certificate.objects.all(), expires=timezone.now().date() + timedelta(days=30))
    actions.hand_over(cast.quinn, gauge=cast.gauge, to=cast.ines)
    for shim in cast.shims.values():
        actions.hand_over(cast.quinn, standard=shim, to=cast.ines)
    for day, offset in enumerate((100, 0, -100, 200, 0, -100, 100, 0, -200, 0, 1_500)):
        checked(cast, days=day, offset_nm=offset)
    checked(cast, days=12, offset_nm=30_000, purpose="closing")
    actions.report_incident(
        cast.ines, gauge=cast.gauge, at=timezone.now() - timedelta(days=1), what="Fell from the board"
    )
    return cast


def addresses(cast: Cast) -> list[str]:
    steps = begin(cast)
    return [
        reverse("equipment"),
        reverse("equipment") + "?show=gauges",
        reverse("equipment") + "?show=standards",
        reverse("gauge", args=[cast.gauge.pk]),
        reverse("standard", args=[cast.shims[50].pk]),
        reverse("labels"),
        reverse("gauge_new"),
        reverse("standard_new"),
        reverse("gauge_hand_over", args=[cast.gauge.pk]),
        reverse("gauge_state", args=[cast.gauge.pk]),
        reverse("incident_new", args=[cast.gauge.pk]),
        reverse("certificate_list"),
        reverse("certificate", args=[cast.shim_certificate.pk]),
        reverse("certificate_new"),
        reverse("certificate_upload"),
        reverse("certificate_correct", args=[cast.shim_certificate.pk]),
        reverse("verification_list"),
        reverse("verification", args=[Verification.objects.order_by("taken_at").last().pk]),
        reverse("verification_new"),
        reverse("verification_new") + f"?gauge={cast.gauge.pk}",
        reverse("verification_new") + "?" + urlencode(steps),
        reverse("verification_new") + "?" + urlencode(steps | {"adjustment": "zero", "on": cast.shims[50].pk}),
        reverse("project_list"),
        reverse("project", args=[cast.site.project.pk]),
        reverse("project_new"),
        reverse("member_new", args=[cast.site.project.pk]),
        reverse("structure_new", args=[cast.site.project.pk]),
        reverse("area_new", args=[cast.site.project.pk]),
        reverse("area_upload", args=[cast.site.project.pk]),
        reverse("system_new", args=[cast.site.project.pk]),
    ]


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)])
def test_axe_finds_nothing_and_nothing_is_wider_than_the_screen(
    equipped: Cast, page_as: Any, axe: Any, width: int, dark: bool
) -> None:
    page = page_as(equipped.quinn, width=width, dark=dark)
    for address in addresses(equipped):
        assert page.goto(address).status == 200, address
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, address


def test_a_gauge_is_checked_on_the_phone_without_scripts(equipped: Cast, page_as: Any) -> None:
    page = page_as(equipped.ines, width=390, scripts=False)
    page.goto(reverse("verification_new"))
    page.get_by_role("link", name="G-01").click()
    page.get_by_label("Opening, before work").check()
    page.get_by_label("Smooth steel").check()
    page.get_by_label("Thickness you expect to measure").fill("120")
    page.get_by_role("button", name="Next: shims").click()
    assert page.get_by_label("S-125, shim").first.is_checked()
    page.get_by_role("button", name="Next: readings").click()
    page.get_by_label("Readings on S-125").fill("125.2 125,6\n125.4")
    page.get_by_role("button", name="Show mean and scatter").click()
    assert "125.4 µm" in page.get_by_role("status").inner_text()
    before = Verification.objects.count()
    page.get_by_role("button", name="Judge and store").click()
    assert page.get_by_text("Verified from 125.4 to 125.4 µm").is_visible()
    assert Verification.objects.count() == before + 1


@pytest.mark.parametrize("dark", [False, True])
def test_a_closing_check_is_led_to_as_found_warned_of_otherwise_and_names_the_day_s_records(
    transactional_db: None, page_as: Any, axe: Any, dark: bool
) -> None:
    cast = casting.cast()
    casting.bring_in_date()
    standing.verify(cast, "06:40")
    record = standing.measure(cast, "08:00", "09:00")
    page = page_as(cast.ines, width=390, dark=dark)
    page.goto(reverse("verification_new") + f"?gauge={cast.gauge.pk}")
    page.get_by_label("Closing, after work").check()
    page.get_by_label("Smooth steel").check()
    page.get_by_label("Thickness you expect to measure").fill("120")
    page.get_by_role("button", name="Next: shims").click()
    assert page.get_by_label("As found, before any adjusting").is_checked()
    assert page.get_by_label("None, checked as found").is_checked()
    page.get_by_label("S-50, shim").first.check()
    page.get_by_label("As left, after adjusting").check()
    page.get_by_label("Zero", exact=True).check()
    page.get_by_role("button", name="Next: readings").click()
    assert page.get_by_text("the records since its last check will be in question").is_visible()
    axe(page)
    page.get_by_role("link", name="Choose as found instead").click()
    assert page.get_by_label("As found, before any adjusting").is_checked()
    assert page.get_by_label("None, checked as found").is_checked()
    assert page.get_by_text("Do not adjust").is_visible()
    assert page.get_by_label("S-50, shim").first.is_checked()
    axe(page)
    page.get_by_role("button", name="Next: readings").click()
    page.get_by_label("Readings on S-50").fill("50.2 50.3")
    page.get_by_label("Readings on S-125").fill("125.4")
    page.get_by_label("Taken at").fill("2026-03-04T17:30")
    page.get_by_role("button", name="Judge and store").click()
    assert page.get_by_role("row", name="A1 after Primer").get_by_text("after work").is_visible()
    assert page.get_by_role("link", name="A1 after Primer").get_attribute("href") == f"/thickness/{record.pk}/"
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
