"""A day without a signal by taps and keys, with a phone that dies five times, sent afterwards over a bad link."""

from __future__ import annotations

import hashlib
import io
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Page, expect

from accounts.journal import altered
from accounts.models import JournalEntry
from inspection.fieldwork.kinds import TAKEN_BY_FORM
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.instruments.models import Gauge, ReferenceStandard, Verification
from inspection.photos.models import Photo
from tests.cast import Cast
from tests.fieldapp.bodies import RECORDS
from tests.fieldapp.hand_on_forms import PATIENCE_MS, keep_it, of_form, shows, take_photo, type_all
from tests.fieldapp.test_thumb_in_browser import KEY, ON_SHIMS, Hand, check_by_pad
from tests.fieldapp.test_told_forms import named

pytestmark = pytest.mark.browser
# Of each round in its order; the twelfth kind is thickness by thumb.
FORMS = (
    "climate", "steelwork", "air", "abrasive", "look", "cleanliness", "salts", "dust", "wetfilm", "cuttest", "defects",
)  # fmt: skip
ROUNDS, PHOTOS = 5, 40
WITH_PHOTO = FORMS[: PHOTOS // ROUNDS]
# In which round the phone dies in the middle of what: three forms, a measurement, a check.
DIES = {0: "salts", 1: "thickness", 2: "check", 3: "air", 4: "defects"}
# The middle of a measurement of one area: five spots of three.
FILM = ["84", "91", "78", "88", "95", "82", "79", "86", "90", "83", "85", "77", "92", "89", "81"]


def a_photo(number: int) -> bytes:
    """One of the day's; every tenth is so large that it goes in parts."""
    out = io.BytesIO()
    if number % 10:
        Image.new("RGB", (64, 48), (number * 6, 90, 200)).save(out, "JPEG")
    else:
        noise = random.Random(number).randbytes(900 * 700 * 3)
        Image.frombytes("RGB", (900, 700), noise).save(out, "JPEG", quality=60)
    return out.getvalue()


@dataclass
class Day:
    """What was typed, in its order; and the phone it was typed into."""

    one: Any
    cast: Cast
    began: datetime
    forms: dict[str, dict[str, Any]] = field(default_factory=dict)
    samples: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    photos: list[str] = field(default_factory=list)
    waits: int = 0
    deaths: int = 0

    @property
    def page(self) -> Page:
        page: Page = self.one.page
        return page

    def die(self) -> None:
        """The browser is killed; the app opens again, and says what was begun and how much waits."""
        self.deaths += 1
        # As long as a hand takes to the next key.
        self.page.wait_for_timeout(KEY * 1000)
        self.one.kill()
        self.one.start()
        self.one.open("#/")
        if self.waits:
            expect(self.page.locator(".field-unsent")).to_contain_text(f"{self.waits} unsent", timeout=PATIENCE_MS)

    def go_on(self, words: str) -> None:
        """What was begun is taken up by its line on the day's page."""
        self.page.locator(".told-begun").get_by_role("link", name=words).click()

    def form(self, kind: str, at: datetime, *, dies: bool) -> None:
        told = self.forms[kind]
        asked = told["fields"]
        sample = named(RECORDS[kind], {}) | {"taken_at": f"{at:%Y-%m-%dT%H:%M}"}
        of_form(self.page, kind, area="A1", title=told["title"])
        half = len(asked) // 2
        type_all(self.page, asked[:half], sample)
        more = 0
        if kind in WITH_PHOTO:
            content = a_photo(len(self.photos))
            self.photos.append(hashlib.sha256(content).hexdigest())
            take_photo(self.page, content, f"{kind}.jpg")
            more = 1
        if dies:
            self.die()
            self.go_on(told["title"])
            expect(self.page.get_by_role("button", name="Keep and send")).to_be_visible(timeout=PATIENCE_MS)
            assert shows(self.page, asked[:half], sample), "something is looked at"
            expect(self.page.locator(".shots > li")).to_have_count(more, timeout=PATIENCE_MS)
        type_all(self.page, asked[half:], sample)
        self.waits += 1 + more
        keep_it(self.page, "Keep and send", self.waits)
        self.samples.append((kind, sample))

    def check(self, *, dies: bool) -> None:
        hand = Hand(self.page)
        self.waits += 1
        if not dies:
            return check_by_pad(hand)
        hand.open("#/check")
        hand.tap("Begin the readings")
        hand.pad(*ON_SHIMS[:4])
        # Between two keys of the fifth.
        self.page.locator('[data-key="1"]:visible').click()
        self.waits -= 1
        self.die()
        self.waits += 1
        self.go_on("Check")
        expect(self.page.locator(".thumb-typing")).to_contain_text("1", timeout=PATIENCE_MS)
        hand = Hand(self.page)
        hand.pad("26⏎", *ON_SHIMS[5:])
        return hand.tap("Keep the check, to be sent")

    def thickness(self, turn: int, *, dies: bool) -> None:
        film = [str(int(figure) - turn) for figure in FILM]
        hand = Hand(self.page)
        hand.open("#/thickness")
        if not turn:
            # From then on it is remembered.
            hand.tap("A1 Hatch")
        hand.tap("Begin")
        hand.pad(*film[:7])
        if dies:
            first, second = film[7]
            self.page.locator(f'[data-key="{first}"]:visible').click()
            self.die()
            self.go_on("Thickness")
            expect(self.page.locator(".thumb-typing")).to_contain_text(first, timeout=PATIENCE_MS)
            hand = Hand(self.page)
            hand.pad(f"{second}⏎")
        else:
            hand.pad(film[7])
        hand.pad(*film[8:])
        hand.tap("End the measurement")
        self.waits += 1
        keep_it(self.page, "Keep it, to be sent", self.waits)
        self.samples.append(("thickness", {"film": film}))


def test_a_day_of_twelve_kinds_by_taps_offline_with_five_dead_phones_is_stored_once_whole_and_in_order(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any]
) -> None:
    cast = in_date
    Gauge.objects.update(holder=cast.ines)
    ReferenceStandard.objects.update(holder=cast.ines)
    one = phone(cast.ines)
    page = one.open("#/packs")
    page.get_by_role("button", name="Take it along").click()
    expect(page.locator("#said")).to_contain_text("Taken along", timeout=30_000)
    one.offline()
    # A thumb in a glove is given 0.9 s; this one never hesitates within a figure.
    one.app("(app) => app.prefs.set('thumb', {pause_ms: 60})")
    day = Day(one, cast, timezone.now() - timedelta(hours=10))
    day.forms = {told["name"]: told for told in one.app("(app) => app.pack.forms")}
    for turn in range(ROUNDS):
        if turn in (0, 2, 4):
            day.check(dies=DIES[turn] == "check")
        for place, kind in enumerate(FORMS):
            day.form(kind, day.began + timedelta(hours=2 * turn, minutes=9 * place), dies=DIES[turn] == kind)
        day.thickness(turn, dies=DIES[turn] == "thickness")
    assert (len(day.samples), len(day.photos), day.deaths) == (60, PHOTOS, 5)
    queue = one.app("(app) => app.queue.list()")
    assert len(queue) == 103
    bodies = one.app(
        "async (app, ids) => Promise.all(ids.map((id) => app.queue.body(id)))", [row["id"] for row in queue]
    )
    _send_over_a_bad_link(one)
    _agrees(day, queue, bodies)


