"""A measurement under way, from the first reading to the record that takes its id."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.http import Http404
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork import actions
from inspection.fieldwork.models import Sheet, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS

pytestmark = pytest.mark.usefixtures("in_date")


def begin(cast: Cast, **changes: Any) -> Sheet:
    asked = {
        "id": new_id(), "area": cast.site.area, "coat": cast.site.coats[0], "gauge": cast.gauge,
        "profile_way": "adjusted", **changes,
    }  # fmt: skip
    return actions.open_sheet(cast.ines, **asked)


def fill(cast: Cast, sheet: Sheet) -> None:
    for reading in GOOD_SPOTS:
        actions.note_reading(cast.ines, sheet=sheet, spot=reading.spot, value_nm=reading.value_nm)


def test_a_finished_sheet_becomes_the_record_of_its_id(cast: Cast) -> None:
    sheet = begin(cast)
    fill(cast, sheet)
    record = actions.finish_sheet(cast.ines, sheet=sheet, note="calm")
    assert (record.pk, record.verdict, record.note, record.source) == (sheet.pk, "pass", "calm", "page")
    assert record.readings.count() == 15
    assert record.readings.first().taken_at is not None
    sheet.refresh_from_db()
    assert sheet.closed_at


def test_finishing_twice_gives_the_same_record(cast: Cast) -> None:
    sheet = begin(cast)
    fill(cast, sheet)
    assert actions.finish_sheet(cast.ines, sheet=sheet) == actions.finish_sheet(cast.ines, sheet=sheet)
    assert ThicknessRecord.objects.count() == 1


def test_a_reading_sent_twice_is_noted_once(cast: Cast) -> None:
    sheet = begin(cast)
    first = actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000, order=1)
    assert actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000, order=1) == first
    with pytest.raises(Conflict, match=r"noted already, as 80\.0 µm"):
        actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=90_000, order=1)
    assert sheet.readings.count() == 1


def test_a_voided_reading_stays_on_the_sheet_and_in_the_record(cast: Cast) -> None:
    sheet = begin(cast)
    fill(cast, sheet)
    odd = actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=400_000)
    with pytest.raises(Refused, match="repeat reading"):
        actions.void_sheet_reading(cast.ines, reading=odd, reason=" ")
    actions.void_sheet_reading(cast.ines, reading=odd, reason="probe on a run")
    record = actions.finish_sheet(cast.ines, sheet=sheet)
    assert record.readings.get(spot=1, order=4).void_reason == "probe on a run"
    assert (record.reading_count, record.highest_nm, record.verdict) == (15, 92_000, "incomplete")


def test_a_closed_sheet_takes_no_reading(cast: Cast) -> None:
    sheet = begin(cast)
    reading = actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
    actions.finish_sheet(cast.ines, sheet=sheet)
    with pytest.raises(Conflict, match="closed"):
        actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
    with pytest.raises(Conflict, match="closed"):
        actions.void_sheet_reading(cast.ines, reading=reading, reason="late")
    with pytest.raises(Conflict, match="closed"):
        actions.abandon_sheet(cast.ines, sheet=sheet, reason="late")


def test_an_empty_sheet_cannot_be_finished_but_given_up(cast: Cast) -> None:
    sheet = begin(cast)
    with pytest.raises(Refused, match="no readings"):
        actions.finish_sheet(cast.ines, sheet=sheet)
    with pytest.raises(Refused, match="Say why"):
        actions.abandon_sheet(cast.ines, sheet=sheet, reason="")
    actions.abandon_sheet(cast.ines, sheet=sheet, reason="rain")
    assert JournalEntry.objects.get(verb="sheet.abandoned").reason == "rain"


def test_opening_the_same_sheet_again_answers_with_it(cast: Cast) -> None:
    sheet = begin(cast)
    assert begin(cast, id=sheet.pk) == sheet
    with pytest.raises(Conflict):
        begin(cast, id=sheet.pk, coat=cast.site.coats[1])


@pytest.mark.parametrize(
    ("reading", "field"),
    [
        ({"spot": 0, "value_nm": 80_000}, "spot"),
        ({"spot": 1, "value_nm": 1_600_000}, "value"),
        ({"spot": 1, "value_nm": 80_000, "taken_at": timezone.now() + timedelta(hours=2)}, "taken_at"),
    ],
)
def test_a_wrong_reading_is_refused_by_field(cast: Cast, reading: dict[str, Any], field: str) -> None:
    sheet = begin(cast)
    with pytest.raises(Refused) as refused:
        actions.note_reading(cast.ines, sheet=sheet, **reading)
    assert [fault.field for fault in refused.value.faults] == [field]
    assert not sheet.readings.exists()


def test_a_colleague_cannot_write_on_the_sheet_and_the_stranger_does_not_find_it(cast: Cast) -> None:
    sheet = begin(cast)
    with pytest.raises(NotAllowed, match="Ines Inspector is measuring"):
        actions.note_reading(cast.quinn, sheet=sheet, spot=1, value_nm=80_000)
    with pytest.raises(Http404):
        actions.note_reading(cast.igor, sheet=sheet, spot=1, value_nm=80_000)
