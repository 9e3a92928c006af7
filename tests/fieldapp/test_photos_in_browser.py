"""Photos in the field app, in a real browser with the network off: kept by digest, sent after their record."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.models import Nonconformance
from inspection.photos import layers
from inspection.photos.models import Photo, PhotoLayer, PhotoPart
from tests.cast import Cast
from tests.fieldapp.test_forms_in_browser import fill, keep
from tests.notices.scene import planned
from tests.photos.test_photos import photo_bytes

pytestmark = pytest.mark.browser


# As `static/field/parts.js` has it.
PART = 256 * 1024


def large_photo() -> bytes:
    """Of grains by chance, which no format makes small: some parts and a rest."""
    out = io.BytesIO()
    Image.effect_noise((960, 720), 90).convert("RGB").save(out, "JPEG", quality=100)
    assert 2.5 * PART < len(out.getvalue()) < 10 * PART
    return out.getvalue()


def broken_link(sent: list[tuple[int, int]]) -> Callable[[Any], None]:
    """Breaks in the middle of the second part, whose first half arrives, and before the third; notes what was sent."""

    def handle(route: Any) -> None:
        if route.request.method != "PUT":
            route.continue_()
            return
        part = route.request.post_data_buffer
        sent.append((int(route.request.url.split("from=")[1]), len(part)))
        if len(sent) == 2:
            route.fetch(post_data=part[: PART // 2])
        if len(sent) in (2, 3):
            route.abort()
        else:
            route.continue_()

    return handle


def draw_over(page: Any) -> None:
    """An arrow by the mouse, with words; a circle by the keyboard alone, moved by its buttons."""
    page.get_by_text("Draw over photo 1").click()
    picture = page.locator(".markup-over")
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    assert box["width"] / box["height"] == pytest.approx(4 / 3, abs=0.02)
    page.mouse.move(box["x"] + 0.1 * box["width"], box["y"] + 0.1 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.54 * box["width"], box["y"] + 0.54 * box["height"], steps=3)
    page.mouse.up()
    page.get_by_label("Words of mark 1").fill("rust")
    page.get_by_role("radio", name="Arrow").focus()
    page.keyboard.press("ArrowRight")
    page.get_by_role("button", name="Put one in the middle").press("Enter")
    for way in ("Right", "Down", "Down"):
        page.get_by_role("button", name=f"{way}: mark 2").press("Enter")
    expect(page.locator(".markup-marks strong").last).to_have_text("Circle around G8")
    assert picture.locator("ellipse").count() == 2


def test_photos_taken_offline_survive_a_kill_and_leave_the_phone_once_the_office_named_their_digests(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    site, one = cast.site, phone(cast.ines)
    contents = [large_photo(), photo_bytes("PNG")]
    planned(cast)
    point = HoldPoint.objects.filter(line__isnull=False)[0]
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
    assert page.locator(".shot").first.evaluate("(image) => image.naturalWidth") == 960
    draw_over(page)
    axe(page)
    assert sorted(one.app("(app) => app.store.keys('photos')")) == digests

    one.kill()
    one.start()
    page = one.open(form)
    expect(page.locator(".shots > li")).to_have_count(2)
    page.get_by_text("Drawn over photo 1: 2").click()
    expect(page.locator(".markup-marks > li")).to_have_count(2)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".markup-marks strong").last).to_have_text("Circle around G7")
    fill(page, "title", "Rust through the primer")
    # Refused first, for want of its coat: the photos come back with the form and are not sent without it.
    fill(page, "coat", "")
    keep(page)
    expect(page.locator(".field-unsent")).to_contain_text("4 unsent")
    one.offline(False)
    page.reload()
    expect(page.locator(".field-unsent")).to_contain_text("1 needs you", timeout=60_000)
    assert not Photo.objects.exists()
    page = one.open("#/send")
    page.get_by_role("button", name="Open it to correct").click()
    expect(page.locator(".shots > li")).to_have_count(2)
    fill(page, "coat", str(site.coats[0].pk))
    sent: list[tuple[int, int]] = []
    page.route("**/api/photos/parts/**", broken_link(sent))
    one.app("(app) => void (app.queue.pace = 0.02)")
    keep(page)
    one.all_sent()
    # It goes on where it stood: nothing that arrived is sent again.
    assert [begins for begins, _ in sent[:5]] == [0, PART, PART * 3 // 2, PART * 3 // 2, PART * 5 // 2]
    assert sum(size for _, size in sent) == len(contents[0]) + PART // 2 + sent[2][1]
    assert not PhotoPart.objects.exists()

    photos = list(Photo.objects.order_by("caption"))
    assert sorted(photo.file_id for photo in photos) == digests
    assert [photo.caption for photo in photos] == ["", "Rust at frame 12"]
    assert {photo.nonconformance_id for photo in photos} == {Nonconformance.objects.get().pk}
    [layer] = PhotoLayer.objects.all()
    assert layer.photo == photos[1]
    assert layers.in_words(layer.shapes) == ["Arrow from B2 to G7: rust", "Circle around G7"]
    assert one.app("(app) => app.store.count('photos')") == 0, "the office named what it holds"
    receipts = [row["digest"] for row in one.app("(app) => app.store.all('receipts')")]
    assert set(digests) <= set(receipts)

    # Of what was decided on a point, which the office keeps under the phone's id.
    # An office that is older than the app takes a large one whole.
    page.route("**/api/photos/parts/**", lambda route: route.fulfill(status=404, json={"detail": "Not found."}))
    page = one.open(f"#/form/attendance/point={point.pk}")
    page.locator('[data-field="attended"] select').select_option("yes")
    page.get_by_label("Photos").set_input_files(files[:1])
    expect(page.locator(".shots > li")).to_have_count(1)
    keep(page)
    one.all_sent()
    assert Photo.objects.get(decision__point=point, decision__outcome="attended").file_id in digests

    # A draft that is thrown away leaves no photo behind.
    page = one.open(form)
    page.get_by_label("Photos").set_input_files(files[:1])
    expect(page.locator(".shots > li")).to_have_count(1)
    page.get_by_role("button", name="Throw this away").click()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("h1")).not_to_contain_text("nonconformance")
    assert one.app("(app) => app.store.count('photos')") == 0
