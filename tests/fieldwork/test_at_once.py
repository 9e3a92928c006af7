"""The same record, or the same correction, sent from two places at once: one row, and a clear word for the other."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import DatabaseError, transaction

from accounts.models import JournalEntry
from inspection.fieldwork import actions, latest
from inspection.fieldwork.models import Reading, SheetReading, ThicknessRecord
from inspection.foundation.copying import bulk_rows
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict
from inspection.standing.models import Standing
from tests.cast import Cast, bring_in_date
from tests.fieldwork.build import GOOD_SPOTS, sent
from tests.holdpoints.test_at_once import at_once, cast

__all__ = ["cast"]
pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_the_same_upload_sent_four_times_at_once_is_stored_once(cast: Cast) -> None:
    for _ in range(5):
        asked = sent(cast)
        ends = at_once(*(lambda asked=asked: actions.record_thickness(cast.ines, **asked) for _ in range(4)))
        assert sorted(new for _, new in ends) == [False, False, False, True]
        record = ThicknessRecord.objects.get(pk=asked["id"])
        assert record.readings.count() == 15
        assert JournalEntry.objects.filter(object_id=str(record.pk), verb="thickness.recorded").count() == 1
        assert Standing.objects.filter(record=record).count() == 1


def test_other_content_under_the_same_id_at_once_is_stored_once_and_refused_once(cast: Cast) -> None:
    for _ in range(5):
        one = sent(cast)
        other = {**one, "readings": GOOD_SPOTS[:-1]}
        ends = at_once(
            lambda one=one: actions.record_thickness(cast.ines, **one),
            lambda other=other: actions.record_thickness(cast.ines, **other),
        )
        (conflict,) = [end for end in ends if isinstance(end, Conflict)]
        assert "with other content" in str(conflict)
        assert Reading.objects.filter(record=one["id"]).count() in (14, 15)


def test_of_two_corrections_at_once_one_stands_and_the_other_reads_whose(cast: Cast) -> None:
    for _ in range(5):
        old, _ = actions.record_thickness(cast.ines, **sent(cast))
        asked = [sent(cast, replaces=old, replacement_reason=reason) for reason in ("mine", "yours")]
        ends = at_once(
            lambda asked=asked: actions.record_thickness(cast.ines, **asked[0]),
            lambda asked=asked: actions.record_thickness(cast.quinn, **asked[1]),
        )
        (conflict,) = [end for end in ends if isinstance(end, Conflict)]
        assert "corrected this record already" in str(conflict)
        assert ThicknessRecord.objects.filter(replaces=old).count() == 1


def test_two_people_recording_one_area_at_once_are_both_kept(cast: Cast) -> None:
    ends = at_once(
        lambda: actions.record_thickness(cast.ines, **sent(cast)),
        lambda: actions.record_thickness(cast.quinn, **sent(cast)),
    )
    assert [new for _, new in ends] == [True, True]
    assert ThicknessRecord.objects.current().count() == 2


def test_of_records_stored_at_one_place_at_once_the_newest_stands(cast: Cast) -> None:
    """Twice two: a record each, and then one more beside a correction that takes the newest to another coat."""
    for _ in range(3):
        asked = [sent(cast) for _ in range(2)]
        ends = at_once(
            lambda asked=asked: actions.record_thickness(cast.ines, **moved(asked[0], 0)),
            lambda asked=asked: actions.record_thickness(cast.quinn, **moved(asked[1], 1)),
        )
        assert [new for _, new in ends] == [True, True]
        old = ends[1][0]
        again = sent(cast, replaces=old, replacement_reason="the other coat", coat=2)
        at_once(
            lambda again=again: actions.record_thickness(cast.ines, **moved(again, 5)),
            lambda: actions.record_thickness(cast.quinn, **moved(sent(cast), 3)),
        )
        assert not list(latest.differences())


def moved(asked: dict[str, Any], hours: int) -> dict[str, Any]:
    by = timedelta(hours=hours)
    readings = [reading._replace(taken_at=None) for reading in asked["readings"]]
    times = {name: asked[name] + by for name in ("first_reading_at", "last_reading_at")}
    return {**asked, **times, "readings": readings}


def test_readings_noted_at_once_on_one_sheet_all_find_their_place(cast: Cast) -> None:
    bring_in_date()
    sheet = actions.open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    at_once(
        *(
            lambda nm=nm: actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=nm)
            for nm in (80_000, 81_000, 82_000, 83_000)
        )
    )
    assert sorted(SheetReading.objects.values_list("order", flat=True)) == [1, 2, 3, 4]
    ends = at_once(*(lambda: actions.finish_sheet(cast.ines, sheet=sheet) for _ in range(3)))
    assert {end.pk for end in ends} == {sheet.pk}


@pytest.mark.parametrize("text", ["tab\there", "line\nbreak", "back\\slash", "\\N", "\\.", "quote'\"", "µm ½", "\r"])
def test_copy_keeps_every_character(cast: Cast, text: str) -> None:
    record, _ = actions.record_thickness(cast.ines, **sent(cast))
    columns = ("record_id", "spot", "order", "value_nm", "taken_at", "void_reason")
    with transaction.atomic():
        bulk_rows(Reading, columns, [(record.pk, 9, 1, 80_000, record.taken_at, text)])
    stored = Reading.objects.get(record=record, spot=9)
    assert (stored.void_reason, stored.taken_at) == (text, record.taken_at)


def test_copy_is_held_by_the_constraints(cast: Cast) -> None:
    def add(record: UUID, *rows: tuple[Any, ...]) -> None:
        columns = ("record_id", "spot", "order", "value_nm", "taken_at", "void_reason")
        with transaction.atomic():
            bulk_rows(Reading, columns, [(record, *row, None, "") for row in rows])

    record, _ = actions.record_thickness(cast.ines, **sent(cast))
    for wrong in ([(1, 1, 80_000)], [(9, 1, -1)], [(9, 1, 80_000), (9, 1, 81_000)]):
        with pytest.raises(DatabaseError):
            add(record.pk, *wrong)
    assert record.readings.count() == 15
