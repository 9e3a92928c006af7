"""Many points under one signature: all of them or none, each with its own evidence and decision."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.http import Http404
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Letter
from inspection.fieldwork.actions import record_climate
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.holdpoints import actions
from inspection.holdpoints.evidence import evidence_of, evidence_of_many
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.queries import to_decide
from inspection.projects.models import InspectionArea
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point
from tests.standing.scene import clock, fall, measure, verify


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def areas_measured(cast: Cast, many: int) -> list[HoldPoint]:
    """So many areas with a sound measurement after the primer, and a point on each."""
    site = cast.site
    verify(cast, "06:40")
    points = []
    for number in range(many):
        area = InspectionArea.objects.create(
            structure=site.structure, system=site.area.system, code=f"M{number:03}", name="Panel", area_m2=8
        )
        measure(cast, "08:00", "08:20", area=area)
        points.append(a_point(cast, area=area))
    verify(cast, "17:30")
    return points


def shown(points: list[HoldPoint]) -> dict[Any, str]:
    return {point.pk: evidence_of(point).digest for point in points}


def test_one_signature_releases_them_all_and_each_keeps_its_own_decision(cast: Cast) -> None:
    points = areas_measured(cast, 3)
    decisions = actions.decide_many(cast.clara, project=cast.site.project, shown=shown(points), password=PASSWORD)
    assert {each.point_id: each.evidence_digest for each in decisions} == shown(points)
    assert set(HoldPoint.objects.values_list("state", flat=True)) == {"released"}
    entries = JournalEntry.objects.filter(verb="holdpoint.released")
    assert entries.count() == 3
    (together,) = {(entry.after or {})["together"] for entry in entries}
    (letter,) = Letter.objects.filter(kind="decision")
    assert together in letter.body
    assert all(str(each.evidence_digest) in letter.body for each in decisions)


def test_where_one_has_changed_or_cannot_be_released_none_is(cast: Cast) -> None:
    points = areas_measured(cast, 3)
    told = shown(points)
    with pytest.raises(Conflict, match="evidence has changed"):
        actions.decide_many(
            cast.clara, project=cast.site.project, shown=told | {points[1].pk: "0" * 64}, password=PASSWORD
        )
    unmeasured = a_point(cast, coat=2)
    with pytest.raises(Refused, match="No thickness has been measured"):
        actions.decide_many(cast.clara, project=cast.site.project, shown=told | shown([unmeasured]), password=PASSWORD)
    fall(cast, "08:10")
    with pytest.raises(Conflict):
        actions.decide_many(cast.clara, project=cast.site.project, shown=told, password=PASSWORD)
    assert not Decision.objects.exists()


def test_failed_climate_is_accepted_by_itself_and_never_among_others(cast: Cast) -> None:
    points = areas_measured(cast, 2)
    record_climate(
        cast.ines, id=new_id(), project=cast.site.project, area=points[0].area, coat=cast.site.coats[0],
        taken_at=clock("08:00"), dry_bulb_c=Decimal(20), wet_bulb_c=Decimal("19.8"), surface_c=Decimal(19),
    )  # fmt: skip
    assert [row.point for row in to_decide(cast.clara, cast.site.project)] == [points[1]]
    with pytest.raises(Refused, match="decide it by itself"):
        actions.decide_many(cast.clara, project=cast.site.project, shown=shown(points), password=PASSWORD)


def test_only_those_whose_points_they_are_sign_and_a_wrong_password_decides_nothing(cast: Cast) -> None:
    points = areas_measured(cast, 2)
    for person in (cast.quinn, cast.ines, cast.audrey):
        with pytest.raises(NotAllowed):
            actions.decide_many(person, project=cast.site.project, shown=shown(points), password=PASSWORD)
    with pytest.raises(Http404):
        actions.decide_many(cast.carl, project=cast.site.project, shown=shown(points), password=PASSWORD)
    with pytest.raises(Refused):
        actions.decide_many(cast.clara, project=cast.site.project, shown=shown(points), password="wrong")
    with pytest.raises(Refused, match="1 to 200"):
        actions.decide_many(cast.clara, project=cast.site.project, shown={}, password=PASSWORD)
    assert not Decision.objects.exists()


def test_the_page_takes_as_many_queries_for_many_as_for_few(cast: Cast, client: Client) -> None:
    points = areas_measured(cast, 12)
    client.force_login(cast.clara)
    address = reverse("points_release", args=[cast.site.project.pk])

    def queries() -> int:
        client.get(address)
        with CaptureQueriesContext(connection) as caught:
            client.get(address)
        return len(caught)

    many = queries()
    assert list(evidence_of_many(points)) == [point.pk for point in points]
    for point in points[2:]:
        HoldPoint.objects.filter(pk=point.pk).update(state="closed")
    assert queries() == many


def test_from_the_board_to_the_signature_and_on_to_what_is_left(cast: Cast, client: Client) -> None:
    points = areas_measured(cast, 3)
    client.force_login(cast.clara)
    board = client.get(reverse("board"), {"project": str(cast.site.project.pk)}).content.decode()
    address = reverse("points_release", args=[cast.site.project.pk])
    assert address in board
    told = [f"{pk} {digest}" for pk, digest in shown(points).items()]
    assert all(each in client.get(address).content.decode() for each in told)
    nothing = client.post(address, {"shown": told, "password": PASSWORD})
    assert nothing.status_code == 422
    assert "Choose at least one point" in nothing.content.decode()
    # One that was not shown is no choice.
    assert client.post(address, {"shown": told[:1], "points": told[1:2], "password": PASSWORD}).status_code == 422
    assert client.post(address, {"shown": told, "points": told[:1], "password": PASSWORD})["Location"] == address
    for nonsense in ("", "a", "a b", f"{told[0]} c", "0" * 36 + " " + "0" * 64):
        sent = {"shown": [nonsense], "points": [nonsense], "every": "1", "password": PASSWORD}
        assert client.post(address, sent).status_code == 422, nonsense
    assert Decision.objects.count() == 1
    left = told[1:]
    every = client.post(address, {"shown": left, "every": "1", "password": PASSWORD})
    assert every["Location"] == reverse("board")
    assert Decision.objects.count() == 3
    assert "No point of" in client.get(address).content.decode()
