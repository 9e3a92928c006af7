"""Two measurements of one area with the same first reading: every room takes the same one for the newest."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from uuid import UUID

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspection.fieldwork import todays_work
from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import HoldPoint
from inspection.recall.foreseen import points_on, touched_by
from inspection.trace.lateness import stake
from tests.cast import Cast
from tests.holdpoints.scene import a_point
from tests.standing.scene import measure, verify

LOW, HIGH = UUID(int=1 << 100), UUID(int=2 << 100)


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


@pytest.mark.parametrize("fails", [LOW, HIGH])
@pytest.mark.parametrize("first", [LOW, HIGH])
def test_every_room_takes_the_same_of_two_for_the_newest(cast: Cast, client: Client, fails: UUID, first: UUID) -> None:
    point = a_point(cast)
    verify(cast, "06:40")
    for pk in (first, LOW if first == HIGH else HIGH):
        measure(cast, "09:00", "09:40", pk=pk, verdict="fail" if pk == fails else "pass")
    verify(cast, "17:30")
    newest_fails = fails == HIGH
    client.force_login(cast.quinn)
    # The point by the API and the board's list of the API, the point's page, the board's page.
    shown = client.get(reverse("api_point", args=[point.pk])).json()
    assert (shown["record"], shown["evidence"]["verdict"]) == (str(HIGH), "fail" if newest_fails else "pass")
    (row,) = client.get(reverse("api_point_list")).json()["results"]
    assert row["record"] == str(HIGH)
    page = client.get(reverse("point", args=[point.pk])).content.decode()
    assert reverse("thickness", args=[HIGH]) in page
    assert reverse("thickness", args=[LOW]) not in page
    assert ("The thickness does not meet the rule." in page) is newest_fails
    # The page of decisions, the inspector's day, the measurement's own page, the list of measurements.
    decisions = client.get(reverse("decisions")).content.decode()
    # There the failing one's figures stand in the line of its nonconformance.
    assert ("Mean 100.0 µm." in decisions) is newest_fails
    assert f'href="{reverse("thickness", args=[LOW])}"' not in decisions
    (today,) = todays_work.today(cast.ines, timezone.now())
    (following,) = [found for found in (*today.next, *today.held) if found.area.code == "A1"]
    assert following.record == HIGH
    listed = client.get(reverse("thickness_list")).content.decode()
    assert listed.index(str(HIGH)) < listed.index(str(LOW))
    # A release stands on the same one for the cost of waiting, a recall, and what the recall's preview counts.
    HoldPoint.objects.update(state="released")
    for pk in (LOW, HIGH):
        released = int(pk == HIGH)
        assert stake("", ThicknessRecord.objects.filter(pk=pk)).points == released
        assert points_on([pk]).count() == released
    assert touched_by(cast.shim_certificate, cast.quinn).points == 1
    layer = next(
        layer for layer in touched_by(cast.shim_certificate, cast.quinn).layers if layer.kind.name == "thickness"
    )
    assert [node.pk for node in layer.nodes] == [HIGH, LOW]
