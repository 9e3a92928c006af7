"""Thickness by thumb in a real browser, the network off: the hand counted key by key, and what the office stores."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from inspection.fieldapp.pack import pack_of
from inspection.fieldwork.models import ClimateRecord, Reading, ThicknessRecord
from inspection.instruments.models import Gauge, ReferenceStandard, Verification
from inspection.photos.models import Photo
from inspection.projects.models import Coat, InspectionArea, Station, StationArea
from tests.cast import Cast
from tests.fieldapp.conftest import picture
from tests.photos.test_photos import photo_bytes

pytestmark = pytest.mark.browser

# Modelled hand time in seconds: a tap somewhere on the screen, a key of the pad under the thumb.
TAP, KEY = 1.2, 0.55
# 45 readings, as the gauge shows them: three areas of about 10 m² with five spots of three.
FILM = ["84", "91", "78", "88", "95", "82", "79", "86", "90", "83", "85", "77", "92", "89", "81"] * 3
# A thick film, now and then of another hundred.
THICK = ["245", "231", "252", "238", "262", "227", "249", "256", "241", "260", "234", "259", "198", "251", "247"] * 3
PAD = {"⏎": "enter", "⌫": "erase"}
ON_SHIMS = ["50.4", "50.1", "49.9", "125", "126", "125", "250", "249", "251"]


# In place of a phone's motor and its lock on the screen.
FEELS = """() => {
    window.felt = [];
    navigator.vibrate = (ms) => felt.push(ms);
    Object.defineProperty(navigator, 'wakeLock', {value: {request: async () => {
        felt.push('awake');
        return {release: async () => felt.push('may sleep')};
    }}});
}"""


class Hand:
    """Does what a hand does, and counts its time and the pages that were loaded meanwhile."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps, self.keys, self.loads = page, 0, 0, 0
        page.on("load", lambda _: self._loaded())

    def _loaded(self) -> None:
        self.loads += 1

    def open(self, screen: str) -> None:
        """One tap on the way there, wherever it stands."""
        self.taps += 1
        self.page.evaluate("hash => { location.hash = hash; }", screen)

    def tap(self, name: str) -> None:
        self.taps += 1
        self.page.get_by_role("button", name=name).click()

    def pad(self, *figures: str) -> None:
        for figure in figures:
            for key in figure:
                self.keys += 1
                self.page.locator(f'[data-key="{PAD.get(key, key)}"]:visible').click()
            # While the probe goes to the next place the figure lands by itself.
            expect(self.page.locator(".thumb-typing")).to_have_text("")

    @property
    def seconds(self) -> float:
        return self.taps * TAP + self.keys * KEY


KEEP_PACK = """async (app, content) => {
    await app.store.put('packs', {project: app.project.id, made_at: new Date().toISOString(), content});
    await app.reload();
}"""


def with_pack(phone: Any, cast: Cast) -> Page:
    """The phone with the pack of the project, as the office makes it, and its network cut."""
    page: Page = phone.open("#/send")
    phone.app("(app, project) => app.choose(project)", str(cast.site.project.pk))
    # A thumb in a glove is given 0.9 s; this one never hesitates within a figure.
    phone.app("(app) => app.prefs.set('thumb', {pause_ms: 60})")
    phone.app(KEEP_PACK, json.loads(pack_of(cast.ines, cast.site.project, timezone.now()).body))
    phone.offline()
    return page


def laid(cast: Cast) -> None:
    """Gauge and shims in the inspector's hands, an area of 30 m², a climate station around it."""
    Gauge.objects.update(holder=cast.ines)
    ReferenceStandard.objects.update(holder=cast.ines)
    InspectionArea.objects.filter(pk=cast.site.area.pk).update(area_m2=30)
    station = Station.objects.create(
        project=cast.site.project, code="S1", name="Tank bottom", where="indoors", holds_for=timedelta(hours=4)
    )
    StationArea.objects.create(station=station, area=cast.site.area, begun_at=timezone.now() - timedelta(days=1))


