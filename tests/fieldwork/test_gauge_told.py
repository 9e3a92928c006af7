"""What a page says of the gauge before and while one measures with it: no check yet, readings beyond what was checked.

SSPC-PA 2 wants accuracy verified at the beginning and the end of each work shift (from memory).
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from time_machine import travel

from inspection.fieldwork import actions
from inspection.instruments.actions import register_gauge
from inspection.instruments.models import Gauge
from inspection.standing.actions import sweep_due
from inspection.standing.models import Standing
from tests.cast import Cast
from tests.fieldwork.test_sheet_pages import begun, ines, words
from tests.standing.scene import clock, measure, verify

__all__ = ["ines"]
UNCHECKED = "not checked in the shift that began at 06:00"


@pytest.fixture
def two_gauges(cast: Cast) -> Gauge:
    """A second gauge in the same hands; the first one is checked at 06:40."""
    second = register_gauge(
        cast.quinn, identity="G-02", range_from_nm=0, range_to_nm=1_500_000, accuracy_pct=1, accuracy_nm=1_000
    )
    Gauge.objects.update(holder=cast.ines)
    verify(cast, "06:40")
    return second


def test_beginning_warns_of_the_gauge_nobody_checked_whatever_else_one_holds(
    ines: Client, cast: Cast, two_gauges: Gauge
) -> None:
    address = reverse("thickness_start", args=[cast.site.project.pk])
    with travel(clock("09:00"), tick=False):
        shown = words(ines.get(address))
        assert f"G-02: {UNCHECKED}" in shown
        assert f"G-02 ({UNCHECKED})" in shown
        assert f"G-01: {UNCHECKED}" not in shown
        verify(cast, "08:50", gauge=two_gauges)
        assert UNCHECKED not in words(ines.get(address))
    with travel(clock("18:30"), tick=False):
        assert words(ines.get(address)).count("not checked in the shift that began at 18:00") == 4


def test_an_open_sheet_says_that_its_gauge_was_not_checked_before_the_first_reading(ines: Client, cast: Cast) -> None:
    verify(cast, "05:30")  # of the shift before
    with travel(clock("09:00"), tick=False):
        sheet = begun(cast)
        address = reverse("sheet", args=[sheet.pk])
        assert "G-01 has not been checked in the shift that began at 06:00. Check it first" in words(ines.get(address))
        actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
        told = "G-01 was not checked in this shift before the first reading, at 09:00: these readings are in question."
        assert told in words(ines.get(address))
    with travel(clock("09:30"), tick=False):
        verify(cast, "09:20")
        assert told in words(ines.get(address))


def test_a_reading_outside_the_verified_range_is_told_while_measuring(ines: Client, cast: Cast) -> None:
    """The check covers 50.2 to 249.8 µm, readings to 10 % outside are let pass (our declared allowance)."""
    verify(cast, "06:40")
    with travel(clock("09:00"), tick=False):
        sheet = begun(cast)
        address = reverse("sheet", args=[sheet.pk])

        def note(*values: float) -> str:
            for value in values:
                ines.post(address, {"spot": 1, "order": sheet.readings.count() + 1, "value": str(value)})
            return words(ines.get(address))

        assert "outside the" not in note(45.2, 274.7)
        told = note(274.8)
        assert (
            "1 of 3 readings, such as 274.8 µm in spot 1, lies more than 10 % outside the 50.2 to 249.8 µm that the "
            "check at 06:40 covered: the record will be in question." in told
        )
        assert "2 of 4 readings, such as 45.1 µm in spot 1, lie more than" in note(45.1)
        for reading in sheet.readings.filter(value_nm__in=(274_800, 45_100)):
            actions.void_sheet_reading(cast.ines, reading=reading, reason="slip")
        assert "outside the" not in words(ines.get(address))


def test_a_record_in_question_is_not_said_to_lack_a_check_after_work_while_the_shift_runs(
    ines: Client, cast: Cast
) -> None:
    with travel(clock("09:00"), tick=False):
        sheet = begun(cast)
        actions.note_reading(cast.ines, sheet=sheet, spot=1, value_nm=80_000)
        actions.finish_sheet(cast.ines, sheet=sheet)
    page = reverse("thickness", args=[sheet.pk])
    awaited, missing = "The check after work is still awaited; it is due by 18:00.", "There is no check after work"
    with travel(clock("17:59"), tick=False):
        assert sweep_due() == []
        shown = words(ines.get(page))
        assert (awaited in shown, missing in shown) == (True, False)
        assert "The gauge was not checked in this shift before the first reading." in shown
    with travel(clock("18:00"), tick=False):
        assert sweep_due() == [sheet.pk]
        shown = words(ines.get(page))
        assert (awaited in shown, missing in shown) == (False, True)
        assert sweep_due() == []
    assert Standing.objects.get(record=sheet.pk).state == "in_question"


def test_the_sweep_leaves_alone_what_it_looked_at_and_found_unchanged(cast: Cast) -> None:
    with travel(clock("12:00"), tick=False):
        record = measure(cast, "09:00", "18:30")
    before = Standing.objects.get(record=record)
    assert before.computed_at < before.due_at
    with travel(clock("18:31"), tick=False):
        assert sweep_due() == []
    after = Standing.objects.get(record=record)
    assert (after.reasons, after.computed_at) == (before.reasons, clock("18:31"))
    assert after.computed_at - before.computed_at > timedelta(hours=6)
