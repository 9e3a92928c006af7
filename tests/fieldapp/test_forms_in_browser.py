"""The pack and its forms in a real browser, the network off: found, typed, refused by field and row, sent."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from inspection.fieldwork.cleanliness.models import CleanlinessRecord
from inspection.fieldwork.pulloff.models import PullOffRecord
from inspection.fieldwork.salts.models import SaltsRecord
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import InspectionArea, Party
from inspection.works.models import Crew, Lot
from tests.cast import Cast
from tests.fieldapp.conftest import picture

pytestmark = pytest.mark.browser
MANY = 2_000


def many_places(cast: Cast) -> None:
    site = cast.site
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"F{n:04}", name=f"Frame {n}", area_m2=9)
        for n in range(MANY)
    )


def fill(page: Page, name: str, value: str, *, row: int = 0, of: str = "") -> None:
    """Types into a field, or chooses in it; of a table into the field of a row."""
    at = f'[data-field="{of}"] [data-row="{row}"] ' if row else ".told-form > "
    box = page.locator(f'{at}[data-field="{name}"]').locator("input, select, textarea").first
    if box.evaluate("(element) => element.tagName") == "SELECT":
        box.select_option(value)
    else:
        box.fill(value)


def keep(page: Page) -> None:
    page.get_by_role("button", name="Keep and send").click()


def test_places_are_found_and_three_kinds_are_recorded_offline_and_stored_once(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    many_places(cast)
    site = cast.site
    party = Party.objects.get(project=site.project, kind=Party.Kind.INSPECTION)
    crew = Crew.objects.create(project=site.project, party=party, name="Days")
    one = phone(cast.ines)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text("Taken along", timeout=30_000)
    page.get_by_role("button", name="Fetch it again").click()
    expect(page.locator("#said")).to_contain_text("Nothing has changed", timeout=30_000)
    picture(page, "packs")
    axe(page)
    one.offline()

    page = one.open("#/places")
    expect(page.get_by_role("status").first).to_have_text(f"{MANY + 2} of {MANY + 2} places")
    assert page.locator(".field-places > li").count() < 200, "a window of the list, not all of it"
    page.get_by_label("Part of a code").fill("frame 1999")
    expect(page.locator(".field-places > li")).to_have_count(1)
    axe(page)
    page.get_by_label("Part of a code").fill("A1")
    page.get_by_role("link", name="A1").first.click()
    expect(page.locator("h1")).to_contain_text("A1")
    picture(page, "place")
    axe(page)

    # Pull-off, a table with shares in its rows: what is wrong is told by field and row before anything is kept.
    page = one.open(f"#/form/pulloff/area={site.area.pk}/coat={site.coats[0].pk}")
    for name, value in {"method": "ISO 4624", "tests_wanted": "1", "used_instrument": "Hydraulic, 20 mm",
                        "dolly_mm": "20", "steel_mm": "12", "minimum_mean_mpa": "6,0"}.items():  # fmt: skip
        fill(page, name, value)
    fill(page, "strength_mpa", "8,2x", row=1, of="tests")
    keep(page)
    told = page.get_by_role("alert")
    expect(told).to_contain_text("Tests, row 1, Place: Fill this in.")
    expect(told).to_contain_text("“8,2x” is not a number")
    picture(page, "form")
    axe(page)
    fill(page, "place", "web", row=1, of="tests")
    assert "web" in str(one.app("(app) => app.store.all('drafts')"))
    one.kill()
    one.start()
    page = one.open(f"#/form/pulloff/area={site.area.pk}/coat={site.coats[0].pk}")
    assert page.locator('[data-row="1"] [data-field="place"] input').input_value() == "web", "kept at each key"
    fill(page, "strength_mpa", "8,2", row=1, of="tests")
    share = page.locator('[data-row="1"] .told-share').first.locator("input")
    share.nth(0).fill("b")
    share.nth(1).fill("100")
    # Two taps of a cold thumb are one record.
    page.get_by_role("button", name="Keep and send").dblclick()
    expect(page.locator(".field-unsent")).to_contain_text("1 unsent")

    one.open(f"#/form/cleanliness/area={site.area.pk}")
    for name, value in {"found": "Sa 2½", "start_condition": "B", "light_lx": "600",
                        "compared_with": "Photographs 1 to 4"}.items():  # fmt: skip
        fill(page, name, value)
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("2 unsent")
    # The place knows of what was recorded there, which the pack cannot.
    waits = page.get_by_role("heading", name="On this phone, not sent yet").locator("+ ul > li")
    expect(waits).to_have_text([re.compile("^Pull-off, Primer"), re.compile("^Cleanliness")])

    one.open(f"#/form/salts/area={site.area.pk}")
    for name, value in {"conductivity_unit": "us_cm", "blank": "3", "volume_ml": "3", "patch_cm2": "12.5",
                        "reference_c": "25", "salt": "nacl"}.items():  # fmt: skip
        fill(page, name, value)
    fill(page, "conductivity", "30", row=1, of="patches")
    page.get_by_role("button", name="Add a").click()
    fill(page, "place", "Frame 4", row=2, of="patches")
    fill(page, "lost", "lost", row=2, of="patches")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("3 unsent")

    # A lot is begun and ended before the office has heard of it; and what the office will refuse.
    one.open("#/form/lot")
    for name, value in {"activity": "blast", "method": "dryblast", "crew": str(crew.pk),
                        "begun_at": "2026-03-04T07:00"}.items():  # fmt: skip
        fill(page, name, value)
    # Another place is typed over the first at one go, and nothing of it is lost.
    for code in ("F1999", "A1"):
        fill(page, "area", code, row=1, of="places")
        page.locator(".told-hit").first.click()
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("4 unsent")
    one.open("#/form/lot-end")
    page.get_by_role("link", name="(waits here)").click()
    expect(page.locator(".told-of")).to_contain_text("(waits here)")
    fill(page, "ended_at", "2026-03-04T09:30")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("5 unsent")
    one.open(f"#/form/nonconformance/area={site.area.pk}")
    fill(page, "title", "No light on the scaffold")
    fill(page, "coat", "")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("6 unsent")

    page = one.open("#/")
    expect(page.locator("h1")).to_have_text("Today, P-1")
    picture(page, "today")
    axe(page)
    one.offline(False)
    page.reload()
    expect(page.locator(".field-unsent")).to_contain_text("1 needs you", timeout=60_000)
    page = one.open("#/send")
    picture(page, "send")
    page.get_by_role("button", name="Open it to correct").click()
    expect(page.get_by_role("alert")).to_contain_text("Choose the coat")
    fill(page, "coat", str(site.coats[0].pk))
    keep(page)
    one.all_sent()
    lot = Lot.objects.get()
    assert (lot.activity, lot.ended_at is not None, Nonconformance.objects.count()) == ("blast", True, 1)
    pulled, clean, salt = PullOffRecord.objects.get(), CleanlinessRecord.objects.get(), SaltsRecord.objects.get()
    assert pulled.observed["tests"] == [{"place": "web", "strength_mpa": 8.2, "failures_pct": {"B": 100}}]
    assert (pulled.verdict, clean.found, len(salt.patches), salt.patches[1]["place"]) == (
        "pass", "Sa 2½", 2, "Frame 4",
    )  # fmt: skip
    receipts = {row["id"]: row.get("digest") for row in one.app("(app) => app.store.all('receipts')")}
    assert {str(row.pk): row.digest for row in (pulled, clean, salt)}.items() <= receipts.items()
