"""Trace and recall in Chromium, as auditor, inspector and quality manager, at a phone's and a desk's width."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from inspection.instruments.models import Certificate
from inspection.recall.models import Recall
from tests.browsing import PageAs
from tests.cast import Cast
from tests.holdpoints.story import story
from tests.holdpoints.test_browser import fits
from tests.trace.scene import issued

pytestmark = pytest.mark.browser
Axe = Callable[[Any], None]


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)])
def test_every_page_fits_and_axe_finds_nothing(page_as: PageAs, axe: Axe, cast: Cast, width: int, dark: bool) -> None:
    told = story(cast)
    issue = issued(cast, cast.site, told.record)
    of_reader = [
        reverse("trace"),
        reverse("trace") + "?words=S-",
        reverse("trace") + "?words=nothing",
        reverse("trace_of", args=["standard", cast.shims[50].pk]),
        reverse("trace_of", args=["thickness", told.record.pk]),
        reverse("trace_of", args=["report", issue.pk]),
        reverse("trace_all", args=["standard", cast.shims[50].pk, "up", "thickness"]),
    ]
    of_manager = [
        reverse("trace_of", args=["certificate", cast.shim_certificate.pk]),
        reverse("recall", args=[cast.shim_certificate.pk]),
        reverse("recall_correct", args=[cast.shim_certificate.pk]),
        reverse("gauge_lateness", args=[cast.gauge.pk]),
    ]
    for person, addresses in ((cast.audrey, of_reader), (cast.ines, of_reader[:4]), (cast.quinn, of_manager)):
        page = page_as(person, width=width, dark=dark)
        for address in addresses:
            assert page.goto(address).status == 200
            axe(page)
            assert fits(page), address


def test_the_auditor_walks_from_a_shim_to_an_issued_report(page_as: PageAs, cast: Cast) -> None:
    issued(cast, cast.site, story(cast).record)
    page = page_as(cast.audrey, scripts=False)
    page.goto(reverse("trace"))
    page.get_by_label("Identity, number").fill("S-50")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="S-50", exact=True).click()
    page.wait_for_load_state("networkidle")
    drawing = page.locator("figure img")
    assert drawing.evaluate("image => image.complete && image.naturalWidth > 0")
    page.get_by_role("link", name="A2 after Primer").first.click()
    page.get_by_role("link", name="Daily report P-1").first.click()
    assert page.get_by_role("heading", level=1).inner_text() == "Daily report P-1 2026-03-04 revision 1"
    assert page.get_by_role("link", name="S-50", exact=True).is_visible()


def test_the_quality_manager_corrects_a_value_by_keyboard_after_seeing_what_it_touches(
    page_as: PageAs, axe: Axe, cast: Cast
) -> None:
    story(cast)
    page = page_as(cast.quinn, width=1280)
    page.goto(reverse("recall", args=[cast.shim_certificate.pk]))
    page.get_by_role("link", name="Correct its values").click()
    page.get_by_label("S-50, value in µm").fill("58,2")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What this would touch").wait_for()
    axe(page)
    assert not Recall.objects.exists()
    page.get_by_label("Reason").fill("The laboratory read the wrong line")
    page.get_by_role("button", name="Record the correction").press("Enter")
    page.get_by_role("heading", name="Corrected: certificate CS-1 v2").wait_for()
    axe(page)
    assert fits(page)
    assert (
        Certificate.objects.get(replaces=cast.shim_certificate).values.get(standard=cast.shims[50]).value_nm == 58_200
    )
