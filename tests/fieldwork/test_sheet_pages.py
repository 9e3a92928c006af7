"""Measuring on pages: begin, note, void, finish, give up."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork import actions
from inspection.fieldwork.models import Sheet, SheetReading, ThicknessRecord
from inspection.foundation.ids import new_id
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS, sent
from tests.standing.scene import verify

pytestmark = pytest.mark.usefixtures("in_date")


@pytest.fixture
def ines(client: Client, cast: Cast) -> Client:
    client.force_login(cast.ines)
    return client


def set_up(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "id": str(new_id()),
        "area": str(cast.site.area.pk),
        "coat": str(cast.site.coats[0].pk),
        "gauge": str(cast.gauge.pk),
        "profile_way": "adjusted",
        "correction": "",
        **changes,
    }


def begun(cast: Cast) -> Sheet:
    return actions.open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )


def words(answer: Any) -> str:
    """The page as text, white space as one blank."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def test_a_sheet_is_begun_once_however_often_the_form_is_sent(ines: Client, cast: Cast) -> None:
    address, body = reverse("thickness_start", args=[cast.site.project.pk]), set_up(cast)
    first, again = ines.post(address, body), ines.post(address, body)
    assert first.status_code == again.status_code == 302
    assert first.url == again.url == reverse("sheet", args=[Sheet.objects.get().pk])


def test_a_sheet_warns_while_the_newest_check_of_its_gauge_in_the_shift_is_a_failed_one(
    ines: Client, cast: Cast
) -> None:
    address = reverse("sheet", args=[begun(cast).pk])
    now = timezone.now()
    start, _ = cast.site.project.shift_of(now)
    warning = "The newest check of G-01"

    def told(at: datetime, off_by_nm: int) -> bool:
        check = verify(cast, at, off_by_nm=off_by_nm)
        page = ines.get(address)
        said = f"{warning}, at {at:%H:%M}, failed. Readings taken with it will be in question" in words(page)
        assert said is (reverse("verification", args=[check.pk]) in page.content.decode())
        return said

    assert warning not in words(ines.get(address))
    assert told(start - timedelta(minutes=1), 20_000) is False  # of the shift before
    between = (now - start) / 4
    assert [told(start + between, 0), told(start + 2 * between, 20_000), told(start + 3 * between, 0)] == [
        False, True, False,
    ]  # fmt: skip


def test_the_correction_is_typed_with_a_decimal_comma(ines: Client, cast: Cast) -> None:
    body = set_up(cast, profile_way="base_metal", correction="15,5")
    ines.post(reverse("thickness_start", args=[cast.site.project.pk]), body)
    assert Sheet.objects.get().correction_nm == 15_500


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"area": ""}, "This field is required"),
        ({"profile_way": "correction"}, "Give what is subtracted for the profile"),
        ({"correction": "25"}, "or the profile is subtracted twice"),
        ({"correction": "-25", "profile_way": "correction"}, "negative"),
        ({"correction": "some", "profile_way": "correction"}, "is not a number"),
        ({"gauge": str(new_id())}, "not one of the available choices"),
    ],
)
def test_a_wrong_set_up_is_said_beside_its_field_and_keeps_what_was_typed(
    ines: Client, cast: Cast, changes: dict[str, str], said: str
) -> None:
    answer = ines.post(reverse("thickness_start", args=[cast.site.project.pk]), set_up(cast, **changes))
    assert answer.status_code == 422
    assert said in words(answer)
    assert not Sheet.objects.exists()


def test_the_link_from_today_fills_in_area_and_coat(ines: Client, cast: Cast) -> None:
    address = reverse("thickness_start", args=[cast.site.project.pk])
    page = ines.get(address, {"area": cast.site.area.pk, "coat": cast.site.coats[1].pk}).content.decode()
    assert f'value="{cast.site.area.pk}" selected' in page
    assert f'value="{cast.site.coats[1].pk}" selected' in page


