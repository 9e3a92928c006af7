"""A reminder before a check after work, or a climate reading, falls due: by letter and in the calendar, once."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

from icalendar import Calendar
from time_machine import travel

from accounts import tidings
from accounts.models import Letter
from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.climate.stations import declare_station, record_at_station
from inspection.foundation.ids import new_id
from inspection.projects.models import Membership
from reports import tasks
from reports.attention import calendar
from tests.cast import MORNING, Cast
from tests.fieldwork.build import sent
from tests.fieldwork.test_today import check_gauge

HOUR = timedelta(hours=1)
# The shift of the project's clock is from 06:00 to 18:00.
HALF_PAST_FIVE = MORNING.replace(hour=17, minute=30)


def subjects() -> list[str]:
    return list(Letter.objects.filter(kind="due-soon").order_by("pk").values_list("subject", flat=True))


def measured(cast: Cast) -> None:
    check_gauge(cast, MORNING)
    with travel(MORNING + HOUR, tick=False):
        record_thickness(cast.ines, **sent(cast, last_reading_at=MORNING))


def read(cast: Cast) -> None:
    """A station whose reading counts for two hours, read at 08:00."""
    with travel(MORNING + HOUR, tick=False):
        station, _ = declare_station(
            cast.ines, project=cast.site.project, areas=[cast.site.area], since=MORNING, code="CS-1", name="Quay",
            where="outdoors", holds_h=2,
        )  # fmt: skip
        record_at_station(
            cast.ines, id=new_id(), station=station, coats=cast.site.coats[:2], taken_at=MORNING + HOUR,
            dry_bulb_c=Decimal(20), wet_bulb_c=Decimal(15), surface_c=Decimal(18),
        )  # fmt: skip


def test_whoever_measured_is_told_half_an_hour_before_the_closing_check_falls_due(cast: Cast) -> None:
    measured(cast)
    with travel(HALF_PAST_FIVE - timedelta(minutes=1), tick=False):
        tasks.sweep()
        assert subjects() == []
    for late in (0, 1):
        with travel(HALF_PAST_FIVE + late * timedelta(minutes=5), tick=False):
            tasks.sweep()
    assert subjects() == ["P-1: Check G-01 after work by 18:00"]
    letter = Letter.objects.get(kind="due-soon")
    assert letter.person == cast.ines
    assert f"gauge={cast.gauge.pk}" in letter.body
    # As much as the column holds, which SQLite does not count.
    assert len(letter.about) <= (Letter._meta.get_field("about").max_length or 0)


def test_nobody_is_reminded_of_a_project_left_or_against_their_choice(cast: Cast) -> None:
    measured(cast)
    Membership.objects.filter(person=cast.ines).update(ended_at=MORNING)
    with travel(HALF_PAST_FIVE, tick=False):
        tasks.sweep()
        assert Calendar.from_ical(calendar.feed(cast.ines)).walk("VEVENT") == []
    Membership.objects.filter(person=cast.ines).update(ended_at=None)
    tidings.choose(cast.ines, ways={"due-soon": "page"})
    with travel(HALF_PAST_FIVE, tick=False):
        tasks.sweep()
    assert subjects() == []


def test_a_station_is_to_be_read_again_while_the_shift_goes_on(cast: Cast) -> None:
    read(cast)
    with travel(MORNING + HOUR + timedelta(minutes=95), tick=False):
        tasks.sweep()
        tasks.sweep()
    assert subjects() == ["P-1: Read CS-1 again by 10:00"]


def test_the_calendar_has_what_falls_due_today_with_an_alarm_before(cast: Cast) -> None:
    measured(cast)
    read(cast)
    with travel(MORNING + 2 * HOUR, tick=False):
        found = Calendar.from_ical(calendar.feed(cast.ines)).walk("VEVENT")
        assert Calendar.from_ical(calendar.feed(cast.igor)).walk("VEVENT") == []
    told: dict[str, Any] = {str(event["summary"]): event for event in found}
    check, reading = told["Check G-01 after work, P-1"], told["Read CS-1 again, P-1"]
    assert check["dtstart"].dt == MORNING.replace(hour=18)
    assert reading["dtstart"].dt == MORNING + 3 * HOUR
    assert check.walk("VALARM")[0]["trigger"].dt == timedelta(minutes=-30)
