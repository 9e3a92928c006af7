"""Photos in the field app, in a real browser with the network off: kept by digest, sent after their record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from inspection.nonconformance.models import Nonconformance
from inspection.photos.models import Photo
from tests.cast import Cast
from tests.fieldapp.test_forms_in_browser import fill, keep
from tests.photos.test_photos import photo_bytes

pytestmark = pytest.mark.browser


def test_photos_taken_offline_survive_a_kill_and_leave_the_phone_once_the_office_named_their_digests(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    site, one = cast.site, phone(cast.ines)
    contents = [photo_bytes(), photo_bytes("PNG")]
    digests = sorted(hashlib.sha256(content).hexdigest() for content in contents)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text("Taken along", timeout=30_000)
    one.offline()

    form = f"#/form/nonconformance/area={site.area.pk}"
    page = one.open(form)
    files = [{"name": "a.jpg", "mimeType": "image/jpeg", "buffer": contents[0]},
             {"name": "b.png", "mimeType": "image/png", "buffer": contents[1]},
             {"name": "c.txt", "mimeType": "text/plain", "buffer": b"no photo"}]  # fmt: skip
    page.get_by_label("Photos").set_input_files(files)
    expect(page.locator(".shots > li")).to_have_count(2)
    expect(page.get_by_role("alert")).to_contain_text("c.txt is no JPEG")
    page.get_by_label("What photo 1 shows").fill("Rust at frame 12")
    assert page.locator(".shot").first.evaluate("(image) => image.naturalWidth") == 64
    axe(page)
    assert sorted(one.app("(app) => app.store.keys('photos')")) == digests

    one.kill()
    one.start()
    page = one.open(form)
    expect(page.locator(".shots > li")).to_have_count(2)
    fill(page, "title", "Rust through the primer")
    # Refused first, for want of its coat: the photos come back with the form and are not sent without it.
    fill(page, "coat", "")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("3 unsent")
    one.offline(False)
    page.reload()
    expect(page.locator(".field-unsent")).to_contain_text("1 needs you", timeout=60_000)
    assert not Photo.objects.exists()
    page = one.open("#/send")
    page.get_by_role("button", name="Open it to correct").click()
    expect(page.locator(".shots > li")).to_have_count(2)
    fill(page, "coat", str(site.coats[0].pk))
    keep(page)
    one.all_sent()

    photos = list(Photo.objects.order_by("caption"))
    assert sorted(photo.file_id for photo in photos) == digests
    assert [photo.caption for photo in photos] == ["", "Rust at frame 12"]
    assert {photo.nonconformance_id for photo in photos} == {Nonconformance.objects.get().pk}
    assert one.app("(app) => app.store.count('photos')") == 0, "the office named what it holds"
    receipts = [row["digest"] for row in one.app("(app) => app.store.all('receipts')")]
    assert set(digests) <= set(receipts)

    # A draft that is thrown away leaves no photo behind.
    page = one.open(form)
    page.get_by_label("Photos").set_input_files(files[:1])
    expect(page.locator(".shots > li")).to_have_count(1)
    page.get_by_role("button", name="Throw this away").click()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("h1")).not_to_contain_text("nonconformance")
    assert one.app("(app) => app.store.count('photos')") == 0