def test_a_morning_by_thumb_offline_within_its_time_and_stored_as_typed(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any], axe: Callable[[Any], None]
) -> None:
    laid(in_date)
    one = phone(in_date.ines)
    page = with_pack(one, in_date)
    _first_check(Hand(page), axe)
    _forty_five_readings(Hand(page), axe)
    page = _killed_between_two_keys(one)
    page.get_by_role("button", name="End the measurement").click()
    expect(page.locator(".thumb-verdict")).to_have_text("Pass")
    picture(page, "verdict")
    axe(page)
    page.get_by_role("button", name="Keep it, to be sent").click()
    _check_again(Hand(page))
    _climate(Hand(page), axe)
    _tens(Hand(page), axe)
    _first_digits(Hand(page), axe)
    expect(page.locator(".field-unsent")).to_contain_text("6 unsent")
    # Meanwhile the office asks for a thicker film: the phone could not know.
    Coat.objects.filter(pk=in_date.site.coats[0].pk).update(minimum_nm=90_000, nominal_nm=100_000)
    one.offline(off=False)
    one.app("(app) => app.queue.sendAll()")
    one.all_sent()
    _stored(one)
    page.evaluate("location.hash = '#/send'")
    differing = page.locator(".notice-warning", has_text="Thickness after Primer")
    expect(differing).to_contain_text("The phone said pass:Every spot mean is at least 80 % of the specified minimum.")
    differing.scroll_into_view_if_needed()
    picture(page, "differs", height=640)
    expect(differing).to_contain_text("The office says fail:The area mean is at least the specified minimum. (area 1)")
    axe(page)


def test_a_refused_measurement_is_put_right_and_one_begun_at_the_wrong_place_moves(
    transactional_db: None, in_date: Cast, phone: Callable[..., Any]
) -> None:
    laid(in_date)
    one = phone(in_date.ines)
    hand = Hand(with_pack(one, in_date))
    hand.open("#/thickness")
    hand.tap("A2 Shell")
    hand.page.get_by_label("Profile under the film").select_option("correction")
    hand.page.get_by_label("Subtracted, µm").fill("90")
    hand.tap("Begin")
    hand.pad("84⏎", "95⏎")
    expect(hand.page.get_by_text("84.0 µm is less than the 90.0 µm subtracted")).to_be_visible()
    # Another area was meant: the readings go along, and the photo of them.
    hand.tap("End the measurement")
    shot(hand)
    hand.page.get_by_role("link", name="Other gauge, profile, area or coat").click()
    hand.tap("Another area")
    hand.tap("A1 Hatch")
    hand.tap("Go on with this")
    expect(hand.page.locator(".thumb-head")).to_contain_text("A1 Hatch")
    expect(hand.page.locator(".thumb-cells li")).to_have_text(["84.0", "95.0", "·"])
    hand.tap("End the measurement")
    hand.tap("Keep it, to be sent")
    expect(hand.page.locator(".field-unsent")).to_contain_text("2 unsent")
    one.offline(off=False)
    one.app("(app) => app.queue.sendAll()")
    hand.open("#/send")
    hand.tap("Open it to correct")
    said = hand.page.get_by_text("The office did not take it. Reading 1: 84.0 µm is less than the 90.0 µm")
    expect(said).to_be_visible()
    hand.tap("End the measurement")
    hand.page.get_by_role("link", name="Other gauge, profile, area or coat").click()
    hand.page.get_by_label("Subtracted, µm").fill("9")
    hand.tap("Go on with this")
    hand.tap("End the measurement")
    hand.tap("Keep it, to be sent")
    one.app("(app) => app.queue.sendAll()")
    one.all_sent()
    record = ThicknessRecord.objects.get()
    assert (record.area, record.correction_nm, record.verdict) == (in_date.site.area, 9_000, "incomplete")
    rows = Reading.objects.filter(record=record.pk).order_by("order")
    assert [row.value_nm for row in rows] == [84_000, 95_000]
    assert (Photo.objects.get().record_id, one.app("(app) => app.store.count('photos')")) == (record.pk, 0)
    assert one.app("(app) => app.store.count('drafts')") == 0


