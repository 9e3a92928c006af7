"""What looks like a slip, or would put records in question by the way a check is made, is asked before it is stored.

That a check made after adjusting says nothing of the readings before it, and the limits of what is asked, are common
practice and our own figures (no source). The scatter is held against the F distribution of SciPy.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse
from scipy.stats import f as f_distribution
from time_machine import travel

from accounts.models import JournalEntry
from inspection.fieldwork import actions as fieldwork
from inspection.foundation.ids import new_id
from inspection.instruments import slips
from inspection.instruments.actions import register_gauge
from inspection.instruments.models import Verification
from inspection.standing.models import Standing
from tests.cast import Cast
from tests.instruments.pages import as_person, begin, text_of
from tests.instruments.test_api import content, send
from tests.standing import scene

NEW = "/instruments/verifications/new/"
GOOD = {50: [50.1, 50.3, 49.9], 125: [125.1, 125.6, 125.4], 250: [249.8, 250.0, 249.6]}


def sent(cast: Cast, readings: dict[int, list[float]], **more: Any) -> dict[str, Any]:
    points = [{"standards": [str(cast.shims[nominal].pk)], "readings_um": row} for nominal, row in readings.items()]
    return content(cast, points=points, **more)


def asked(cast: Cast, readings: dict[int, list[float]], **more: Any) -> list[tuple[int | None, str]]:
    """What the API asks; nothing is stored then."""
    before = Verification.objects.count()
    status, answer = send(cast.ines, sent(cast, readings, **more))
    if status == 201:
        return []
    assert (status, answer["type"], Verification.objects.count()) == (428, "/api/problems/to-confirm/", before)
    return [(fault["row"], fault["message"]) for fault in answer["errors"]]


@pytest.mark.parametrize(
    ("changed", "row", "words"),
    [
        ({125: [1249, 125.6, 125.4]}, 2, "Reading 1, 1249.0 µm, is about ten times the 125.4 µm of S-125: is the dec"),
        ({250: [249.8, 25.1, 249.6]}, 3, "Reading 2, 25.1 µm, is about a tenth of the 249.8 µm of S-250"),
        ({50: [125.3, 125.1, 125.4]}, 1, "Reading 3, 125.4 µm, fits S-125 (125.4 µm), not S-50: which shim lay"),
        ({50: [500.2, 50.1, 50.2]}, 1, "Reading 1, 500.2 µm, is about ten times the 50.2 µm of S-50"),
        ({250: [501.2, 250.1, 249.6]}, 3, "Reading 1, 501.2 µm, fits S-500 (501.0 µm), not S-250"),
        ({50: [50.1, 50.3, 68.0]}, 1, "Reading 3, 68.0 µm, lies far from the others, about 50.2 µm: is it right?"),
        ({125: [123.0, 127.6, 125.4]}, 2, "The readings on S-125 scatter by 2.3 µm (s), more than the 2.3 µm"),
    ],
)
def test_a_likely_slip_is_asked_with_its_point(
    cast: Cast, changed: dict[int, list[float]], row: int, words: str
) -> None:
    found = asked(cast, GOOD | changed)
    assert any(place == row and message.startswith(words) for place, message in found), found
    assert {place for place, _ in found} == {row}


@pytest.mark.parametrize("off_um", [0, 1.5, 2.2, 5, -8, 30])
def test_a_gauge_that_reads_wrong_alike_on_every_shim_is_no_slip(cast: Cast, off_um: float) -> None:
    assert asked(cast, {nominal: [round(value + off_um, 1) for value in row] for nominal, row in GOOD.items()}) == []


def test_evidence_is_never_turned_away_what_is_confirmed_is_stored_and_says_so(cast: Cast) -> None:
    slip = sent(cast, GOOD | {125: [1249, 125.6, 125.4]})
    status, problem = send(cast.ines, slip)
    assert status == 428
    assert "send the same again" in text_of(as_person(cast.ines).get(problem["type"]))
    status, answer = send(cast.ines, slip | {"confirmed": True})
    assert (status, answer["verdict"]) == (201, "fail")
    assert answer["confirmed"] == [fault["message"] for fault in problem["errors"]]
    assert send(cast.ines, slip)[0] == 200  # sent again it is there
    assert JournalEntry.objects.get(verb="verification.confirmed").after["confirmed"] == answer["confirmed"]
    page = text_of(as_person(cast.clara).get(reverse("verification", args=[slip["id"]])))
    assert "Asked before it was stored, and confirmed:" in page
    assert answer["confirmed"][0] in page


def test_scatter_is_held_against_the_gauge_s_own_earlier_checks(cast: Cast) -> None:
    """By then S-125 was read to 0.2 µm; a scatter of 1.4 µm is within the stated accuracy, and unlike this gauge."""
    wide = {125: [124.2, 125.6, 127.0]}
    for hour in range(4):
        assert asked(cast, GOOD, taken_at=f"2026-03-04T0{hour + 1}:00:00Z") == []
    found = asked(cast, GOOD | wide, taken_at="2026-03-04T07:00:00Z")
    assert [words.startswith("The readings on S-125 scatter by 1.4 µm (s), more than the 1.1 µm") for _, words in found]
    other = register_gauge(
        cast.quinn, identity="G-02", range_from_nm=0, range_to_nm=10**6, accuracy_pct=1, accuracy_nm=1000
    )
    cast.gauge_certificate.values.create(gauge=other)
    assert asked(cast, GOOD | wide, gauge=str(other.pk)) == []


def test_three_times_the_repeatability_is_rare_by_chance() -> None:
    """Three readings, repeatability from 30 degrees of freedom: F(2, 30) beyond 9 about once in a thousand (SciPy)."""
    assert f_distribution.sf(slips.SCATTER_REPEATABILITIES**2, 2, 30) == pytest.approx(0.001, rel=0.15)
    # Pooled by degrees of freedom: (2·0.5² + 8·1.0²) / 10, as a multiple of an accuracy of 1 nm; stdev of 0, 1, 2 is 1.
    readings = [([0, 1, 2], 1.0), ([0, 1, 2], 2.0), ([0, 1, 2] * 3, 1.0)]
    pooled = ((2 * 1 + 2 * 0.25 + 8 * 0.75) / 12) ** 0.5
    assert slips.scatter_allowed(readings) == pytest.approx(3 * pooled)
    assert slips.scatter_allowed(readings[:2]) == slips.WITHOUT_HISTORY


# --- on the page ------------------------------------------------------------------------------------------------------
def wizard(cast: Cast, **more: Any) -> tuple[str, dict[str, Any]]:
    asked = begin(cast) | {"adjustment": "zero", "on": [cast.shims[50].pk, cast.shims[125].pk]} | more
    query = "&".join(
        f"{name}={one}" for name, value in asked.items() for one in (value if isinstance(value, list) else [value])
    )
    return f"{NEW}?{query}", {"readings1": "50.1 50.3 49.9", "readings2": "125.1 125.6 125.4"}


def test_the_page_asks_keeps_what_was_typed_and_stores_what_is_confirmed(in_date: Cast) -> None:
    address, good = wizard(in_date)
    client, taken = as_person(in_date.ines), {"taken_at": "2026-03-04T07:00"}
    slip = good | taken | {"readings2": "1249 125.6 125.4"}
    answer = client.post(address, slip)
    page = text_of(answer)
    assert (answer.status_code, Verification.objects.count()) == (422, 0)
    assert "Is this right? Nothing is stored yet" in page
    assert "Reading 1, 1249.0 µm, is about ten times the 125.4 µm of S-125" in page
    assert "1249 125.6 125.4</textarea>" in page
    (answered,) = re.findall(r'name="confirmed" value="([0-9a-f]+)"', page)
    # The answer holds for these readings, not for others typed since.
    other = client.post(address, slip | {"readings2": "12.49 125.6 125.4", "confirmed": answered})
    assert (other.status_code, "is about a tenth of" in text_of(other)) == (422, True)
    assert client.post(address, slip | {"confirmed": answered}).status_code == 302
    assert Verification.objects.get().verdict == "fail"


# --- records that await a check ---------------------------------------------------------------------------------------
ADJUSTED = "was made after adjusting the gauge; it does not show how the gauge was while the readings were taken."


def test_an_opening_check_as_left_that_would_end_a_stretch_is_asked_first(cast: Cast) -> None:
    with travel(scene.clock("12:00"), tick=False):
        scene.verify(cast, "06:40")
        record = scene.measure(cast, "09:00", "09:40")
        left = {"purpose": "opening", "adjustment": "two-point", "taken_at": "2026-03-04T11:50:00Z"}
        (question,) = asked(cast, GOOD, **left)
        assert question == (
            None, f"This would put 1 record in question: The check after work, at 11:50, {ADJUSTED}",
        )  # fmt: skip
        assert Standing.objects.get(record=record).state == "provisional"
        # As found, it is the check that the record awaited; and after that, nothing is lost by adjusting.
        assert asked(cast, GOOD, adjustment="none", as_left=False, taken_at="2026-03-04T11:40:00Z") == []
        assert Standing.objects.get(record=record).state == "sound"
        assert asked(cast, GOOD, **left) == []


def test_readings_of_an_open_sheet_are_asked_about_before_an_adjusted_check(cast: Cast) -> None:
    site = cast.site
    with travel(scene.clock("11:00"), tick=False):
        scene.verify(cast, "06:40")
        sheet = fieldwork.open_sheet(
            cast.ines, id=new_id(), area=site.area, coat=site.coats[0], gauge=cast.gauge, profile_way="adjusted",
            correction_nm=0,
        )  # fmt: skip
        for order in (1, 2, 3):
            fieldwork.note_reading(cast.ines, sheet=sheet, spot=1, order=order, value_nm=80_000)
    with travel(scene.clock("12:00"), tick=False):
        left = {"purpose": "opening", "adjustment": "two-point", "taken_at": "2026-03-04T11:50:00Z"}
        (question,) = asked(cast, GOOD, **left)
        assert question[1].startswith("This would put 3 readings of open sheets in question: the check after them")
        # As found first, they are closed by that; then nothing is lost.
        assert asked(cast, GOOD, adjustment="none", as_left=False, taken_at="2026-03-04T11:40:00Z") == []
        assert asked(cast, GOOD, **left) == []


def test_what_is_confirmed_ends_the_stretch_and_the_journal_has_it(cast: Cast) -> None:
    with travel(scene.clock("12:00"), tick=False):
        scene.verify(cast, "06:40")
        record = scene.measure(cast, "09:00", "09:40")
        adjusted = sent(cast, GOOD, adjustment="two-point", taken_at="2026-03-04T11:50:00Z")
        assert send(cast.ines, adjusted)[0] == 428
        assert not JournalEntry.objects.filter(verb__in=("verification.recorded", "standing.changed")).exclude(
            after={str(record.pk): "provisional"}
        )
        assert send(cast.ines, adjusted | {"confirmed": True})[0] == 201
    assert Standing.objects.get(record=record).state == "in_question"
    assert ADJUSTED in JournalEntry.objects.get(verb="verification.confirmed").after["confirmed"][0]


def test_a_closing_check_on_other_thicknesses_is_asked_and_a_failing_one_as_found_never(cast: Cast) -> None:
    with travel(scene.clock("18:30"), tick=False):
        found = {"purpose": "closing", "adjustment": "none", "as_left": False}
        scene.verify(cast, "06:40")
        with travel(scene.clock("12:00"), tick=False):
            scene.measure(cast, "09:00", "09:40", values_um=(90, 100, 110))
        with travel(scene.clock("17:50"), tick=False):
            thin = asked(cast, {50: GOOD[50]}, **found, taken_at="2026-03-04T17:30:00Z")
            assert "This would put 1 record in question: 3 of 3 readings lie more than 10 % outside" in thin[0][1]
            off = {nominal: [value + 20 for value in row] for nominal, row in GOOD.items()}
            assert asked(cast, off, **found, taken_at="2026-03-04T17:30:00Z") == []
    assert Standing.objects.get().state == "in_question"


def test_records_of_a_project_out_of_sight_are_told_without_a_word_of_them(cast: Cast) -> None:
    with travel(scene.clock("12:00"), tick=False):
        scene.verify(cast, "06:40")
        scene.measure(cast, "09:00", "09:40", site=cast.foreign, area=cast.foreign.area)
        found = asked(cast, GOOD, adjustment="two-point", taken_at="2026-03-04T11:50:00Z")
    assert found == [(None, "This would put records of another project in question.")]


def test_the_pages_say_beforehand_that_records_await_a_check_and_choose_as_found(cast: Cast) -> None:
    client = as_person(cast.ines)
    with travel(scene.clock("12:00"), tick=False):
        address, _ = wizard(cast, purpose="opening")
        fresh = client.get(re.sub("&(adjustment|as_left)=[a-z]+", "", address))
        assert 'name="as_left" value="left" required id="id_as_left_1" checked' in text_of(fresh)
        assert "the records since its last check will be in question" not in text_of(client.get(address))
        scene.verify(cast, "06:40")
        scene.measure(cast, "09:00", "09:40")
        chosen = text_of(client.get(re.sub("&(adjustment|as_left)=[a-z]+", "", address)))
        assert "1 record awaits its check after work: this check would be that one." in chosen
        assert 'name="as_left" value="found" required id="id_as_left_0" checked' in chosen
        assert "the records since its last check will be in question" in text_of(client.get(address))


def test_after_a_failed_check_the_main_step_is_to_see_it_again_as_found(cast: Cast) -> None:
    client = as_person(cast.ines)
    for left, adjustment in ((False, "none"), (True, "none"), (True, "zero")):
        off = {nominal: [value + 20 for value in row] for nominal, row in GOOD.items()}
        check = sent(cast, off, as_left=left, adjustment=adjustment)
        assert send(cast.ines, check)[1]["verdict"] == "fail"
        page = client.get(reverse("verification", args=[check["id"]])).content.decode()
        (main,) = re.findall(r'<a class="button" href="[^"]*verifications/new/\?([^"]*)">([^<]*)', page)
        assert main[1] == "Verify again as found"
        assert "as_left=found" in main[0]
        assert "adjustment" not in main[0]
        assert re.search(r'<a class="button-quiet" href="[^"]*as_left=left[^"]*">Adjust, then verify as left', page)
