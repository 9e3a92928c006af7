"""How much working time lies before an inspection: weekends, closed days, working hours, clock changes.

The expected values are arithmetic of the calendar: 2026-03-06 is a Friday (ISO 8601 week date 2026-W10-5); the
clocks of Europe/Oslo go forward on 2026-03-29 and back on 2026-10-25 (IANA time zone database). Which hours of a notice
count is for a contract to say (common practice, no source).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from inspection.plan.working_time import Calendar, earliest_held, latest_giving, lead_left, short_by

pytestmark = pytest.mark.once
OSLO = ZoneInfo("Europe/Oslo")
EVERY_DAY = frozenset(range(1, 8))
YARD = Calendar(ZoneInfo("UTC"), begins=time(7), ends=time(17))


def utc(day: int, hour: int = 0, minute: int = 0, month: int = 3) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


def test_a_weekend_does_not_count() -> None:
    # Friday 12:00 to Monday 12:00: half of Friday and half of Monday.
    lead = lead_left(Calendar(ZoneInfo("UTC")), utc(6, 12), utc(9, 12))
    assert (lead.hours, lead.days) == (24, 1)


def test_a_closed_day_does_not_count() -> None:
    calendar = Calendar(ZoneInfo("UTC"), closed={date(2026, 3, 9)})
    assert lead_left(calendar, utc(6, 12), utc(10, 12)).hours == 24
    assert lead_left(calendar, utc(9, 1), utc(9, 23)).hours == 0


def test_only_working_hours_count_where_they_are_declared() -> None:
    # Wednesday after work to Friday 09:00: Thursday's ten hours and two of Friday.
    lead = lead_left(YARD, utc(4, 18), utc(6, 9))
    assert (lead.hours, lead.days) == (12, Fraction(12, 10))


@pytest.mark.parametrize(("month", "day", "hours"), [(3, 29, 23), (10, 25, 25)])
def test_a_day_on_which_clocks_change_has_its_own_hours_and_is_one_day(month: int, day: int, hours: int) -> None:
    calendar = Calendar(OSLO, EVERY_DAY)
    begin = datetime(2026, month, day, tzinfo=OSLO)
    lead = lead_left(calendar, begin, datetime(2026, month, day + 1, tzinfo=OSLO))
    assert (lead.hours, lead.days) == (hours, 1)


def test_an_inspection_before_its_notice_has_no_lead() -> None:
    lead = lead_left(YARD, utc(5, 9), utc(4, 9))
    assert (lead.hours, lead.days) == (0, 0)


def test_what_is_short_is_told_in_its_unit() -> None:
    assert short_by(YARD, utc(4, 18), utc(6, 9), 48, "hours") == 36
    assert short_by(YARD, utc(4, 18), utc(6, 9), 2, "days") == Fraction(8, 10)
    assert short_by(YARD, utc(4, 7), utc(6, 17), 3, "days") == 0


@pytest.mark.parametrize(
    ("calendar", "held", "lead", "unit", "due"),
    [
        # Friday 09:00 with Friday's two hours and Thursday's ten is Thursday 07:00; with one more, Wednesday 16:00.
        (YARD, utc(6, 9), 12, "hours", utc(5, 7)),
        (YARD, utc(6, 9), 13, "hours", utc(4, 16)),
        # Half of Monday, Friday, and half of Thursday.
        (Calendar(ZoneInfo("UTC")), utc(9, 12), 2, "days", utc(5, 12)),
        # Held on Sunday: the ten hours of Friday count to their end.
        (YARD, utc(8, 9), 10, "hours", utc(6, 7)),
        # Of the day on which clocks go forward at 02:00, 11 hours lie before noon; 13 of the day before.
        (Calendar(OSLO, EVERY_DAY), datetime(2026, 3, 29, 12, tzinfo=OSLO), 24, "hours",
         datetime(2026, 3, 28, 11, tzinfo=OSLO)),
    ],
)  # fmt: skip
def test_by_when_notice_must_be_given(calendar: Calendar, held: datetime, lead: int, unit: str, due: datetime) -> None:
    assert latest_giving(calendar, held, lead, unit) == due
    assert lead_left(calendar, due, held).in_unit(unit) == lead
    assert earliest_held(calendar, due, lead, unit) in {held, utc(6, 17)}


def test_an_inspection_for_which_there_is_time_comes_after_the_lead_asked_for() -> None:
    # Given on Friday 16:00: an hour of Friday, ten of Monday, one of Tuesday.
    assert earliest_held(YARD, utc(6, 16), 12, "hours") == utc(10, 8)
    assert earliest_held(YARD, utc(7, 12), 1, "days") == utc(9, 17)
    assert latest_giving(Calendar(ZoneInfo("UTC"), frozenset({3}), closed={date(2026, 3, 4)}), utc(10), 1, "days") == (
        utc(25, month=2)
    )


def test_no_moment_is_told_beyond_the_days_that_are_counted() -> None:
    assert latest_giving(Calendar(ZoneInfo("UTC"), frozenset({1})), utc(6), 1000, "days") is None
    assert earliest_held(Calendar(ZoneInfo("UTC"), frozenset({1})), utc(6), 1000, "days") is None
