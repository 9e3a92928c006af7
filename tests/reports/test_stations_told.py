"""The daily report tells the climate stations and what their loggers say of the day."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from reports.daily.gathering import gather
from tests.cast import DAY, Cast
from tests.fieldwork.test_logger_files import DRY, WET, lines, stored
from tests.fieldwork.test_stations import HOUR, MORNING, a_station, read
from tests.reports.test_content import facts_of, told


def test_the_report_tells_each_station_its_gaps_and_the_shares_of_its_logger(cast: Cast) -> None:
    before = facts_of(cast).digest
    station = a_station(cast)
    read(cast, station, rain="light")
    read(cast, station, at=MORNING + 6 * HOUR)
    stored(cast, lines(*[DRY] * 6, *[WET] * 6), station=station)
    facts = facts_of(cast)
    [day] = facts.stations
    assert (day.serves, day.readings, day.unread) == (2, 2, ((MORNING + 4 * HOUR, MORNING + 6 * HOUR),))
    [logged] = day.logged
    assert logged.within_h + logged.outside_h == pytest.approx(timedelta(minutes=110) / HOUR)
    assert logged.unknown_h == pytest.approx(24 - timedelta(minutes=110) / HOUR)
    assert logged.outside_h == pytest.approx(logged.longest_breach_h)
    assert logged.outside_h > 0.8
    assert facts.digest != before
    text = told(cast)
    assert "Climate stations" in text
    assert "CS-1 North tower" in text
    assert "11:00 to 13:00" in text
    assert "Loggers over the day" in text
    assert "rain light" in text


def test_more_stations_take_no_more_queries(cast: Cast) -> None:
    def counted(many: int, code: str) -> int:
        for number in range(many):
            station = a_station(cast, code=f"{code}{number}")
            read(cast, station, coats=[])
            stored(cast, lines(DRY, WET), station=station, name=f"{code}{number}.csv")
        with CaptureQueriesContext(connection) as gathering:
            gather(cast.site.project, DAY)
        return len(gathering)

    assert counted(1, "A") == counted(5, "B")
