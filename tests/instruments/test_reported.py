"""A gauge that fell or reads erratically is shown so wherever it is seen or chosen, until a check passes after it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from time_machine import travel

from inspection.fieldwork.actions import open_sheet
from inspection.foundation.ids import new_id
from inspection.instruments import actions
from inspection.instruments.models import Gauge
from inspection.projects.models import Project
from tests.cast import MORNING, Cast
from tests.instruments.pages import as_person, begin, checked, text_of

FELL = "fell from the scaffold board"
AT = MORNING + timedelta(hours=2)
NOON = MORNING + timedelta(hours=5)


@pytest.fixture
def fallen(cast: Cast) -> Cast:
    """The gauge in the inspector's hands was checked at 07:00 UTC and fell at 09:00; clocks there show an hour more."""
    Project.objects.update(time_zone="Europe/Berlin")
    Gauge.objects.update(holder=cast.ines)
    with travel(NOON, tick=False):
        checked(cast)
        actions.report_incident(cast.ines, gauge=cast.gauge, at=AT, what=FELL)
    return cast


def places(cast: Cast) -> dict[str, str]:
    """Every page on which the gauge is seen or chosen, by what it is for."""
    gauge, project = [cast.gauge.pk], [cast.site.project.pk]
    sheet = open_sheet(
        cast.ines, id=new_id(), area=cast.site.area, coat=cast.site.coats[0], gauge=cast.gauge, profile_way="adjusted"
    )
    wizard = reverse("verification_new")
    return {
        "register": f"{reverse('equipment')}?show=gauges",
        "in hand": f"{reverse('equipment')}?show=hands",
        "its page": reverse("gauge", args=gauge),
        "custody": reverse("gauge_hand_over", args=gauge),
        "today": reverse("today"),
        "beginning": reverse("thickness_start", args=project),
        "upload": reverse("thickness_upload", args=project),
        "sheet": reverse("sheet", args=[sheet.pk]),
        "gauges to check": wizard,
        "purpose of a check": f"{wizard}?gauge={cast.gauge.pk}",
        "shims of a check": f"{wizard}?" + "&".join(f"{name}={value}" for name, value in begin(cast).items()),
    }


def test_it_is_told_everywhere_with_the_time_where_the_work_is_done(fallen: Cast) -> None:
    with travel(NOON, tick=False):
        client = as_person(fallen.ines)
        for place, address in places(fallen).items():
            words = text_of(client.get(address))
            assert FELL in words, place
            assert "check it first" in words.lower(), place
            assert "2026-03-04 10:00" in words, place
            assert "2026-03-04 09:00" not in words, place


def test_a_check_that_passes_after_it_settles_it_and_a_failed_or_an_earlier_one_does_not(fallen: Cast) -> None:
    def shown() -> set[str]:
        return {place for place, address in places(fallen).items() if "check it first" in text_of(client.get(address))}

    with travel(NOON + timedelta(hours=2), tick=False):
        client = as_person(fallen.ines)
        told = shown()
        checked(fallen, taken_at=AT - timedelta(minutes=1))
        checked(fallen, taken_at=AT + timedelta(minutes=1), offset_nm=20_000, adjustment="none", as_left=False)
        assert shown() == told
        checked(fallen, taken_at=AT + timedelta(hours=1), adjustment="none", as_left=False)
        assert shown() == set()
        assert FELL in text_of(client.get(reverse("gauge", args=[fallen.gauge.pk])))


def test_a_meter_that_no_shim_can_check_is_settled_by_a_newer_certificate(cast: Cast) -> None:
    meter = actions.register_gauge(cast.quinn, identity="CM-1", kind="climate")
    with travel(NOON, tick=False):
        actions.report_incident(cast.ines, gauge=meter, at=AT, what=FELL)
    climate = reverse("climate_new", args=[cast.site.project.pk])

    def told() -> bool:
        return f"{FELL}, 2026-03-04 09:00: check it first" in text_of(as_person(cast.ines).get(climate))

    with travel(NOON + timedelta(days=3), tick=False):
        paper: dict[str, Any] = {"laboratory": "L", "expires": MORNING.date() + timedelta(days=300)}
        for number, days, still in (("CC-1", -1, True), ("CC-2", 0, True), ("CC-3", 1, False)):
            issued = MORNING.date() + timedelta(days=days)
            actions.record_certificate(
                cast.quinn, number=number, issued=issued, traceable_to="N", gauges=[meter], **paper
            )
            assert told() is still


def test_the_api_tells_it_of_the_gauge(fallen: Cast) -> None:
    with travel(NOON, tick=False):
        client, address = as_person(fallen.ines), f"/api/gauges/{fallen.gauge.pk}/"
        assert client.get(address).json()["check_it_first"] == {"at": "2026-03-04T09:00:00Z", "what": FELL}
        checked(fallen, taken_at=AT + timedelta(hours=1))
        assert client.get(address).json()["check_it_first"] is None


def test_the_register_asks_the_database_no_more_for_many_fallen_gauges(fallen: Cast) -> None:
    client, address = as_person(fallen.quinn), f"{reverse('equipment')}?show=gauges"
    with travel(NOON, tick=False):
        with CaptureQueriesContext(connection) as few:
            client.get(address)
        for number in range(12):
            gauge = actions.register_gauge(
                fallen.quinn, identity=f"X-{number}", range_from_nm=0, range_to_nm=10**6, accuracy_pct=1, accuracy_nm=1
            )
            actions.report_incident(fallen.quinn, gauge=gauge, at=AT, what=FELL)
        with CaptureQueriesContext(connection) as many:
            assert text_of(client.get(address)).count(FELL) == 13
    assert len(many) == len(few)