def _first_check(hand: Hand, axe: Callable[[Any], None]) -> None:
    hand.open("#/check")
    for shim in ("S-50,", "S-125,", "S-250,"):
        hand.page.get_by_role("group", name="Shims, from the thinnest").get_by_label(shim).check()
    hand.page.get_by_label("Thickness you expect").fill("900")
    expect(hand.page.get_by_text("lies outside these shims")).to_be_visible()
    hand.page.get_by_label("Thickness you expect").fill("200")
    expect(hand.page.get_by_text("lies outside these shims")).to_be_hidden()
    axe(hand.page)
    hand.tap("Begin the readings")
    # Ten times what lies under the probe is asked about, and put right by one tap.
    hand.pad("501⏎")
    expect(hand.page.locator(".thumb-question")).to_contain_text("501.0: did you mean")
    hand.tap("50.1?")
    shot(hand)
    hand.pad(*ON_SHIMS[1:5])
    picture(hand.page, "check")
    hand.pad(*ON_SHIMS[5:])
    expect(hand.page.locator(".thumb-verdict")).to_have_text("Within the tolerance on every shim")
    axe(hand.page)
    hand.tap("Keep the check, to be sent")


def _forty_five_readings(hand: Hand, axe: Callable[[Any], None]) -> None:
    """At most 60 s of a hand from the day's page to a full measurement, with a slip taken back; no page loaded."""
    expect(hand.page.locator(".field-unsent")).to_contain_text("2 unsent")
    hand.open("#/thickness")
    hand.tap("A1 Hatch")
    hand.tap("Begin")
    expect(hand.page.locator(".thumb-running")).to_have_text("45 readings wanted.")
    hand.pad(*FILM[:20])
    picture(hand.page, "thickness")
    hand.pad("87")
    hand.tap("Take back 87.0")
    hand.pad(*FILM[20:])
    expect(hand.page.locator(".thumb-running")).to_contain_text("Nothing more is wanted.")
    assert hand.seconds <= 60
    assert (hand.loads, hand.keys) == (0, 2 * 45 + 2)
    for key in hand.page.locator(".pad-key").all():
        box = key.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= 56
    axe(hand.page)
    hand.page.set_viewport_size({"width": 844, "height": 390})
    assert hand.page.evaluate(
        "[...document.querySelectorAll('.pad, .thumb-last, .thumb-spot')].every(part => {"
        " const box = part.getBoundingClientRect(); return box.top >= 0 && box.bottom <= 390; })"
    )
    hand.page.set_viewport_size({"width": 390, "height": 844})


def _killed_between_two_keys(one: Any) -> Page:
    """An instrument that is a keyboard types into the page; the browser dies between two of its keys."""
    one.page.keyboard.type("84.5")
    expect(one.page.locator(".thumb-typing")).to_have_text("84.5▏")
    other = one.listened(one.context.new_page())
    other.goto(one.page.url)
    expect(other.locator(".notice", has_text="This is open in another tab.")).to_be_visible()
    other.close()
    one.kill()
    one.start()
    page: Page = one.open("#/thickness")
    page.get_by_role("link", name="Go on with A1 Hatch, 45 readings").click()
    expect(page.locator(".thumb-typing")).to_contain_text("84.5")
    page.keyboard.press("Enter")
    expect(page.locator(".thumb-number")).to_have_text("84.5 µm")
    page.get_by_role("button", name="Take back 84.5").click()
    expect(page.locator(".thumb-number")).to_have_text("81.0 µm")
    return page