def test_readings_are_noted_spot_by_spot_until_the_rule_has_what_it_wants(ines: Client, cast: Cast) -> None:
    address = reverse("sheet", args=[begun(cast).pk])
    assert "Spot 1, reading 1" in words(ines.get(address))
    for value in ("80", "82,5", "81.1"):
        page = words(ines.get(address))
        spot, order = re.search(r"Spot (\d+), reading (\d+)", page).groups()
        ines.post(address, {"spot": spot, "order": order, "value": value})
    assert list(SheetReading.objects.values_list("spot", "order", "value_nm")) == [
        (1, 1, 80_000), (1, 2, 82_500), (1, 3, 81_100),
    ]  # fmt: skip
    page = words(ines.get(address))
    # The third reading completes the spot: 60 to 120 µm at level 3 lets a spot be 48 to 144 µm.
    assert "Spot 2, reading 1" in page
    assert "3 of 15 readings; 12 still wanted" in page
    assert "A spot mean must be 48.0 µm to 144.0 µm" in page


def test_sending_a_reading_twice_notes_it_once_and_another_value_is_a_conflict(ines: Client, cast: Cast) -> None:
    address = reverse("sheet", args=[begun(cast).pk])
    body = {"spot": "1", "order": "1", "value": "80"}
    assert ines.post(address, body).status_code == ines.post(address, body).status_code == 302
    answer = ines.post(address, {**body, "value": "90"})
    assert answer.status_code == 422
    assert "noted already, as 80.0 µm" in words(answer)
    assert SheetReading.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("-4", "negative"),
        ("99999", "outside the range of gauge"),
        ("9e99", "beyond anything measured"),
        ("eighty", "is not a number"),
        ("NaN", "is not a thickness"),
        ("8,4,5", "is not a number"),
        ("84.55555", "too many digits"),
        ("84 mil", "give the thickness in µm"),
        ("", "This field is required"),
        ("8" * 500, "at most 40 characters"),
    ],
)
def test_a_wrong_reading_is_said_and_kept_in_its_field(ines: Client, cast: Cast, typed: str, said: str) -> None:
    answer = ines.post(reverse("sheet", args=[begun(cast).pk]), {"spot": "1", "order": "1", "value": typed})
    assert answer.status_code == 422
    assert said in words(answer)
    assert f'value="{typed}"' in answer.content.decode() or not typed
    assert not SheetReading.objects.exists()


def test_voiding_needs_a_reason_and_asks_for_a_repeat(ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    reading = actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=300_000)
    address = reverse("sheet_reading_void", args=[sheet.pk, reading.pk])
    assert ines.post(address, {"void_reason": ""}).status_code == 422
    ines.post(address, {"void_reason": "probe on a run"})
    page = words(ines.get(reverse("sheet", args=[sheet.pk])))
    assert "Voided: probe on a run" in page
    assert "A repeat reading is wanted here" in page


def note(client: Client, sheet: Sheet, spot: int, value: str) -> str:
    """Note a reading as the page sends it; the address the browser lands on."""
    address = f"{reverse('sheet', args=[sheet.pk])}?spot={spot}"
    order = re.search(rf"Spot {spot}, reading (\d+)", words(client.get(address)))[1]
    answer = client.post(address.partition("?")[0], {"spot": spot, "order": order, "value": value}, follow=True)
    return re.search(r"Spot \d+, reading \d+", words(answer))[0]


