"""Room on the phone: who is warned and told what, and a full phone that keeps the photo on the screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from inspection.photos.models import Photo
from tests.cast import Cast
from tests.fieldapp.phone import by_node
from tests.fieldapp.test_forms_in_browser import fill, keep
from tests.fieldapp.test_photos_in_browser import large_photo

HERE = Path(__file__).parent


@pytest.mark.once
def test_the_person_is_warned_from_four_fifths_on_or_where_little_is_left(tmp_path: Path) -> None:
    asked = [(79, 1_000, 3), (800, 1_000, 3), (10, 109, 0), (99.5, 101, 1), (150, 100, 0)]
    questions: list[dict[str, Any]] = [
        {"estimate": {"usage": used * 1e6, "quota": quota * 1e6}, "waiting": waiting} for used, quota, waiting in asked
    ]
    told = by_node(tmp_path, HERE / "room.mjs", [*questions, {"estimate": None, "waiting": 1}])
    assert (told[0], told[-1]) == ("", "")
    assert told[1] == (
        "The phone has 200.0 MB left for this app, about 50 photos of 4 MB. Send what waits; what the office has "
        "leaves the phone. With no signal save it to a file, and make room on the phone (photos, other apps)."
    )
    assert told[2].startswith("The phone has 99.0 MB left for this app, about 24 photos of 4 MB. Nothing waits to be")
    assert "1.5 MB left for this app, not enough for a photo" in told[3]
    assert "0 kB left" in told[4], "a browser that lowers what it gives"


@pytest.mark.browser
def test_a_full_phone_warns_on_every_screen_and_keeps_photo_and_draft_on_the_screen_until_there_is_room(
    transactional_db: None, cast: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    one = phone(cast.ines)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text("Taken along", timeout=30_000)
    one.offline()
    form = f"#/form/nonconformance/area={cast.site.area.pk}"
    page = one.open(form)
    expect(page.locator("#notices")).not_to_contain_text("left for this app")
    fill(page, "title", "Rust through the primer")
    fill(page, "coat", str(cast.site.coats[0].pk))
    one.kill()
    one.start()
    page = one.page
    page.add_init_script("navigator.storage.estimate = async () => ({ usage: 81e7, quota: 1e9 })")
    # What the browser itself gives the app: not so much as a photo more. It looks only now and then.
    devtools = one.context.new_cdp_session(page)
    used = devtools.send("Storage.getUsageAndQuota", {"origin": one.address})["usage"]
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": one.address, "quotaSize": used + 200_000})
    one.open(form)
    photo = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": large_photo()}
    page.get_by_label("Photos").set_input_files(photo)
    expect(page.locator("[data-unkept]")).to_contain_text("this photo is on this screen alone")
    expect(page.locator("#said")).to_contain_text("The phone's storage is full")
    assert page.locator(".shot").evaluate("(image) => image.naturalWidth") == 960
    keep(page)
    expect(page.locator("#said")).to_contain_text("It stays on the screen")
    expect(page.locator("h1")).to_contain_text("nonconformance")
    assert page.locator('[data-field="title"] input').input_value() == "Rust through the primer"
    axe(page)
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save as a file").click()
    assert saved.value.path().read_bytes() == photo["buffer"]

    devtools.send("Storage.overrideQuotaForOrigin", {"origin": one.address})
    page.get_by_role("button", name="Try again").click()
    expect(page.locator("[data-unkept]")).to_have_count(0)
    expect(page.locator(".shots > li")).to_have_count(1)
    notice = page.locator("#notices", has_text="The phone has 190.0 MB left for this app")
    expect(notice).to_contain_text("Nothing waits to be sent")
    keep(page)
    expect(page.locator("h1")).not_to_contain_text("nonconformance")
    expect(notice).to_contain_text("Send what waits", timeout=10_000)
    axe(page)
    with page.expect_download() as saved:
        notice.get_by_role("button", name="Save to a file").click()
    assert "unsent" in saved.value.suggested_filename
    one.offline(False)
    one.app("(app) => app.queue.sendNow()")
    one.all_sent()
    assert Photo.objects.get().nonconformance is not None