def _send_over_a_bad_link(one: Any) -> None:
    requests, dropped = [0], [0]

    def bad_link(route: Any) -> None:
        requests[0] += 1
        if requests[0] % 3:
            route.continue_()
            return
        dropped[0] += 1
        if dropped[0] % 2:
            # The office stored it, and its answer was lost.
            route.fetch()
        route.abort()

    one.page.route("**/api/**", bad_link)
    one.offline(off=False)
    one.app("(app) => { app.queue.pace = 0.02; app.queue.sendSoon(); }")
    one.all_sent()
    assert dropped[0] >= 103 // 3


def _agrees(day: Day, queue: list[dict[str, Any]], bodies: list[dict[str, Any]]) -> None:
    """What was typed, what waited, what the office holds, its receipts and its journal."""
    receipts = {row["id"]: row["digest"] for row in day.one.app("(app) => app.queue.receipts()")}
    records = [body for row, body in zip(queue, bodies, strict=True) if "readings" in body or "area" in body]
    typed = dict(zip([body["id"] for body in records], day.samples, strict=True))
    stored: dict[str, tuple[str, Any]] = {
        str(row.pk): (kind.name, row) for kind, _ in TAKEN_BY_FORM for row in kind.model.objects.all()
    }
    stored |= {str(row.pk): ("thickness", row) for row in ThicknessRecord.objects.all()}
    assert {pk: name for pk, (name, _) in stored.items()} == {pk: kind for pk, (kind, _) in typed.items()}
    for body in records:
        kind, sample = typed[body["id"]]
        row = stored[body["id"]][1]
        assert row.digest == receipts[body["id"]]
        assert (str(row.area_id), row.note, str(row.taken_by_id)) == (
            body["area"], body.get("note", ""), str(day.cast.ines.pk),
        )  # fmt: skip
        if kind == "thickness":
            values = Reading.objects.filter(record=row.pk).order_by("spot", "order").values_list("value_nm", flat=True)
            assert list(values) == [int(figure) * 1000 for figure in sample["film"]]
            continue
        assert f"{row.taken_at:%Y-%m-%dT%H:%M}" == sample["taken_at"]
        for field_ in day.forms[kind]["fields"]:
            given = sample.get(field_["name"])
            if field_["type"] != "moment" and given not in (None, [], "", False):
                assert body[field_["name"]] == given, (kind, field_["name"])
    assert [check.verdict for check in Verification.objects.all()] == ["pass"] * 3
    _photos_and_journal(day, queue, receipts)


def _photos_and_journal(day: Day, queue: list[dict[str, Any]], receipts: dict[str, str]) -> None:
    photos = [row for row in queue if row["photos"]]
    assert [row["photos"] for row in photos] == [[digest] for digest in day.photos]
    pictures = {str(row.pk): (row.file_id, str(row.record_id)) for row in Photo.objects.all()}
    assert pictures == {row["id"]: (row["photos"][0], row["needs"][0]) for row in photos}
    assert all(receipts[row["id"]] == row["photos"][0] for row in photos)
    assert day.one.app("(app) => app.store.count('photos')") == 0
    assert day.one.app("(app) => app.store.count('drafts')") == 0
    # Each once: records in the order of the day, then photos in theirs; every entry as it was written.
    of_photos = [row["id"] for row in photos]
    order = [row["id"] for row in queue if not row["photos"]] + of_photos
    entries = JournalEntry.objects.filter(object_id__in=order).order_by("pk")
    assert [entry.object_id for entry in entries] == order
    assert not [entry for entry in entries if altered(entry)]
