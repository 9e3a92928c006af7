"""A logger's file: read by its heads, looked at before it is stored, whole or not at all, judged over any time."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from io import BytesIO
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import Workbook

from accounts.models import JournalEntry
from inspection.fieldwork.climate.logger_files import store_file
from inspection.fieldwork.climate.models import LoggerFile
from inspection.fieldwork.climate.samples import joined, packed, read_samples, unpacked
from inspection.foundation.refusals import Conflict, Refused
from inspection.foundation.shaping import Shape
from reports.verify import logs
from tests.cast import Cast
from tests.fieldwork.test_stations import a_station, send
from tests.past_triggers import rewrite
from tests.projects.test_pages import as_person

ZONE = ZoneInfo("Europe/Oslo")
START = datetime(2026, 3, 4, 6, 0, tzinfo=UTC)
# Dew point of 20 °C and 60 % is 12.0 °C (WMO-No. 8): the steel keeps 3 °C at 18 and not at 14.
DRY, WET = "20.0;60;18.0", "20.0;60;14.0"


def lines(*rows: str, head: str = "Time;Air temperature [°C];RH %;Steel °C", step_min: int = 10) -> bytes:
    at = (f"{START + timedelta(minutes=step_min * number):%Y-%m-%d %H:%M}" for number in range(len(rows)))
    return "\n".join([head, *(f"{moment};{row}" for moment, row in zip(at, rows, strict=True))]).encode()


def stored(cast: Cast, content: bytes = b"", **more: Any) -> LoggerFile:
    content = content or lines(*[DRY] * 6, *[WET] * 3, *[DRY] * 4)
    asked: dict[str, Any] = {"content": content, "name": "deck.csv", "gap_min": 15, "station": None, **more}
    asked["station"] = asked["station"] or a_station(cast)
    return store_file(cast.ines, **asked)[0]


@pytest.mark.parametrize(
    ("content", "columns"),
    [
        (b"Logger L-7\n\nTimestamp;Ambient;Rel. humidity;Surface temp.;Dew point\n2026-03-04T06:00+01:00;1;2;3;4\n",
         {"air_c", "humidity_pct", "surface_c", "dew_point_c", "time"}),
        (b"Date,Time,Temperature,RH\n2026-03-04,06:00,20,50\n", {"date", "time", "air_c", "humidity_pct"}),
        (b"Bay 4, port, level 2\nTime;Temperature;RH\n2026-03-04 06:00;7,5;61,5\n", {"time", "air_c", "humidity_pct"}),
        ("Uhr-time\tSteel °C\n04.03.2026 06:00\t7,5\n".encode(), {"time", "surface_c"}),
    ],
)  # fmt: skip
def test_columns_are_told_by_their_heads(content: bytes, columns: set[str]) -> None:
    samples = read_samples(content, zone=ZONE)
    assert set(samples.columns) == columns
    assert not samples.faults
    assert datetime.fromtimestamp(samples.begins_s, UTC) == datetime(2026, 3, 4, 5, 0, tzinfo=UTC)


def test_every_row_that_cannot_be_read_is_told_by_its_number() -> None:
    content = lines("20;60;18", "warm;60;18", "20;160;18", ";--;18", "20;60;18").decode().split("\n")
    content[5] = content[5].replace("2026-03-04 06:40", "2026-03-04 06:20")
    samples = read_samples("\n".join([*content, "05/03/2026 06:00;1;1;1"]).encode(), zone=ZONE)
    assert [(fault.row, fault.field) for fault in samples.faults] == [
        (3, "Air, °C"), (4, "Relative humidity, %"), (6, "time"), (7, "time"),
    ]  # fmt: skip
    assert "can be read two ways" in samples.faults[3].message
    assert samples.empty == {"air_c": 2, "humidity_pct": 2, "surface_c": 0}


def test_the_night_the_clocks_are_put_back_runs_on_and_newest_first_is_turned() -> None:
    head = "time;air\n"
    rows = [
        "2026-10-25 01:30;1",
        "2026-10-25 02:00;2",
        "2026-10-25 02:30;3",
        "2026-10-25 02:00;4",
        "2026-10-25 02:30;5",
    ]
    samples = read_samples((head + "\n".join(rows)).encode(), zone=ZONE)
    assert not samples.faults
    assert (samples.ends_s - samples.begins_s) == 2 * 3600
    turned = read_samples((head + "2026-03-04 08:00;2\n2026-03-04 07:00;1\n").encode(), zone=ZONE)
    assert not turned.faults
    assert list(turned.log.air_c) == [1, 2]


def test_fahrenheit_is_turned_and_two_columns_for_one_quantity_are_asked_about() -> None:
    samples = read_samples(b"time,air (F)\n2026-03-04 08:00,68\n", zone=ZONE)
    assert samples.log.air_c == pytest.approx([20])
    two = b"time,air 1,air 2\n2026-03-04 08:00,20,21\n"
    with pytest.raises(Refused, match="could be “air 1” and “air 2”"):
        read_samples(two, zone=ZONE)
    assert read_samples(two, zone=ZONE, named={"air_c": "air 2"}).log.air_c == pytest.approx([21])
    with pytest.raises(Refused, match="No head was found"):
        read_samples(b"a,b\n1,2\n", zone=ZONE)


def test_samples_come_back_as_they_were_kept_and_join_in_order() -> None:
    first = read_samples(lines(DRY, WET), zone=ZONE).log
    again = unpacked(packed(first))
    assert list(again.at_s) == list(first.at_s)
    assert list(again.surface_c) == [18.0, 14.0]
    later = read_samples(lines("1;2;3", "4;5;6", DRY), zone=ZONE).log
    assert list(joined([later, first]).surface_c) == [18.0, 14.0, 18.0]


def test_a_file_is_looked_at_then_stored_and_the_same_again_changes_nothing(cast: Cast) -> None:
    station, client = a_station(cast), as_person(cast.ines)
    book = Workbook()
    book.active.append(["Time", "Air °C", "RH %", "Steel °C", "Battery"])
    for number in range(8):
        book.active.append([START.replace(tzinfo=None) + timedelta(minutes=30 * number), 20, 60, 18, 3.6])
    out = BytesIO()
    book.save(out)

    def sent() -> Any:
        file = SimpleUploadedFile("deck.xlsx", out.getvalue())
        return client.post(reverse("logger_new", args=[station.pk]), {"file": file, "gap_min": "15"}, follow=True)

    page = sent()
    text = page.content.decode()
    assert "Preview: nothing is stored yet" in text
    assert "Not read: Battery" in text
    assert "1, longer than 15 min" in text
    assert not LoggerFile.objects.exists()
    assert "is stored already" not in text
    address = page.request["PATH_INFO"]
    assert "deck.xlsx is stored with 8 samples." in client.post(address, follow=True).content.decode()
    assert "The same file is stored already:" in sent().content.decode()
    assert "This file was stored here before." in client.post(address, follow=True).content.decode()
    assert LoggerFile.objects.count() == 1
    assert JournalEntry.objects.filter(verb="loggerfile.stored").count() == 1
    assert as_person(cast.quinn).get(address).status_code == 404


def test_a_file_that_does_not_say_how_it_is_read_is_asked_about_and_verified_as_it_was_told(cast: Cast) -> None:
    station, client, where = a_station(cast), as_person(cast.ines), "logger_new"

    def sent(rows: str, **more: str) -> Any:
        file = SimpleUploadedFile("deck.txt", rows.encode("utf-16"))
        asked = {"file": file, "gap_min": "30", "note": "by hand", **more}
        return client.post(reverse(where, args=[station.pk]), asked, follow=True)

    # The day or the month first is not to be told; the days are written once each; a mean stands below.
    rows = (
        "Bay 4\nDatum\tUhrzeit\tLufttemperatur °F\tFeuchte\tSensor\n03/04/2026\t11:30 PM\t68,0\t60\t18\n"
        "\t11:45 PM\t68\t60\t18\n\t12:00 AM\t50\t60\t18\nMean\t\t62\t60\t18\n"
    )
    asked = sent(rows)
    assert asked.request["PATH_INFO"].endswith("/columns/")
    form = asked.context["form"]
    assert "can be read two ways" in asked.content.decode()
    assert [form[f"column_{place}"].value() for place in range(5)] == ["date", "time", "air_f", "humidity_pct", ""]
    assert (form["head"].value(), form["skipped"].value()) == ("2", ["6"])
    address = asked.request["PATH_INFO"]
    answer = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    twice = client.post(address, {**answer, "column_4": "air_c", "day_order": "mdy"})
    assert "can be one column only" in twice.content.decode()
    assert client.post(address, answer).status_code == 422
    shown = client.post(address, {**answer, "column_4": "surface_c", "day_order": "mdy"}, follow=True)
    words = shown.content.decode()
    assert "Lines passed over: 1, 6." in words
    assert "2 empty cells of the day: taken as what stands above." in words
    assert not LoggerFile.objects.exists()
    client.post(shown.request["PATH_INFO"])
    row = LoggerFile.objects.get()
    # The project's clocks show UTC in winter: the third row is past midnight.
    assert [row.first_at, row.last_at] == [
        datetime(2026, 3, 4, 23, 30, tzinfo=UTC), datetime(2026, 3, 5, 0, 0, tzinfo=UTC)
    ]  # fmt: skip
    assert list(unpacked(row.samples).air_c) == pytest.approx([20, 20, 10])
    assert row.shape
    assert row.shape["day_order"] == "mdy"
    assert list(logs.differences()) == []
    # The next one of the same make is read so without a question; told otherwise it would be another.
    later = sent(rows.replace("03/04", "03/05"))
    assert f"Read as {cast.ines.name} told it" in later.content.decode()
    assert "Preview: nothing is stored yet" in later.content.decode()
    assert sent(rows, ask="1").context["form"]["column_4"].value() == "surface_c"
    rewrite(LoggerFile.objects.filter(pk=row.pk), shape={**row.shape, "day_order": "dmy"})
    assert list(logs.differences())[-1].endswith("its samples are not those of its file")
    # Other bytes with the same samples, and the same bytes, are told.
    again = sent(rows + "\n").content.decode()
    assert "The same samples are stored already, from another file:" in again
    assert "The same file is stored already:" in sent(rows).content.decode()


def test_times_without_a_day_are_asked_about_and_go_on_past_midnight(cast: Cast) -> None:
    rows = b"Time;Air\n23:50;7\n00:10;8\n"
    with pytest.raises(Refused, match="no day"):
        stored(cast, rows)
    shape = Shape(columns=("time", "air_c"), head=1, day="2026-03-04")
    samples = read_samples(rows, zone=ZONE, shape=shape)
    assert (samples.faults, samples.ends_s - samples.begins_s) == ((), 1200)
    with pytest.raises(Refused, match="The times have no day"):
        read_samples(rows, zone=ZONE, shape=replace(shape, day=""))


def test_a_file_with_a_row_that_cannot_be_read_is_shown_and_nothing_of_it_is_stored(cast: Cast) -> None:
    station, client = a_station(cast), as_person(cast.ines)
    file = SimpleUploadedFile("deck.csv", lines(DRY, "20;sixty;18"))
    page = client.post(reverse("logger_new", args=[station.pk]), {"file": file, "gap_min": "15"}, follow=True)
    assert page.status_code == 422
    assert "“sixty” is no number; write it as 18.5." in page.content.decode()
    assert "Store exactly this" not in page.content.decode()
    client.post(page.request["PATH_INFO"])
    assert not LoggerFile.objects.exists()
    with pytest.raises(Refused, match="in the future"):
        stored(cast, b"time;air\n2026-03-04 08:00;2\n2126-03-04 07:00;1\n", station=station)


def test_a_shift_or_a_cure_is_judged_against_the_coat_and_shown_with_its_charts(cast: Cast) -> None:
    file = stored(cast)
    client, station = as_person(cast.clara), file.station
    asked = {"begins": "2026-03-04T06:00", "ends": "2026-03-04T07:00", "cure_h": "1", "coat": cast.site.coats[0].pk}
    page = client.get(reverse("station_log", args=[station.pk]), asked)
    text = page.content.decode()
    log = page.context["log"]
    # Steel falls from 18.0 to 14.0 in ten minutes and rises again 20 minutes later; it must keep 12.0 + 3.
    dew = log.window.judged.found["dew_point_c"].mean
    short = 10 * (dew + 3 - 14.0) / 4.0
    breach_h = (20 + 2 * short) / 60
    assert log.all.share.outside_s / 3600 == pytest.approx(breach_h, rel=1e-6)
    assert log.longest_breach.hours == pytest.approx(breach_h, rel=1e-6)
    assert log.all.share.within_pct == pytest.approx(100 * (2 - breach_h) / 2)
    assert "Longest breach" in text
    assert "Limits of Primer" in text
    for chart in ("log_temperatures", "log_humidity", "log_margin"):
        drawn = client.get(reverse(chart, args=[station.pk]), asked)
        assert drawn["Content-Type"] == "image/svg+xml"
        assert b"CS-1" in drawn.content
        assert b"style=" not in drawn.content
    wrong = client.get(reverse("station_log", args=[station.pk]), {**asked, "ends": "2026-03-04T05:00", "cure_h": "0"})
    assert "This is not after the beginning." in wrong.content.decode()
    long_ago = {**asked, "begins": "2026-03-01T06:00", "ends": "2026-03-01T07:00"}
    empty = client.get(reverse("station_log", args=[station.pk]), long_ago)
    assert "No logger’s file reaches into this time" in empty.content.decode()
    assert as_person(cast.igor).get(reverse("logger_file", args=[file.pk])).status_code == 404


def test_a_file_is_withdrawn_with_its_reason_counts_no_more_and_comes_back(cast: Cast) -> None:
    file, client = stored(cast), as_person(cast.ines)
    log = reverse("station_log", args=[file.station.pk])
    asked = {"begins": "2026-03-04T06:00", "ends": "2026-03-04T07:00"}
    client.post(reverse("logger_withdraw", args=[file.pk]), {"reason": "Of another deck"})
    assert client.get(log, asked).context["log"] is None
    assert "Of another deck" in client.get(reverse("logger_file", args=[file.pk])).content.decode()
    with pytest.raises(Conflict, match="take its withdrawal back"):
        stored(cast, station=file.station)
    client.post(reverse("logger_restore", args=[file.pk]), {"reason": "It was this one"})
    assert client.get(log, asked).context["log"] is not None
    verbs = JournalEntry.objects.filter(verb__startswith="loggerfile").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["loggerfile.stored", "loggerfile.withdrawn", "loggerfile.restored"]


def test_the_api_stores_a_file_once_and_judges_a_time_of_it(cast: Cast) -> None:
    station, client = a_station(cast), as_person(cast.ines)
    sent = {"name": "deck.csv", "rows": lines(*[DRY] * 7).decode(), "gap_min": 15}
    address = reverse("api_logger_file_add", args=[station.pk])
    assert send(client, address, sent).status_code == 201
    again = send(client, address, sent)
    assert again.status_code == 200
    assert (again.json()["rows"], again.json()["gap_min"]) == (7, 15)
    faulty = send(client, address, {**sent, "rows": lines(DRY, "a;b;c").decode()})
    assert faulty.status_code == 422
    assert faulty.json()["errors"][0]["row"] == 3
    assert send(client, address, {**sent, "heads": {"wind": "x"}}).status_code == 422
    # What a file does not say is asked, and told by its shape; the same samples again are asked about.
    other = {**sent, "rows": "when;value\n03/05/2026 6:00 AM;20\n03/05/2026 6:10 AM;21\n", "name": "other.csv"}
    look = reverse("api_logger_file_look", args=[station.pk])
    assert {each["part"] for each in send(client, look, other).json()["asked"]} == {"columns"}
    shape = {"head": 1, "columns": ["time", "air_c"]}
    assert [each["part"] for each in send(client, look, {**other, "shape": shape}).json()["asked"]] == ["day_order"]
    assert send(client, address, {**other, "shape": shape}).json()["errors"][0]["field"] == "day_order"
    shape["day_order"] = "mdy"
    seen = send(client, look, {**other, "shape": shape}).json()
    assert (seen["found"], seen["faults"], seen["stored_before"]) == ("2 samples of time, air_c", [], [])
    new = send(client, address, {**other, "shape": shape, "remember": True})
    assert (new.status_code, new.json()["first_at"], new.json()["shape"]["day_order"]) == (
        201, "2026-03-05T06:00:00Z", "mdy",
    )  # fmt: skip
    twice = {**other, "rows": other["rows"] + "\n"}
    assert send(client, look, twice).json()["told_before"]
    assert send(client, address, twice).json()["errors"][0]["message"].startswith("The same samples are stored already")
    assert send(client, address, {**twice, "confirmed": True}).status_code == 201
    asked = {"begins": "2026-03-04T06:00:00Z", "ends": "2026-03-04T08:00:00Z"}
    for wrong in ({"ends": "9999-12-31T00:00:00Z"}, {"begins": "0001-01-01T00:00:00Z"}, {"cure_h": "nan"}):
        assert send(client, reverse("api_station_log", args=[station.pk]), {**asked, **wrong}).status_code == 422
    told = send(as_person(cast.clara), reverse("api_station_log", args=[station.pk]), asked).json()
    assert (told["all"]["within_pct"], told["all"]["unknown_h"], told["many_gaps"]) == (50.0, 1.0, 1)
    assert told["longest_breach"] is None


def test_a_longer_file_takes_no_more_queries(cast: Cast) -> None:
    station = a_station(cast)

    def counted(many: int) -> tuple[int, int]:
        with CaptureQueriesContext(connection) as storing:
            file = stored(cast, lines(*[DRY] * many), station=station, name=f"{many}.csv")
        written = len(storing)
        client = as_person(cast.ines)
        client.get(reverse("logger_file", args=[file.pk]))
        with CaptureQueriesContext(connection) as looking:
            client.get(reverse("logger_file", args=[file.pk]))
        return written, len(looking)

    assert counted(3) == counted(300)
