"""A hand on the app's forms: opens them by their links, types into their own fields, takes photos, keeps."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from playwright.sync_api import Locator, Page, expect

# A screen of a phone under a machine that has other work.
PATIENCE_MS = 60_000
FIELDS = ".told-form > "
# Types whose box shows what was typed as it was typed; rows are counted.
SHOWN = ("text", "lines", "number", "integer", "choice", "moment", "rows")


def of_form(page: Page, name: str, *, area: str, title: str) -> None:
    """From any screen: Today, Places, the area, its first coat's other records, the form."""
    if (
        page.locator(f'h1:has-text("{area}")').count() == 0
        or page.get_by_role("link", name="Other record").count() == 0
    ):
        page.get_by_role("link", name="Today").click()
        page.get_by_role("link", name="Places", exact=True).click()
        page.locator(".field-places").get_by_role("link", name=area).click()
    page.get_by_role("link", name="Other record").first.click()
    page.locator(".told-forms").get_by_role("link", name=title, exact=True).click()
    expect(page.locator(f'[data-screen="form"] {FIELDS}[data-field]').first).to_be_visible(timeout=PATIENCE_MS)


def type_all(page: Page, fields: list[dict[str, Any]], sample: dict[str, Any]) -> list[str]:
    """Each field that the sample names, typed or chosen; the names of those typed."""
    typed = [field for field in fields if field["name"] in sample and field.get("unit") != "mil"]
    for field in typed:
        _type(page, FIELDS, field, sample[field["name"]])
    return [field["name"] for field in typed]


def shows(page: Page, fields: list[dict[str, Any]], sample: dict[str, Any]) -> int:
    """Holds what the form shows against what was typed; how many fields were looked at."""
    seen = 0
    for field in fields:
        if field["name"] not in sample or field["type"] not in SHOWN:
            continue
        of, value = f'{FIELDS}[data-field="{field["name"]}"]', sample[field["name"]]
        if field["type"] == "rows":
            expect(page.locator(f"{of} [data-row]")).to_have_count(len(value))
        else:
            expect(_box(page.locator(of))).to_have_value(str(value))
        seen += 1
    return seen


def _box(of: Locator) -> Locator:
    return of.locator("input, select, textarea").first


def _type(page: Page, at: str, field: dict[str, Any], value: Any) -> None:
    of = f'{at}[data-field="{field["name"]}"]'
    box, kind = _box(page.locator(of)), field["type"]
    if kind == "rows":
        _type_rows(page, of, field, value)
    elif kind == "flag" and not field.get("null"):
        box.set_checked(value)
    elif kind in ("choice", "flag", "id"):
        box.select_option({True: "yes", False: "no"}.get(value, str(value)) if kind == "flag" else str(value))
    elif kind == "readings":
        box.fill(" ".join(map(str, value)))
    elif kind == "moment":
        box.fill(f"{datetime.fromisoformat(str(value)):%Y-%m-%dT%H:%M}")
    elif kind in ("text", "lines", "number", "integer", "day", "clock"):
        box.fill(str(value))
    else:
        raise TypeError(f"no hand types into {kind}")


def _type_rows(page: Page, of: str, field: dict[str, Any], rows: list[dict[str, Any]]) -> None:
    for number, row in enumerate(rows, start=1):
        at = f'{of} [data-row="{number}"]'
        if not page.locator(at).count():
            page.locator(f"{of} > .told-add").click()
        for cell in field["fields"]:
            if cell["name"] in row:
                _type(page, f"{at} > ", cell, row[cell["name"]])


def take_photo(page: Page, content: bytes, name: str) -> None:
    """One more by the form's own way to take photos."""
    before = page.locator(".shots > li").count()
    page.get_by_label("Photos", exact=False).first.set_input_files(
        {"name": name, "mimeType": "image/jpeg", "buffer": content}
    )
    expect(page.locator(".shots > li")).to_have_count(before + 1, timeout=PATIENCE_MS)


def keep_it(page: Page, words: str, count: int) -> None:
    """By that button; so many wait then."""
    page.get_by_role("button", name=words).click()
    expect(page.locator(".field-unsent")).to_contain_text(f"{count} unsent", timeout=PATIENCE_MS)
