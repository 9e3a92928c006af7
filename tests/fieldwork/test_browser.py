"""The field room in a real browser, on a phone, with and without scripts; axe finds nothing on its pages."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.fieldwork import actions
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import ClimateRecord, Sheet, ThicknessRecord
from inspection.fieldwork.profile.recording import LocationSent, record_profile
from inspection.foundation.ids import new_id
from tests.cast import Cast, bring_in_date
from tests.cast import cast as casting
from tests.fieldwork.build import GOOD_SPOTS, sent
from tests.fieldwork.samples import SAMPLES
from tests.fieldwork.test_upload_pages import GOOD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    people = casting()
    bring_in_date()
    people.gauge.holder = people.ines
    people.gauge.save()
    return people


def choose(page: Page, label: str, words: str) -> None:
    field = page.get_by_label(label)
    option = field.locator("option", has_text=re.compile(re.escape(words))).first
    field.select_option(option.get_attribute("value"))


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_an_area_is_measured_spot_by_spot_on_a_phone(page_as: Callable[..., Page], cast: Cast, scripts: bool) -> None:
    page = page_as(cast.ines, width=390, scripts=scripts)
    page.goto("/today/")
    page.get_by_role("link", name="Measure thickness").click()
    choose(page, "Inspection area", "A1 Hatch")
    choose(page, "After which coat", "1. Primer")
    # The one gauge in her hands is chosen already.
    expect(page.get_by_label("Gauge", exact=True)).to_have_value(str(cast.gauge.pk))
    page.get_by_role("button", name="Begin").click()
    for reading in GOOD_SPOTS:
        page.get_by_label("Reading in µm").fill(f"{reading.value_nm / 1000:g}".replace(".", ","))
        page.keyboard.press("Enter")
        page.wait_for_load_state()
    expect(page.get_by_text("the rule has what it wants")).to_be_visible()
    page.get_by_role("button", name="Store the record").click()
    expect(page.get_by_role("heading", name="Verdict", exact=True)).to_be_visible()
    assert ThicknessRecord.objects.get().verdict == "pass"
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_reading_field_has_the_focus_and_the_number_pad(page_as: Callable[..., Page], cast: Cast) -> None:
    sheet = actions.open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    page = page_as(cast.ines, width=390)
    page.goto(f"/sheets/{sheet.pk}/")
    field = page.get_by_label("Reading in µm")
    expect(field).to_be_focused()
    expect(field).to_have_attribute("inputmode", "decimal")


def test_a_voided_reading_asks_for_its_repeat(page_as: Callable[..., Page], cast: Cast) -> None:
    sheet = actions.open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=300_000)
    page = page_as(cast.ines, width=390, scripts=False)
    page.goto(f"/sheets/{sheet.pk}/")
    page.get_by_text("Void reading 1").click()
    page.get_by_label("Why", exact=True).fill("probe on a run")
    page.get_by_role("button", name="Void it").click()
    expect(page.get_by_text("A repeat reading is wanted here.")).to_be_visible()


def test_a_file_is_previewed_and_then_stored(page_as: Callable[..., Page], cast: Cast) -> None:
    page = page_as(cast.ines, width=390, scripts=False)
    page.goto(f"/projects/{cast.site.project.pk}/thickness/upload/")
    choose(page, "Inspection area", "A1 Hatch")
    choose(page, "After which coat", "1. Primer")
    page.locator("input[name=file]").set_input_files(
        {"name": "readings.csv", "mimeType": "text/csv", "buffer": GOOD.encode()}
    )
    page.get_by_label("First reading at").fill("2026-03-04T07:00:00")
    page.get_by_label("Last reading at").fill("2026-03-04T08:00:00")
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_role("heading", name="Preview: nothing is stored yet")).to_be_visible()
    assert not ThicknessRecord.objects.exists()
    page.get_by_role("button", name="Store exactly this").click()
    expect(page.get_by_role("link", name="readings.csv")).to_be_visible()
    assert ThicknessRecord.objects.get().source == "file"


def test_climate_is_recorded_on_a_phone(page_as: Callable[..., Page], cast: Cast) -> None:
    page = page_as(cast.ines, width=390, scripts=False)
    page.goto(f"/projects/{cast.site.project.pk}/climate/new/?area={cast.site.area.pk}")
    choose(page, "For which coat", "1. Primer")
    page.get_by_label("Air temperature").fill("20")
    page.get_by_label("Wet bulb, °C").fill("15,0")
    page.get_by_label("Steel, coldest place").fill("18")
    page.get_by_role("button", name="Record").click()
    expect(page.get_by_text("Within the limits")).to_be_visible()
    assert ClimateRecord.objects.get().verdict == "pass"


def test_a_calculator_answers_without_scripts_and_enter_calculates(page_as: Callable[..., Page], cast: Cast) -> None:
    page = page_as(cast.clara, width=390, scripts=False)
    page.goto("/calculators/")
    page.get_by_role("link", name="Verification of a thickness gauge").click()
    page.get_by_role("link", name="Fill in an example").click()
    page.get_by_role("button", name="One more row").click()
    page.get_by_label("Accuracy of the gauge, share").press("Enter")
    expect(page.get_by_role("heading", name="Answer")).to_be_visible()


def pages(cast: Cast) -> dict[str, str]:
    now = timezone.now() - timedelta(hours=1)
    times = {"first_reading_at": now, "last_reading_at": now + timedelta(minutes=30)}
    odd = ReadingSent(1, 4, 190_000, None, "probe tilted")
    old, _ = actions.record_thickness(cast.ines, **sent(cast, readings=[*GOOD_SPOTS, odd], **times))
    new, _ = actions.record_thickness(cast.ines, **sent(cast, replaces=old, replacement_reason="slip", **times))
    climate, _ = actions.record_climate(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0], taken_at=now,
        dry_bulb_c=Decimal(20), wet_bulb_c=Decimal("18.5"), surface_c=Decimal(19),
    )  # fmt: skip
    profile, _ = record_profile(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, taken_at=now, method="comparator",
        location_value="mean", locations=[LocationSent([60_000], "Pot 1"), LocationSent([65_000], "Pot 1")],
    )  # fmt: skip
    sheet: Sheet = actions.open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    for reading in (*GOOD_SPOTS[:4], ReadingSent(2, 2, 40_000)):
        actions.note_reading(cast.ines, sheet=sheet, spot=reading.spot, value_nm=reading.value_nm)
    of_project = f"/projects/{cast.site.project.pk}"
    return {
        "today": "/today/",
        "sheet": f"/sheets/{sheet.pk}/",
        "record": f"/thickness/{new.pk}/",
        "replaced record": f"/thickness/{old.pk}/",
        "records": "/thickness/",
        "climate": f"/climate/{climate.pk}/",
        "climates": "/climate/",
        "record climate": f"{of_project}/climate/new/",
        "profile": f"/profile/{profile.pk}/",
        "profiles": "/profile/",
        "record profile": f"{of_project}/profile/new/",
        "all records": "/records/",
        "begin": f"{of_project}/thickness/start/",
        "upload": f"{of_project}/thickness/upload/",
        "correct": f"{of_project}/thickness/upload/?replaces={new.pk}",
        "calculators": "/calculators/",
        "calculator": "/calculators/verify-gauge/?example",
    }


@pytest.mark.parametrize(("width", "dark"), [(390, True), (1280, False)])
def test_axe_finds_nothing_and_no_page_is_wider_than_its_screen(
    page_as: Callable[..., Page], axe: Callable[[Page], None], cast: Cast, width: int, dark: bool
) -> None:
    page = page_as(cast.ines, width=width, dark=dark)
    for name, address in pages(cast).items():
        page.goto(address)
        axe(page)
        assert (name, page.evaluate("document.documentElement.scrollWidth") <= width) == (name, True)


def test_axe_finds_nothing_where_something_is_wrong(
    page_as: Callable[..., Page], axe: Callable[[Page], None], cast: Cast
) -> None:
    page: Any = page_as(cast.ines, width=390)
    page.goto(f"/projects/{cast.site.project.pk}/thickness/upload/")
    choose(page, "Inspection area", "A1 Hatch")
    choose(page, "After which coat", "1. Primer")
    page.get_by_label("Or the rows themselves").fill("spot,thickness_um\n1,eighty\n")
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_text("3 faults in 1 row")).to_be_visible()
    axe(page)
    page.goto("/calculators/wet-film/")
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_text("Please put right")).to_be_visible()
    axe(page)
    page.get_by_label("Dry film").fill("80")
    page.get_by_label("Volume solids").fill("60")
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_role("heading", name="Answer")).to_be_visible()
    axe(page)


# The pages of the kinds of the bare steel are shared; each kind is opened at one of these.
SIGHTS = [(390, False), (1280, True), (390, True), (1280, False)]


def test_the_pages_of_the_bare_steel_meet_axe_and_keep_within_a_phone(
    page_as: Callable[..., Page], axe: Callable[[Page], None], cast: Cast
) -> None:
    """The form and the record of every kind that declares its questions, and where thickness takes its correction."""
    site, morning = cast.site, timezone.now() - timedelta(hours=1)
    addresses = [f"/projects/{site.project.pk}/thickness/start/?area={site.area.pk}", "/today/"]
    for name, values in SAMPLES.items():
        taken: Any = BY_NAME[name].taken
        told = values | ({"blasted_at": morning - timedelta(hours=2)} if name == "look" else {})
        record, _ = taken.record(cast.ines, id=new_id(), project=site.project, area=site.area, taken_at=morning, **told)
        addresses += [f"/projects/{site.project.pk}/{name}/new/", f"/{name}/{record.pk}/"]
    pages = {seen: page_as(cast.ines, width=seen[0], dark=seen[1]) for seen in SIGHTS}
    for number, address in enumerate(addresses):
        page = pages[SIGHTS[(number + number // 2) % len(SIGHTS)]]
        page.goto(address)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
