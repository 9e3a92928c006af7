"""A thing named by its label inside the forms: read by the camera where the browser can, else typed."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from playwright.sync_api import Page, expect

from inspection.instruments.labels import address_of
from inspection.instruments.models import Gauge
from tests.cast import Cast
from tests.fieldapp.conftest import picture
from tests.fieldapp.test_thumb_in_browser import laid, with_pack
from tests.works.painted import painted

pytestmark = pytest.mark.browser

# The reader of squares that Chromium for Android has and this one lacks; and what became of the camera.
READER = """
    window.held = '';
    window.tracks = [];
    window.BarcodeDetector = class {
        static async getSupportedFormats() { return ['qr_code']; }
        async detect(video) {
            if (!video.videoWidth) throw new Error('no picture');
            return held ? [{rawValue: held}] : [];
        }
    };
    const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    navigator.mediaDevices.getUserMedia = async (what) => {
        const stream = await ask(what);
        tracks.push(...stream.getTracks());
        return stream;
    };
"""
STOPPED = "() => tracks.length > 0 && tracks.every((one) => one.readyState === 'ended')"


def hold(page: Page, text: str) -> None:
    page.evaluate("(text) => { window.held = text; }", text)


def test_a_thing_is_named_by_its_label_and_the_camera_ends_when_it_is_left(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    laid(in_date)
    site = in_date.site
    for identity in ("R-02", "R-03"):
        Gauge.objects.create(identity=identity, kind="profile", holder=in_date.ines)
    one = phone(in_date.ines, flags=["--use-fake-device-for-media-stream"])
    one.context.add_init_script(READER)
    one.context.grant_permissions(["camera"])
    page = with_pack(one, in_date)
    dialog = page.locator("dialog")

    # An area's label leads to its page.
    page.evaluate("location.hash = '#/places'")
    page.get_by_role("button", name="A place: by its label").click()
    expect(dialog.locator("video")).to_be_visible()
    expect(dialog.get_by_role("status")).to_have_text("Hold the label before the camera.")
    axe(page)
    assert page.evaluate("document.querySelector('dialog').scrollWidth <= innerWidth")
    hold(page, f"{settings.SITE_URL}{reverse('area', args=[site.area.pk])}")
    expect(page.locator("h1")).to_have_text("A1 Hatch")
    expect(dialog).to_have_count(0)
    page.wait_for_function(STOPPED)

    # Another thing's label is told from the one asked for; the right one ticks its shim.
    hold(page, address_of(in_date.gauge))
    page.evaluate("(at) => { location.hash = at; }", f"#/check/{in_date.gauge.pk}")
    page.get_by_role("button", name="A shim: by its label").click()
    said = "This is the label of G-01, instrument. Asked for is: shim or standard."
    expect(dialog.get_by_role("status")).to_have_text(said)
    hold(page, address_of(in_date.shims[125]))
    expect(page.get_by_label("S-125, 125.4 µm").first).to_be_checked()
    page.wait_for_function(STOPPED)

    # Left by the way back with the camera on; and where it may not be used, the code is typed.
    hold(page, "")
    page.evaluate("(at) => { location.hash = at; }", f"#/form/profile/area={site.area.pk}")
    page.get_by_role("button", name=re.compile("^(Gauge|Instrument): by its label")).click()
    expect(dialog.locator("video")).to_be_visible()
    page.go_back()
    expect(dialog).to_have_count(0)
    page.wait_for_function(STOPPED)
    page.go_forward()
    one.context.clear_permissions()
    page.get_by_role("button", name=re.compile("^(Gauge|Instrument): by its label")).click()
    expect(dialog.get_by_role("status")).to_contain_text("The camera may not be used")
    expect(dialog.locator("video")).to_be_hidden()
    page.keyboard.type("g-01")
    page.keyboard.press("Enter")
    expect(dialog.get_by_role("status")).to_have_text("“G-01” is not among those that can be chosen here.")
    dialog.get_by_label("Its code").fill("r-03")
    page.keyboard.press("Enter")
    expect(dialog).to_have_count(0)
    gauge = Gauge.objects.get(identity="R-03")
    expect(page.locator('[data-field="gauge"] select')).to_have_value(str(gauge.pk))
    assert str(gauge.pk) in str(one.app("(app) => app.store.all('drafts')")), "kept at once, as what is typed"


def test_without_a_reader_of_squares_the_code_is_typed(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any]
) -> None:
    found = painted(in_date)
    page = with_pack(phone(in_date.ines), in_date)
    page.evaluate("location.hash = '#/form/mix'")
    page.get_by_role("button", name="Batch: by its label").first.click()
    dialog = page.locator("dialog")
    expect(dialog.locator("video")).to_be_hidden()
    page.keyboard.type("Z-9")
    page.keyboard.press("Enter")
    said = "“Z-9” is none of what this phone knows. Look again, or choose from the list."
    expect(dialog.get_by_role("status")).to_have_text(said)
    dialog.get_by_label("Its code").fill(found.number.lower())
    picture(page, "label")
    dialog.get_by_role("button", name="Take this code").click()
    expect(page.locator('[data-field="batch"] select').first).to_have_value(str(found.pk))
    page.get_by_role("button", name="Batch: by its label").first.click()
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
