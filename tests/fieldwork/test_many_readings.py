"""A record of very many readings: its pages and answers stay bounded, and all of it can be had as a file."""

from __future__ import annotations

import csv
import hashlib
import io
import tracemalloc

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import Reading, ThicknessRecord
from tests.cast import Cast
from tests.fieldwork.build import sent, spots
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]

MANY = 5_000
LARGEST = 120_000


@pytest.fixture
def long(cast: Cast) -> ThicknessRecord:
    """A record with 5,000 readings in its first spot."""
    record, _ = record_thickness(cast.ines, **sent(cast))
    Reading.objects.bulk_create(
        (Reading(record=record, spot=1, order=order, value_nm=60_000 + order) for order in range(4, MANY + 1)),
    )
    return record


def csv_of(client: Client, address: str) -> list[list[str]]:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    return list(csv.reader(io.StringIO(b"".join(answer.streaming_content).decode())))


def test_one_spot_with_very_many_readings_is_shown_a_window_at_a_time(ines: Client, long: ThicknessRecord) -> None:
    address = reverse("thickness", args=[long.pk])
    first, second, last = (ines.get(address, {"page": page}) for page in (1, 2, 999))
    assert max(answer.content.count(b"; 6") for answer in (first, second, last)) < 600
    assert "readings 1 to 600 of 5000" in words(first)
    assert "readings 601 to 1200 of 5000" in words(second)
    assert "Spot 5" in words(last)


def test_the_checks_of_very_many_areas_are_shown_a_window_at_a_time(ines: Client, cast: Cast) -> None:
    many = spots(*[[80, 81, 82]] * 1_500)
    record, _ = record_thickness(cast.ines, **sent(cast, readings=many))
    address = reverse("thickness", args=[record.pk])
    first, last = ines.get(address), ines.get(address, {"checks": 999, "page": 2})
    assert len(first.content) < LARGEST > len(last.content)
    assert "Area 1:" in words(first)
    assert "Area 300:" not in words(first)
    assert "Area 300:" in words(last)
    assert "Spot 201" in words(last)
    # From one window the other list keeps its place.
    assert "page=2&amp;checks=" in last.content.decode()

    body = ines.get(reverse("api_thickness", args=[record.pk])).json()
    assert body["result"] is None
    whole = ines.get(reverse("api_thickness_result", args=[record.pk])).json()
    assert len(whole["checks"]) > 1_000
    assert whole["verdict"] == body["verdict"]


def test_the_csv_of_a_project_holds_what_stands_and_no_formula(ines: Client, cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    readings = [*spots([80.25, 81, 82]), ReadingSent(1, 4, 190_000, None, "=1+1")]
    new, _ = record_thickness(cast.ines, **sent(cast, readings=readings, replaces=old, replacement_reason="slip"))
    record_thickness(cast.igor, **sent(cast, site=cast.foreign))
    address = reverse("project_readings", args=[cast.site.project.pk])
    with CaptureQueriesContext(connection) as few:
        head, *rows, mark = csv_of(ines, address)
    assert {row[0] for row in rows} == {str(new.pk)}
    first = dict(zip(head, rows[0], strict=True))
    assert (first["area"], first["spot"], first["reading"], first["thickness_um"]) == ("A1", "1", "1", "80.250")
    assert dict(zip(head, rows[-1], strict=True))["void_reason"] == "'=1+1"
    assert mark[:2] == ["end of file", "4"]
    record_thickness(cast.ines, **sent(cast))
    with CaptureQueriesContext(connection) as more:
        assert len(csv_of(ines, address)) == 4 + 15 + 2
    assert len(few) == len(more)


def test_all_readings_come_as_csv_within_bounded_memory_and_a_mark_tells_the_end(
    ines: Client, long: ThicknessRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = reverse("thickness_readings", args=[long.pk])
    monkeypatch.setattr("inspection.fieldwork.exports.A_PART", 200)
    stream = iter(ines.get(address).streaming_content)
    parts = [next(stream)]
    tracemalloc.start()
    try:
        size = sum(len(part) for part in stream)
        # All rows at once take more than 5 MB.
        assert tracemalloc.get_traced_memory()[1] < 1_000_000 > size
    finally:
        tracemalloc.stop()

    *parts, mark = ines.get(address).streaming_content
    name, count, digest = mark.decode().strip().split(",")
    assert (name, int(count)) == ("end of file", MANY + 12)
    assert digest == hashlib.sha256(b"".join(parts)).hexdigest()
    assert len(parts) == 26

    def break_off(rows: object) -> bytes:
        raise OperationalError("the database went away")

    stream = iter(ines.get(address).streaming_content)
    got = next(stream)
    monkeypatch.setattr("inspection.fieldwork.exports._written", break_off)
    with pytest.raises(OperationalError):
        next(stream)
    assert b"end of file" not in got
