"""The rules page, and what is said of things that have run out, in a real browser: phone and desk, light and dark."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from inspection.instruments import actions
from inspection.instruments.models import Certificate, Gauge, InstrumentRules
from tests import cast as casting
from tests.cast import Cast
from tests.instruments.pages import begin, checked
from tests.instruments.test_rules import choose, qualified
from tests.past_triggers import rewrite

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def lapsed(transactional_db: None) -> Cast:
    """The cast with gauge, shims, climate meter and the inspector's own paper run out two days ago."""
    cast = casting.cast()
    day = timezone.now().date() - timedelta(days=2)
    meter = actions.register_gauge(cast.quinn, identity="CM-1", kind="climate")
    actions.record_certificate(
        cast.quinn, number="CC-1", laboratory="Example Laboratory", issued=day - timedelta(days=365),
        expires=day + timedelta(days=1), traceable_to="National institute", gauges=[meter],
    )  # fmt: skip
    rewrite(Certificate.objects.all(), expires=day)
    Gauge.objects.update(holder=cast.ines)
    qualified(cast.ines, day)
    return cast


def told_beforehand(cast: Cast) -> list[str]:
    """Where work begins, and what says beforehand that something has run out."""
    site, new = cast.site.project.pk, reverse("verification_new")
    return [
        reverse("today"),
        reverse("thickness_start", args=[site]),
        reverse("climate_new", args=[site]),
        reverse("gauge_hand_over", args=[cast.gauge.pk]),
        new,
        f"{new}?gauge={cast.gauge.pk}",
        f"{new}?{urlencode(begin(cast))}",
    ]


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)])
def test_what_has_run_out_is_told_on_every_page_where_work_begins(
    lapsed: Cast, page_as: Any, axe: Any, width: int, dark: bool
) -> None:
    page = page_as(lapsed.ines, width=width, dark=dark)
    for overdue in ("block", "warn"):
        if overdue == "warn":
            choose(lapsed.quinn, overdue="warn")
        addresses = told_beforehand(lapsed)
        if overdue == "warn":
            check = checked(lapsed, taken_at=timezone.now() - timedelta(minutes=5))
            asked = begin(lapsed) | {"adjustment": "none", "on": lapsed.shims[50].pk}
            addresses += [
                f"{reverse('verification_new')}?{urlencode(asked)}",
                reverse("verification", args=[check.pk]),
            ]
        for address in addresses:
            assert page.goto(address).status == 200, address
            axe(page)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, address
            expect(page.get_by_text("expired on").first).to_be_visible()


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)])
def test_a_quality_manager_chooses_without_scripts(
    lapsed: Cast, page_as: Any, axe: Any, width: int, dark: bool
) -> None:
    choose(lapsed.quinn, overdue="warn", reason="Calibration is booked out until the end of the month")
    page = page_as(lapsed.quinn, width=width, dark=dark, scripts=False)
    page.goto(reverse("equipment"))
    page.get_by_role("link", name="Instrument rules").click()
    page.get_by_label("Plain sum").check()
    page.get_by_label("What measuring again costs, a reading").fill("1,50")
    page.get_by_role("button", name="Choose").click()
    expect(page.get_by_role("alert")).to_contain_text("Why: This field is required.")
    page.get_by_label("Why").fill("The contract names the sum")
    page.get_by_label("Currency").fill("EUR")
    page.get_by_role("button", name="Choose").click()
    expect(page.get_by_text("1.50 EUR a reading measured again")).to_be_visible()
    assert InstrumentRules.now().cost_of_a_reading == Decimal("1.50")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shown = page_as(lapsed.quinn, width=width, dark=dark)
    shown.goto(reverse("instrument_rules"))
    axe(shown)
