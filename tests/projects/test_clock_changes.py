"""Nights in which the clocks change. Dates of the change: European Union, Directive 2000/84/EC, articles 2 and 3 (last
Sundays of March and October, 01:00 UTC); zone data: IANA, by way of zoneinfo."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django import forms

from inspection.foundation.form_fields import LocalMoment
from inspection.projects.models import Project

BERLIN = ZoneInfo("Europe/Berlin")


class Asked(forms.Form):
    at = LocalMoment(label="When", zone=BERLIN)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)


def project(shift_starts: str) -> Project:
    return Project(time_zone="Europe/Berlin", shift_starts=shift_starts)


def test_an_hour_that_comes_twice_is_asked_about_and_can_be_told_apart() -> None:
    form = Asked({"at": "2026-10-25T02:30"})
    assert form.errors["at"] == [
        (
            "02:30 came twice that night, since the clocks were put back. "
            "Write 2026-10-25 02:30+02:00 for the first time or 2026-10-25 02:30+01:00 for the second."
        )
    ]
    assert 'type="text"' in str(form["at"]), "a box for local times takes no offset"
    for typed, meant in (("+02:00", utc(2026, 10, 25, 0, 30)), ("+01:00", utc(2026, 10, 25, 1, 30))):
        form = Asked({"at": f"2026-10-25 02:30{typed}"})
        assert form.is_valid()
        assert form.cleaned_data["at"] == meant


def test_an_hour_that_was_left_out_is_asked_about() -> None:
    form = Asked({"at": "2026-03-29T02:30"})
    assert form.errors["at"] == [
        (
            "There was no 02:30 that night, since the clocks were put forward. "
            "Look at the clock that was used: one that had not been put forward meant 2026-03-29 03:30+02:00."
        )
    ]


@pytest.mark.parametrize("typed", ["2026-10-25T01:59", "2026-10-25T03:00", "2026-03-29T01:59", "2026-03-29T03:00"])
def test_hours_beside_the_change_are_taken_as_they_are(typed: str) -> None:
    form = Asked({"at": typed})
    assert form.is_valid(), form.errors
    assert 'type="datetime-local"' in str(form["at"])


def test_a_moment_within_the_doubled_hour_is_shown_so_that_it_can_be_sent_back() -> None:
    moment = utc(2026, 10, 25, 1, 30)
    shown = Asked(initial={"at": moment})["at"]
    assert 'value="2026-10-25 02:30+01:00"' in str(shown)


@pytest.mark.parametrize(
    ("at", "shift"),
    [
        # Two shifts, one of which begins at 02:30: first at 00:30 UTC, and again on the clock at 01:30 UTC.
        (utc(2026, 10, 25, 0, 29), (utc(2026, 10, 24, 12, 30), utc(2026, 10, 25, 0, 30))),
        (utc(2026, 10, 25, 0, 30), (utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 13, 30))),
        (utc(2026, 10, 25, 1, 10), (utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 13, 30))),
        # In March there is no 02:30: the shift begins an hour after 01:30, when the clock shows 03:30.
        (utc(2026, 3, 29, 1, 29), (utc(2026, 3, 28, 13, 30), utc(2026, 3, 29, 1, 30))),
        (utc(2026, 3, 29, 1, 30), (utc(2026, 3, 29, 1, 30), utc(2026, 3, 29, 12, 30))),
    ],
)
def test_a_shift_that_begins_within_the_change_holds_each_moment_once(
    at: datetime, shift: tuple[datetime, datetime]
) -> None:
    assert project("02:30, 14:30").shift_of(at) == shift


def test_each_moment_of_a_year_lies_within_its_shift_and_its_day() -> None:
    for starts in ("02:30, 14:30", "06:00, 18:00", "02:00", "03:00, 11:00, 19:00"):
        site = project(starts)
        for month, day in ((3, 28), (3, 29), (10, 24), (10, 25)):
            for minutes in range(0, 36 * 60, 10):
                at = datetime.fromtimestamp(utc(2026, month, day).timestamp() + minutes * 60, UTC)
                begin, end = site.shift_of(at)
                assert begin <= at < end
                first, last = site.day_bounds(site.day_of(at))
                assert first <= at < last
                assert first <= begin < end <= last


def test_the_day_on_which_clocks_are_put_back_has_twenty_five_hours() -> None:
    begin, end = project("00:00").day_bounds(date(2026, 10, 25))
    assert (end - begin).total_seconds() == 25 * 3600
