"""The calculators as pages: finding one, what is folded, the keys a phone shows, and how figures are written."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Page, expect

from inspection.standards import all_calculations, calculate
from inspection.standards.units import legible
from tests.cast import Cast
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]


def listed(client: Client, query: str = "") -> set[str]:
    answer = client.get(f"/calculators/{query}")
    assert answer.status_code == 200
    return set(re.findall(r'href="/calculators/([\w-]+)/"', answer.content.decode()))


# --- finding one ------------------------------------------------------------------------------------------------------
def test_a_search_looks_in_titles_rules_and_sources(ines: Client, cast: Cast) -> None:
    assert {"holiday-voltage", "holiday-sponge"} <= listed(ines, "?q=holiday") < listed(ines)
    assert "dft-iso19840" in listed(ines, "?q=ISO19840")
    assert "dft-iso19840" in listed(ines, "?q=iso+19840+mean")
    assert "rust-grade" in listed(ines, "?q=d610")
    assert listed(ines, "?q=holiday+galvanizing") == set()
    assert "No calculator" in words(ines.get("/calculators/?q=holiday+galvanizing"))


def test_a_group_has_its_own_page_and_together_they_hold_every_calculator(ines: Client, cast: Cast) -> None:
    groups = {one.group for one in all_calculations()}
    pages = {group: listed(ines, f"?group={group}") for group in groups}
    assert pages == {group: {one.name for one in all_calculations() if one.group == group} for group in groups}
    assert listed(ines, "?group=Nowhere") == set()


@pytest.mark.parametrize("query", ["?q=%01", "?q=" + "x" * 3000, "?q=%3Cscript%3E", "?group=%01&q=%F0%9F%98%80"])
def test_odd_searches_find_nothing_and_break_nothing(ines: Client, cast: Cast, query: str) -> None:
    assert listed(ines, query) == set()


# --- the form ---------------------------------------------------------------------------------------------------------
def folded(page: str) -> tuple[bool, str]:
    """Whether the rarely needed inputs stand open, and what is among them."""
    found = re.search(r"<details( open)?><summary>More: (.*?)</details>", page, re.S)
    assert found
    return bool(found[1]), found[2]


def test_what_is_seldom_needed_is_folded_until_it_is_filled_in_or_wrong(ines: Client, cast: Cast) -> None:
    address = "/calculators/climate-limits/"
    is_open, inside = folded(ines.get(address).content.decode())
    assert (is_open, 'name="wet_bulb_c"' in inside, 'name="dry_bulb_c"' in inside) == (False, True, False)
    usual = {"dry_bulb_c": "20", "relative_humidity_pct": "60", "surface_c": "18"}
    assert not folded(ines.post(address, usual).content.decode())[0]
    assert folded(ines.post(address, {**usual, "wet_bulb_c": "15"}).content.decode())[0]
    assert folded(ines.post(address, {**usual, "maximum_air_c": "warm"}).content.decode())[0]


def test_a_form_of_few_inputs_folds_none(ines: Client, cast: Cast) -> None:
    assert "<summary>More" not in ines.get("/calculators/wet-film/").content.decode()


def test_a_phone_shows_a_minus_where_a_value_may_be_below_zero(ines: Client, cast: Cast) -> None:
    page = ines.get("/calculators/drying-time/").content.decode()
    keys = dict(re.findall(r'name="([\w-]+)"[^>]*inputmode="(\w+)"', page))
    assert keys == {
        "temperature_c": "text", "data_sheet-0-temperature_c": "text", "data_sheet-0-hours": "decimal",
    }  # fmt: skip


def test_a_logged_temperature_is_typed_one_reading_a_line(ines: Client, cast: Cast) -> None:
    typed = {
        "applied_at": "2026-06-01T08:00+00:00", "moment": "2026-06-01T10:00+00:00", "longest_gap_hours": "1",
        "data_sheet-0-temperature_c": "-5", "data_sheet-0-minimum_hours": "8", "closing_by": "hottest reading",
        "log_c": "2026-06-01T08:00+00:00 20\n2026-06-01T09:00+00:00; 19,5\n2026-06-01T10:00+00:00 \u22122",
    }  # fmt: skip
    assert "Of the least time reached: 25 %" in words(ines.post("/calculators/drying-log/", typed))
    wrong = ines.post("/calculators/drying-log/", {**typed, "log_c": "2026-06-01T08:00 20"})
    assert (wrong.status_code, "say the offset from UTC" in words(wrong)) == (422, True)


# --- figures ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (2083.399, "V", "2083"), (96.923, "µm", "96.9"), (2.5768, "mil", "2.58"), (0.04371, "µm", "0.0437"),
        (79.97, "µm", "79.97"), (80.0, "µm", "80"), (2.9996, "°C", "2.9996"), (15.2041, "°C", "15.2"),
        (12345.678, "l", "12346"), (0.000662, "1/K", "0.000662"), (7.2333, "MPa", "7.233"), (0, "h", "0"),
        (True, "", "True"), ("Ri 3", "", "Ri 3"), (-96.97, "µm", "-96.97"),
    ],
)  # fmt: skip
def test_a_figure_has_as_many_digits_as_it_is_worth(value: Any, unit: str, text: str) -> None:
    assert legible(value, unit) == text


def test_the_page_rounds_and_the_api_does_not(ines: Client, cast: Cast) -> None:
    page = words(ines.post("/calculators/holiday-pipe-epoxy/", {"unit": "um", "dry_film_um": "400"}))
    assert "525 × √mil: 2083 V" in page
    whole = calculate("holiday-pipe-epoxy", {"dry_film_um": 400})["formula_v"]
    sent = ines.post("/api/calculations/holiday-pipe-epoxy", {"dry_film_um": 400}, "application/json")
    assert sent.json()["formula_v"] == whole == pytest.approx(2083.399, abs=0.0005)


def test_a_caution_stands_beside_the_answer_and_once(ines: Client, cast: Cast) -> None:
    address = "/calculators/holiday-pipe-epoxy/"
    for answer in (ines.get(address), ines.post(address, {"unit": "um", "dry_film_um": "400"})):
        assert words(answer).count("High voltage can kill") == 1
    page = answer.content.decode()
    assert page.index('id="outcome"') < page.index("High voltage can kill") < page.index("<form method")


@pytest.mark.browser
def test_the_answer_is_what_a_phone_shows_after_calculating(page_as: Callable[..., Page], cast: Cast) -> None:
    page = page_as(cast.clara, width=390, scripts=False)
    page.goto("/calculators/?q=sponge")
    page.get_by_role("link", name="Wet-sponge holiday test").click()
    page.get_by_role("link", name="Fill in an example").click()
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_role("heading", name="Answer")).to_be_in_viewport()
    expect(page.get_by_text("Pass", exact=True).first).to_be_in_viewport()
