"""A note on a drawing in the field app, in a real browser with the network off: placed, kept through a kill, sent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from inspection.drawings.actions import Placed, set_areas
from inspection.drawings.models import DrawingNote
from tests.cast import Cast
from tests.drawings.test_drawings import kept, noted
from tests.fieldapp.test_forms_in_browser import fill, keep

pytestmark = pytest.mark.browser


def test_a_note_is_put_on_a_drawing_without_a_signal_by_a_tap_and_by_keys(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    site, revision = cast.site, kept(cast)
    set_areas(cast.quinn, drawing=revision.drawing, areas=[Placed(site.other_area, 2_000, 3_000)])
    noted(cast, revision, text="Rust at the weld")
    one = phone(cast.ines)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text("Taken along", timeout=30_000)
    one.offline()

    page = one.open("#/")
    page.get_by_role("link", name="Drawings").click()
    page.get_by_role("link", name="D-101 Deck").click()
    picture = page.locator(".plot-over")
    expect(page.locator(".plot-notes > li")).to_have_text("1 Rust at the weld 2026-03-04 07:00")
    assert page.locator(".plot-image").evaluate("(image) => image.naturalWidth") > 200
    expect(page.locator(".plot-area text")).to_have_text("A2")
    # The areas that the drawing shows stand first among those to choose from.
    offered = page.locator('[data-field="area"] option').all_text_contents()
    assert offered[1:] == ["A2 Shell", "A1 Hatch"]
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] * 0.4, box["y"] + box["height"] * 0.6)
    left, top = (page.locator(f'[data-field="{name}"] input') for name in ("left", "top"))
    assert float(left.input_value()) == pytest.approx(40, abs=0.5)
    assert float(top.input_value()) == pytest.approx(60, abs=0.5)
    fill(page, "left", "25")
    fill(page, "top", "50,5")
    picture.focus()
    for key in ("ArrowRight", "Shift+ArrowDown", "ArrowUp"):
        page.keyboard.press(key)
    assert (left.input_value(), top.input_value()) == ("26.0", "54.5")
    fill(page, "text", "Crack beside the hatch")
    axe(page)

    one.kill()
    one.start()
    page = one.open(f"#/drawing/{revision.drawing_id}")
    assert page.locator('[data-field="text"] textarea').input_value() == "Crack beside the hatch"
    fill(page, "area", str(site.other_area.pk))
    fill(page, "left", "126")
    keep(page)
    expect(page.get_by_role("alert").first).to_contain_text("From the left, in %: Give 0 to 100")
    fill(page, "left", "26")
    keep(page)
    expect(page.locator(".plot-notes > li")).to_have_count(2)
    expect(page.locator(".plot-notes")).to_contain_text("(waits here) Crack beside the hatch")
    assert page.locator('[data-field="text"] textarea').input_value() == "", "the next note is a new one"
    assert DrawingNote.objects.count() == 1
    one.offline(False)
    page.reload()
    one.all_sent()
    note = DrawingNote.objects.get(number=2)
    assert (note.x, note.y, note.text, note.area, note.by) == (
        2_600, 5_450, "Crack beside the hatch", site.other_area, cast.ines,
    )  # fmt: skip
    assert note.digest in [row["digest"] for row in one.app("(app) => app.store.all('receipts')")]
