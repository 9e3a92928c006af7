"""A coat that is measured for control only: its failing result stands, raises nothing, and no release hangs on it.

IMO MSC.215(82): the film is measured after each coat for control, and the total after the last decides (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.ground import lies_otherwise, wrongly_marked
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Coat
from reports.attention.needs import decisions
from tests.cast import Cast
from tests.holdpoints.scene import a_point, signed
from tests.standing.scene import measure, verify

NOW = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def controlled(cast: Cast) -> Cast:
    """The first coat is for control only; the gauge was checked before and after the day's work."""
    Coat.objects.filter(pk=cast.site.coats[0].pk).update(decides=False)
    cast.site.coats[0].refresh_from_db()
    verify(cast, "06:40")
    verify(cast, "17:30")
    return cast


def failed(cast: Cast) -> ThicknessRecord:
    return measure(cast, "09:00", "09:40", verdict="fail")


def page(cast: Cast, address: str) -> str:
    client = Client()
    client.force_login(cast.ines)
    return " ".join(client.get(address).content.decode().split())


def test_a_failing_result_of_a_control_coat_is_shown_as_failing_and_raises_nothing(controlled: Cast) -> None:
    record = failed(controlled)
    assert ThicknessRecord.objects.get(pk=record.pk).verdict == "fail"
    assert not Nonconformance.objects.exists()
    assert "measured for control only" in page(controlled, reverse("thickness", args=[record.pk]))
    needed = {section.key: section.total for section in decisions(controlled.quinn, NOW)}
    assert needed["failing"] == 0


def test_the_same_result_of_a_coat_that_decides_raises_one(cast: Cast) -> None:
    verify(cast, "06:40")
    verify(cast, "17:30")
    failed(cast)
    assert Nonconformance.objects.count() == 1


def test_a_point_after_a_control_coat_needs_that_it_was_measured_and_not_what_was_found(controlled: Cast) -> None:
    point = a_point(controlled)
    assert evidence_of(point).why_not == ["No thickness has been measured on this area after this coat."]
    assert HoldPoint.objects.get().lies == HoldPoint.Lies.UNREADY
    failed(controlled)
    assert evidence_of(point).why_not == []
    assert HoldPoint.objects.get().lies == HoldPoint.Lies.READY
    assert "for control only" in page(controlled, reverse("point", args=[point.pk]))
    holdpoints.release(controlled.clara, **signed(point))
    assert HoldPoint.objects.get().lies == HoldPoint.Lies.RELEASED


def test_a_release_after_a_control_coat_does_not_fall_with_its_gauge_or_a_later_failure(controlled: Cast) -> None:
    measure(controlled, "09:00", "09:40")
    point = a_point(controlled)
    holdpoints.release(controlled.clara, **signed(point))
    measure(controlled, "10:00", "10:40", verdict="fail")
    verify(controlled, "11:00", off_by_nm=20_000)
    point = HoldPoint.objects.get()
    assert (point.lies, point.doubted_at) == (HoldPoint.Lies.RELEASED, None)
    assert not evidence_of(point).in_doubt
    assert not lies_otherwise(HoldPoint.objects.all()).exists()
    assert not wrongly_marked().exists()


def test_what_is_next_after_a_failing_control_coat_is_the_next_coat(controlled: Cast) -> None:
    failed(controlled)
    words = page(controlled, reverse("today"))
    assert "Primer failed, measured for control only" in words
    assert "repair and measure again" not in words