def test_the_page_stays_at_the_chosen_spot_until_it_is_full(ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    assert note(ines, sheet, 1, "80") == "Spot 1, reading 2"
    # Spot 1 still wants readings; the person chose spot 4.
    assert [note(ines, sheet, 4, value) for value in ("81", "82", "83")] == [
        "Spot 4, reading 2", "Spot 4, reading 3", "Spot 1, reading 2",
    ]  # fmt: skip


def test_after_voiding_the_page_asks_for_the_repeat_in_that_spot(ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    note(ines, sheet, 1, "80")
    note(ines, sheet, 4, "81")
    odd = SheetReading.objects.get(spot=4)
    answer = ines.post(reverse("sheet_reading_void", args=[sheet.pk, odd.pk]), {"void_reason": "on a run"}, follow=True)
    assert "Spot 4, reading 2" in words(answer)


def test_a_slip_put_right_at_once_is_no_voided_reading_and_no_repeat_and_stays_readable(
    ines: Client, cast: Cast
) -> None:
    # ISO 19840 allows one repeat on 1 m² (6.1, from memory); four slips eat none of it.
    cast.site.area.area_m2 = 1
    cast.site.area.save()
    sheet = actions.open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[1], gauge=cast.gauge, profile_way="adjusted"
    )
    for spot in range(1, 6):
        note(ines, sheet, spot, "23" if spot < 5 else "230")
        if spot < 5:
            slip = SheetReading.objects.get(spot=spot)
            right = reverse("sheet_reading_right", args=[sheet.pk, slip.pk])
            assert "Put a slip right" in words(ines.get(f"{reverse('sheet', args=[sheet.pk])}?spot={spot}"))
            assert ines.post(right, {"value": "230"}).status_code == 302
    page = words(ines.get(reverse("sheet", args=[sheet.pk])))
    assert "Spot 1, reading 1: 23.0 µm typed, 230.0 µm meant" in page
    ines.post(reverse("sheet_finish", args=[sheet.pk]), {})
    record = ThicknessRecord.objects.get()
    assert (record.verdict, record.reading_count) == ("pass", 5)
    assert "repeats" not in record.inputs
    assert not record.readings.exclude(void_reason="").exists()
    page = words(ines.get(reverse("thickness", args=[record.pk])))
    assert page.count("23.0 µm typed, 230.0 µm meant") == 4
    entry = JournalEntry.objects.filter(verb="sheet.reading_put_right").first()
    assert (entry.before["value_nm"], entry.after["value_nm"], entry.actor) == (23_000, 230_000, cast.ines)


def test_only_the_last_reading_of_ones_own_open_sheet_is_put_right(client: Client, ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    first = actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=8_000)
    actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=81_000)
    right = reverse("sheet_reading_right", args=[sheet.pk, first.pk])
    answer = ines.post(right, {"value": "80"})
    assert answer.status_code == 422
    assert "Only the reading noted last can be put right" in words(answer)
    last = SheetReading.objects.order_by("pk").last()
    right = reverse("sheet_reading_right", args=[sheet.pk, last.pk])
    answer = ines.post(right, {"value": "9999"})
    assert (answer.status_code, 'value="9999"' in answer.content.decode()) == (422, True)
    assert "outside the range of gauge" in words(answer)
    assert ines.post(right, {"value": "81"}).status_code == 302, "the same value again is nothing new"
    actions.void_sheet_reading(cast.ines, reading=last, reason="on a run")
    assert ines.post(right, {"value": "82"}).status_code == 422
    assert not JournalEntry.objects.filter(verb="sheet.reading_put_right").exists()
    client.force_login(cast.quinn)
    assert client.post(right, {"value": "82"}).status_code == 403
    client.force_login(cast.igor)
    assert client.post(right, {"value": "82"}).status_code == 404


