"""Storing a thickness record: whole or not at all, once only, never edited, always with its verdict."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, transaction
from django.http import Http404
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Reading, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.instruments.signals import evidence_changed
from inspection.projects.models import CoatingSystem, InspectionArea, Project
from tests.cast import MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS, sent, singles


def refusal(cast: Cast, **changes: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        record_thickness(cast.ines, **sent(cast, **changes))
    assert not ThicknessRecord.objects.exists()
    assert not Reading.objects.exists()
    return refused.value


def test_a_record_keeps_every_reading_and_its_verdict(cast: Cast) -> None:
    readings = [*GOOD_SPOTS, ReadingSent(1, 4, 190_000, MORNING, "probe tilted"), ReadingSent(1, 5, 81_000, MORNING)]
    record, new = record_thickness(cast.ines, **sent(cast, readings=readings))
    assert new
    record = ThicknessRecord.objects.get(pk=record.pk)
    stored = set(record.readings.values_list("spot", "order", "value_nm", "taken_at", "void_reason"))
    assert stored == {tuple(reading) for reading in readings}
    assert (record.verdict, record.reading_count, record.readings_wanted) == ("pass", 16, 15)
    # The voided 190 µm is not the highest.
    assert (record.mean_nm, record.lowest_nm, record.highest_nm) == (80_600, 69_000, 92_000)
    assert record.taken_by == cast.ines


def test_recording_is_journalled_and_made_known_once(cast: Cast) -> None:
    heard: list[dict[str, Any]] = []

    def listen(sender: Any, **said: Any) -> None:
        heard.append(said)

    evidence_changed.connect(listen)
    try:
        asked = sent(cast)
        record, _ = record_thickness(cast.ines, **asked)
        record_thickness(cast.ines, **asked)
    finally:
        evidence_changed.disconnect(listen)
    assert [said["records"] for said in heard] == [[record.pk]]
    entry = JournalEntry.objects.get(verb="thickness.recorded")
    assert (entry.actor, entry.object_id, entry.project_id) == (cast.ines, str(record.pk), cast.site.project.pk)
    assert entry.after["verdict"] == "pass"


def test_the_same_record_sent_again_changes_nothing(cast: Cast) -> None:
    asked = sent(cast)
    first, _ = record_thickness(cast.ines, **asked)
    # Another order of the same readings is the same content.
    again, new = record_thickness(cast.ines, **{**asked, "readings": GOOD_SPOTS[::-1]})
    assert (again.pk, new) == (first.pk, False)
    assert Reading.objects.count() == 15


def test_a_moment_written_in_another_zone_is_the_same_content(cast: Cast) -> None:
    asked = sent(cast)
    record_thickness(cast.ines, **asked)
    elsewhere = asked["first_reading_at"].astimezone(ZoneInfo("Asia/Tokyo"))
    assert record_thickness(cast.ines, **{**asked, "first_reading_at": elsewhere})[1] is False


@pytest.mark.parametrize(
    "change",
    [{"readings": GOOD_SPOTS[:-1]}, {"note": "windy"}, {"coat": 2}, {"last_reading_at": MORNING + timedelta(hours=2)}],
    ids=["a reading less", "another note", "another coat", "another time"],
)
def test_other_content_under_a_used_id_is_refused(cast: Cast, change: dict[str, Any]) -> None:
    asked = sent(cast)
    record_thickness(cast.ines, **asked)
    with pytest.raises(Conflict, match="with other content"):
        record_thickness(cast.ines, **sent(cast, **{"id": asked["id"], **change}))
    assert ThicknessRecord.objects.count() == 1


def test_a_correction_is_a_new_version_and_both_stay_readable(cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    new, _ = record_thickness(
        cast.ines,
        **sent(cast, readings=GOOD_SPOTS[:-1], replaces=old, replacement_reason="the last reading was of spot 6"),
    )
    assert (new.replaces, old.replaced_by) == (old, new)
    assert (old.readings.count(), new.readings.count()) == (15, 14)
    assert list(ThicknessRecord.objects.current()) == [new]
    entry = JournalEntry.objects.get(verb="thickness.corrected")
    assert entry.reason == "the last reading was of spot 6"
    assert entry.before["record"] == str(old.pk)


def test_a_correction_needs_a_reason(cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    with pytest.raises(Refused, match="Say why"):
        record_thickness(cast.ines, **sent(cast, replaces=old, replacement_reason=" "))


def test_the_second_correction_of_one_record_is_a_conflict_that_names_the_first(cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    record_thickness(cast.ines, **sent(cast, replaces=old, replacement_reason="slip"))
    with pytest.raises(Conflict, match="Ines Inspector corrected this record already"):
        record_thickness(cast.ines, **sent(cast, replaces=old, replacement_reason="slip"))


def test_two_people_may_record_one_area_and_both_records_stay(cast: Cast) -> None:
    record_thickness(cast.ines, **sent(cast))
    record_thickness(cast.quinn, **sent(cast))
    assert ThicknessRecord.objects.current().count() == 2


@pytest.mark.parametrize("change", ["update", "delete"])
@pytest.mark.parametrize("model", [ThicknessRecord, Reading])
def test_the_database_refuses_to_change_a_stored_record(cast: Cast, model: type, change: str) -> None:
    record_thickness(cast.ines, **sent(cast))
    rows = model.objects.all()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        rows.update(**{"note": "x"} if model is ThicknessRecord else {"value_nm": 1}) if change == "update" else (
            rows._raw_delete(rows.db)
        )
    assert (ThicknessRecord.objects.count(), Reading.objects.count()) == (1, 15)


def test_every_reading_outside_the_range_of_the_gauge_is_named(cast: Cast) -> None:
    wrong = refusal(cast, readings=singles(80, 1600, 81, 99_000))
    assert [(fault.field, fault.row) for fault in wrong.faults] == [("value", 2), ("value", 4)]
    assert "outside the range of gauge G-01 (0.0 to 1500.0 µm)" in wrong.faults[0].message


def test_a_place_given_twice_is_named(cast: Cast) -> None:
    wrong = refusal(cast, readings=[*GOOD_SPOTS, ReadingSent(2, 1, 80_000)])
    assert [(fault.field, fault.row, fault.message) for fault in wrong.faults] == [
        ("reading", 16, "Reading 1 of spot 2 is given twice.")
    ]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"readings": []}, "readings"),
        ({"unit": "thou"}, "unit"),
        ({"profile_way": "guessed"}, "profile_way"),
        ({"profile_way": "correction"}, "correction"),
        ({"correction_nm": 25_000}, "correction"),
        ({"profile_way": "base_metal", "correction_nm": 2_000_000}, "correction"),
        ({"last_reading_at": MORNING - timedelta(hours=1)}, "last_reading_at"),
        ({"first_reading_at": datetime(1999, 12, 31, tzinfo=UTC)}, "first_reading_at"),
        ({"last_reading_at": datetime(2999, 1, 1, tzinfo=UTC)}, "last_reading_at"),
        ({"note": "x" * 5000}, "note"),
        ({"note": "a\0b"}, "note"),
        ({"readings": [ReadingSent(0, 1, 80_000)]}, "spot"),
        ({"readings": [ReadingSent(1, 1, 80_000, None, " ")]}, "void_reason"),
        ({"readings": [ReadingSent(1, 1, 80_000, MORNING - timedelta(days=1))]}, "time"),
    ],
)
def test_what_is_wrong_is_said_by_field_and_nothing_is_stored(cast: Cast, changes: dict[str, Any], field: str) -> None:
    assert field in [fault.field for fault in refusal(cast, **changes).faults]


def test_an_hour_ahead_is_the_future(cast: Cast) -> None:
    now = timezone.now()
    wrong = refusal(cast, first_reading_at=now, last_reading_at=now + timedelta(hours=1))
    assert "lies in the future" in wrong.faults[0].message


def test_a_climate_meter_measures_no_thickness(cast: Cast) -> None:
    cast.gauge.kind = "climate"
    cast.gauge.save()
    assert refusal(cast).faults[0].field == "gauge"


def test_area_and_coat_must_belong_together(cast: Cast) -> None:
    other = CoatingSystem.objects.create(project=cast.site.project, name="System 2", preparation_grade="St 3")
    InspectionArea.objects.filter(pk=cast.site.area.pk).update(system=other)
    cast.site.area.refresh_from_db()
    assert refusal(cast).faults[0].field == "coat"


def test_an_area_of_another_project_is_refused(cast: Cast) -> None:
    with pytest.raises(Refused) as refused:
        record_thickness(cast.quinn, **sent(cast, project=cast.foreign.project))
    assert refused.value.faults[0].field == "area"


def test_a_closed_project_takes_in_what_arrives_late(cast: Cast) -> None:
    Project.objects.update(closed_at=timezone.now())
    cast.site.project.refresh_from_db()
    assert record_thickness(cast.ines, **sent(cast))[1]


def test_only_inspectors_and_quality_managers_record(cast: Cast) -> None:
    for someone in (cast.clara, cast.audrey, cast.admin):
        with pytest.raises(NotAllowed):
            record_thickness(someone, **sent(cast))


def test_the_stranger_finds_nothing_to_record_on(cast: Cast) -> None:
    with pytest.raises(Http404):
        record_thickness(cast.igor, **sent(cast))
    with pytest.raises(Http404):
        record_thickness(cast.igor, **sent(cast, project=cast.foreign.project))
    theirs, _ = record_thickness(cast.igor, **sent(cast, site=cast.foreign))
    with pytest.raises(Http404):
        record_thickness(cast.ines, **sent(cast, id=new_id(), replaces=theirs, replacement_reason="mine now"))
