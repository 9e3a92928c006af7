"""The pages of photos at the widths of a phone and a desk, light and dark, with axe."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from inspection.photos import actions
from tests.cast import Cast
from tests.photos.test_photos import SHAPES, add, photo_bytes, record

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.browser]
# Where to keep the pictures, for whoever wants to look at them.
KEEP = os.environ.get("PHOTO_PICTURES", "")


def test_the_pages_of_photos_read_well_on_a_phone_and_on_a_desk(
    cast: Cast, page_as: Callable[..., Any], axe: Callable[[Page], None]
) -> None:
    of = record(cast)
    photo = add(cast, of, photo_bytes(size=(1200, 900)), caption="Runs at the web of frame 12", at_once=True)
    add(cast, of, photo_bytes(size=(600, 900)))
    actions.draw_over(cast.quinn, photo=photo, shapes=SHAPES, after=0)
    pages = {
        "list": "/photos/", "photo": f"/photos/{photo.pk}/", "mark": f"/photos/{photo.pk}/mark/",
        "new": f"/photos/new/record/{of.pk}/", "of": f"/defects/{of.pk}/", "withdraw": f"/photos/{photo.pk}/withdraw/",
    }  # fmt: skip
    for width, dark in ((390, True), (1280, False)):
        page = page_as(cast.quinn, width=width, dark=dark)
        for name, address in pages.items():
            page.goto(address)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{name} is wider than {width}"
            axe(page)
            if KEEP:
                page.screenshot(path=str(Path(KEEP) / f"{name}-{width}.png"), full_page=True)