def check_by_pad(hand: Hand) -> None:
    """The gauge on three shims, as it was done before or for the first time; kept."""
    hand.open("#/check")
    expect(hand.page.get_by_role("button", name="Begin the readings")).to_be_visible()
    shims = hand.page.get_by_role("group", name="Shims, from the thinnest")
    if shims.is_visible():
        for shim in ("S-50,", "S-125,", "S-250,"):
            shims.get_by_label(shim).check()
    hand.tap("Begin the readings")
    hand.pad(*ON_SHIMS)
    expect(hand.page.locator(".thumb-verdict")).to_have_text("Within the tolerance on every shim")
    hand.tap("Keep the check, to be sent")


def _check_again(hand: Hand) -> None:
    """The same three shims as this morning, three readings each: at most 25 s of a hand."""
    expect(hand.page.locator(".field-unsent")).to_contain_text("3 unsent")
    expect(hand.page.locator(".notice", has_text="G-01: check it after work, as found, due by ")).to_be_visible()
    hand.open("#/check")
    expect(hand.page.get_by_text("Closing, after work · Smooth steel · as found")).to_be_visible()
    hand.tap("Begin the readings")
    hand.pad(*ON_SHIMS)
    hand.tap("Keep the check, to be sent")
    expect(hand.page.locator(".field-unsent")).to_contain_text("4 unsent")
    expect(hand.page.get_by_text("check it after work")).to_have_count(0)
    assert hand.seconds <= 25


def _tens(hand: Hand, axe: Callable[[Any], None]) -> None:
    """Three digits by two keys: 45 readings of a thick film in a minute too; given up again as a mistake."""
    expect(hand.page.locator(".field-unsent")).to_contain_text("6 unsent")
    hand.open("#/thickness")
    hand.tap("Another area")
    hand.tap("A2 Shell")
    hand.page.get_by_label("After coat").select_option(label="Intermediate")
    hand.page.evaluate(FEELS)
    hand.tap("Begin")
    hand.page.get_by_text("Switches").click()
    hand.page.get_by_label("Tens on keys of their own").check()
    hand.page.get_by_label("Vibrate at each figure").check()
    for ten, digit in (("20_", "4"), ("19_", "9"), ("21_", "0")):
        hand.keys += 1
        hand.page.locator(f'.pad-tens [data-key="{ten}"]').click()
        hand.keys += 1
        hand.page.locator(f'.pad-tens [data-key="{digit}"]').click()
    expect(hand.page.locator(".thumb-number")).to_have_text("210.0 µm")
    expect(hand.page.locator(".thumb-running")).to_contain_text("Mean 204.3, 199.0 to 210.0 µm")
    assert hand.taps * TAP + 45 / 3 * hand.keys * KEY <= 60
    for key in hand.page.locator(".pad-tens > .pad-key").all():
        box = key.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= 56
    axe(hand.page)
    assert hand.page.evaluate("felt") == ["awake", 30, 30, 30]
    hand.tap("End the measurement")
    assert hand.page.evaluate("felt")[-1] == "may sleep"
    hand.page.get_by_text("Begun by mistake").click()
    hand.tap("Give it up")
    expect(hand.page.get_by_role("link", name="Go on with")).to_have_count(0)