def test_the_finished_sheet_shows_its_record(ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    for reading in GOOD_SPOTS:
        actions.note_reading(cast.ines, sheet=sheet, spot=reading.spot, value_nm=reading.value_nm)
    answer = ines.post(reverse("sheet_finish", args=[sheet.pk]), {"note": "calm"}, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("thickness", args=[sheet.pk])
    assert ThicknessRecord.objects.get().verdict == "pass"
    # The old address of the sheet leads to the record.
    assert ines.get(reverse("sheet", args=[sheet.pk])).url == reverse("thickness", args=[sheet.pk])


def test_an_empty_sheet_is_not_finished_but_given_up_with_a_reason(ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    assert ines.post(reverse("sheet_finish", args=[sheet.pk]), {}).status_code == 422
    assert ines.post(reverse("sheet_abandon", args=[sheet.pk]), {"reason": ""}).status_code == 422
    assert ines.post(reverse("sheet_abandon", args=[sheet.pk]), {"reason": "rain"}).status_code == 302
    assert "was given up" in words(ines.get(reverse("sheet", args=[sheet.pk])))


def test_who_measures_the_same_place_is_told(ines: Client, cast: Cast) -> None:
    sheet = begun(cast)
    assert "open for this area and coat" not in words(ines.get(reverse("sheet", args=[sheet.pk])))
    actions.open_sheet(
        cast.quinn, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    assert "Quinn Quality also has a sheet open" in words(ines.get(reverse("sheet", args=[sheet.pk])))


def test_a_record_is_measured_again_as_its_correction(ines: Client, cast: Cast) -> None:
    old, _ = actions.record_thickness(cast.ines, **sent(cast))
    address = f"{reverse('thickness_start', args=[cast.site.project.pk])}?replaces={old.pk}"
    assert ines.post(address, set_up(cast)).status_code == 422
    ines.post(address, set_up(cast, replacement_reason="the wrong area was measured"))
    sheet = Sheet.objects.get()
    actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
    ines.post(reverse("sheet_finish", args=[sheet.pk]), {})
    assert ThicknessRecord.objects.get(replaces=old).replacement_reason == "the wrong area was measured"


def test_a_sheet_of_any_size_is_shown_in_as_many_queries(ines: Client, cast: Cast) -> None:
    sheet, taken = begun(cast), []
    for count in (3, 30):
        for spot in range(count):
            actions.note_reading(cast.ines, sheet=sheet, spot=spot + 1, value_nm=80_000)
        with CaptureQueriesContext(connection) as asked:
            assert ines.get(reverse("sheet", args=[sheet.pk])).status_code == 200
        taken.append(len(asked))
    assert taken[0] == taken[1]


def test_a_colleague_looks_on_the_client_may_not_and_the_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    address = reverse("sheet", args=[begun(cast).pk])
    client.force_login(cast.quinn)
    assert "Ines Inspector is measuring on this sheet" in words(client.get(address))
    assert client.post(address, {"spot": "1", "value": "80"}).status_code == 403
    client.force_login(cast.clara)
    assert client.get(address).status_code == 403
    client.force_login(cast.igor)
    assert client.get(address).status_code == 404
    assert client.get(reverse("thickness_start", args=[cast.site.project.pk])).status_code == 404


def test_a_second_sheet_of_ones_own_is_not_told_as_somebody_elses(ines: Client, cast: Cast) -> None:
    place = {"area": cast.site.area, "coat": cast.site.coats[0], "gauge": cast.gauge, "profile_way": "adjusted"}
    first, second = (actions.open_sheet(cast.ines, id=new_id(), **place) for _ in range(2))
    page = ines.get(reverse("sheet", args=[second.pk]))
    assert "Ines Inspector also has" not in words(page)
    assert "You have another sheet open" in words(page)
    assert reverse("sheet", args=[first.pk]) in page.content.decode()


def test_a_quality_manager_gives_up_the_sheet_of_somebody_who_has_left(client: Client, cast: Cast) -> None:
    place = {"area": cast.site.area, "coat": cast.site.coats[0], "gauge": cast.gauge, "profile_way": "adjusted"}
    sheet = actions.open_sheet(cast.ines, id=new_id(), **place)
    actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
    address, give_up = reverse("sheet", args=[sheet.pk]), reverse("sheet_abandon", args=[sheet.pk])
    client.force_login(cast.quinn)
    assert "Give the sheet up" not in words(client.get(address))
    assert client.post(give_up, {"reason": "Not mine"}).status_code == 403
    cast.ines.is_active = False
    cast.ines.save()
    assert "Give the sheet up" in words(client.get(address))
    assert client.post(give_up, {"reason": ""}).status_code == 422
    assert client.post(give_up, {"reason": "She has left the company"}).status_code == 302
    page = words(client.get(address))
    assert "This sheet was given up" in page
    assert "80" in page
    entry = JournalEntry.objects.get(verb="sheet.abandoned")
    assert (entry.actor_text.startswith("Quinn"), entry.reason) == (True, "She has left the company")
    assert entry.after == {"readings": 1, "begun_by": cast.ines.name}
    client.force_login(cast.igor)
    assert client.post(give_up, {"reason": "No"}).status_code == 404
