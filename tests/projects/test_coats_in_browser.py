"""The pages of coats in Chromium: at a phone's and a desk's width, light and dark, without scripts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from inspection.projects import sheets, stripes
from tests.browsing import PageAs
from tests.cast import Cast
from tests.projects.test_coats import ISO, YARD, a_sheet, specified

pytestmark = pytest.mark.browser
Axe = Callable[[Any], None]
SCOPE = {"welds": True, "edges": True, "cut_outs": True, "bolts": False}


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False), (390, False), (1280, True)])
def test_every_page_of_coats_fits_and_axe_finds_nothing(
    page_as: PageAs, axe: Axe, cast: Cast, width: int, dark: bool
) -> None:
    sheet, first = a_sheet(cast), replace(ISO, maximum_nm=100_000, decides=False, humidity_min_pct=Decimal(50))
    last = replace(first, decides=True, rule="dft-custom", declared=YARD)
    system = specified(cast, first, last, total_nominal_nm=150_000)
    coat = sheets.choose_sheet(cast.quinn, coat=system.coats.first(), data_sheet=sheet, reason="as delivered")
    stripe = stripes.add_stripe(
        cast.quinn, coat=coat, side="before", name="First stripe", product="Finish", method="brush", **SCOPE
    )
    project = cast.site.project.pk
    addresses = [
        reverse("project", args=[project]),
        reverse("data_sheet", args=[sheet.pk]),
        *(reverse(name, args=[sheet.pk]) for name in ("data_sheet_correct", "data_sheet_remove")),
        *(reverse(name, args=[project]) for name in ("data_sheet_new", "system_new")),
        reverse("coat_data_sheet", args=[coat.pk]),
        reverse("stripe_new", args=[system.pk]),
        *(reverse(name, args=[stripe.pk]) for name in ("stripe_change", "stripe_remove")),
    ]
    page = page_as(cast.quinn, width=width, dark=dark, scripts=True)
    for address in addresses:
        assert page.goto(address).status == 200
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), address


def test_a_data_sheet_is_recorded_on_a_phone_without_scripts(page_as: PageAs, cast: Cast) -> None:
    page = page_as(cast.quinn, scripts=False)
    page.goto(reverse("data_sheet_new", args=[cast.site.project.pk]))
    page.get_by_label("Product", exact=True).fill("Zinc silicate")
    page.get_by_label("Revision").fill("2026-02")
    line = page.get_by_role("group", name="Line 1")
    line.get_by_label("Steel, °C").fill("20")
    line.get_by_label("Recoat after, hours").fill("16,5")
    page.get_by_role("button", name="Record it").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Zinc silicate"
    assert page.get_by_role("cell", name="from 16.5").is_visible()