def _first_digits(hand: Hand, axe: Callable[[Any], None]) -> None:
    """Three digits by two keys on the plain pad: 45 readings in a minute, some of another hundred; none is doubtful."""
    hand.open("#/thickness")
    expect(hand.page.get_by_text("A2 Shell")).to_be_visible()
    hand.page.get_by_label("After coat").select_option(label="Intermediate")
    hand.taps += 2
    hand.tap("Begin")
    hand.page.get_by_text("Switches").click()
    hand.page.get_by_label("Tens on keys of their own").uncheck()
    # This hand may hesitate within a figure: half of one waits for its other half.
    hand.page.get_by_label("The pause", exact=True).select_option(label="0.9 s")
    hand.pad(THICK[0])
    hand.tap("Go on with 200 and two digits")
    hand.pad(*(figure[1:] if figure[0] == "2" else f"⌫{figure}" for figure in THICK[1:]))
    expect(hand.page.locator(".thumb-running")).to_contain_text("198.0 to 262.0 µm")
    assert hand.seconds <= 60
    hand.page.locator('[data-key="2"]:visible').click()
    expect(hand.page.locator(".thumb-typing")).to_have_text("22·▏")
    picture(hand.page, "first-digits")
    axe(hand.page)
    hand.page.locator('[data-key="erase"]:visible').click()
    # The whole figure typed although its first digit stood there: it is asked, and put right by a tap.
    hand.page.locator('[data-key="2"]:visible').click()
    hand.page.locator('[data-key="3"]:visible').click()
    hand.page.locator('[data-key="8"]:visible').click()
    expect(hand.page.locator(".thumb-typing")).to_contain_text("223.0: did you mean")
    axe(hand.page)
    hand.tap("238.0?")
    expect(hand.page.locator(".thumb-number")).to_have_text("238.0 µm")
    hand.page.get_by_text("Readings, and voiding one").click()
    expect(hand.page.locator(".thumb-reading")).to_have_count(46)
    shown = hand.page.locator(".thumb-reading > summary").all_inner_texts()
    assert [text.split(": ")[1] for text in reversed(shown)] == [f"{figure}.0 µm" for figure in (*THICK, "238")]
    hand.tap("End the measurement")
    hand.page.get_by_text("Begun by mistake").click()
    hand.tap("Give it up")
    expect(hand.page.get_by_role("link", name="Go on with")).to_have_count(0)


def shot(hand: Hand) -> None:
    hand.page.get_by_label("Photos").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo_bytes()}
    )
    expect(hand.page.locator(".shots > li")).to_have_count(1)


def _climate(hand: Hand, axe: Callable[[Any], None]) -> None:
    hand.open("#/climate")
    for label, figure in (("Air, °C", "18,5"), ("Humidity, %", "70"), ("Steel, coldest, °C", "14")):
        hand.page.get_by_label(label).fill(figure)
    hand.page.get_by_label("Primer").check()
    expect(hand.page.locator(".thumb-dew")).to_contain_text("Dew point 12.9 °C")
    expect(hand.page.locator(".thumb-dew")).to_contain_text("Outside the limits")
    shot(hand)
    axe(hand.page)
    hand.tap("Keep it, to be sent")


def _stored(one: Any) -> None:
    record = ThicknessRecord.objects.get()
    rows = Reading.objects.filter(record=record.pk).order_by("spot", "order").values_list("spot", "order", "value_nm")
    typed = [(at // 3 + 1, at % 3 + 1, int(figure) * 1000) for at, figure in enumerate(FILM)]
    assert list(rows) == typed
    assert record.verdict == "fail"
    assert record.note == "Typed by mistake and taken back at once: spot 7: 87.0 µm; spot 16: 84.5 µm."
    checks = Verification.objects.order_by("taken_at")
    assert [(check.purpose, check.as_left, check.verdict) for check in checks] == [
        ("opening", True, "pass"), ("closing", False, "pass"),
    ]  # fmt: skip
    assert next(point.readings_nm for point in checks[0].points.order_by("order")) == [50_100, 50_100, 49_900]
    climate = ClimateRecord.objects.get()
    assert (climate.verdict, climate.station.code if climate.station else "") == ("fail", "S1")
    assert {(row.record_id, row.verification_id) for row in Photo.objects.all()} == {
        (climate.pk, None), (None, checks[0].pk),
    }  # fmt: skip
    receipts = [row for row in one.app("(app) => app.queue.receipts()") if row["words"]["title"] != "Photo"]
    told = {row["words"]["title"]: (row["told"]["verdict"], row["answered"]["verdict"]) for row in receipts}
    assert told == {
        "Check of G-01": ("pass", "pass"), "Thickness after Primer": ("pass", "fail"),
        "Climate at station S1": ("fail", "fail"),
    }  # fmt: skip
    assert all(row["digest"] for row in receipts)
