"""What waits for each person, in all projects, and is decided from there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import Letter, Person, Role
from inspection.holdpoints import actions
from inspection.holdpoints.awaited import awaited
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import InspectionArea, Membership
from tests.cast import PASSWORD, Cast
from tests.holdpoints.planned import a_line, an_owner, plan_of
from tests.holdpoints.scene import a_point, signed, sound_record

PAGE = "/waits-for-you/"


@pytest.fixture(autouse=True)
def _days_later() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 3, 9, 12, 0, tzinfo=UTC), tick=False):
        yield


def of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def titles(person: Person, **asked: Any) -> list[str]:
    answer = of(person).get(PAGE, asked)
    assert answer.status_code == 200
    return [f"{row.point.title} {row.point.area.code}" for row in answer.context["rows"]]


def applied(cast: Cast) -> None:
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area, cast.site.other_area])


def test_each_party_is_asked_for_its_own_letters_in_every_project(cast: Cast) -> None:
    olga = an_owner(cast)
    plan = plan_of(cast)
    a_line(plan, "1", letters={"client": "hold", "owner": "witness"})
    a_line(plan, "2", coat=2, letters={"owner": "hold", "inspection": "hold"})
    applied(cast)
    Membership.objects.create(
        project=cast.foreign.project, person=olga, organisation=olga.organisation, role=Role.CLIENT
    )
    cast.foreign.project.parties.create(organisation=olga.organisation, kind="owner")
    a_point(cast, site=cast.foreign, kind="hold")
    not_ready = {"state": "unready"}
    assert titles(cast.clara) == []
    assert titles(cast.clara, **not_ready) == ["Line 1 A1", "Line 1 A2"]
    assert titles(olga, **not_ready) == ["Line 2 A1", "Line 2 A2", "Primer accepted A1"]
    assert titles(olga, **not_ready, project=str(cast.foreign.project.pk)) == ["Primer accepted A1"]
    assert titles(olga, **not_ready, letter="witness") == ["Line 1 A1", "Line 1 A2"]
    assert titles(cast.ines, **not_ready) == ["Line 2 A1", "Line 2 A2"]
    assert titles(cast.audrey) == titles(cast.igor, **not_ready) == []
    sound_record(cast)
    assert titles(cast.clara) == ["Line 1 A1"]
    by_api = of(cast.clara).get(reverse("api_point_list"), {"awaits": "hold", "place": "ready"}).json()["results"]
    assert [row["title"] for row in by_api] == ["Line 1"]
    assert of(cast.clara).get(reverse("api_point_list"), {"awaits": "king"}).status_code == 422
    assert titles(cast.clara, activity="salts") == titles(cast.clara, state="doubt") == []


def test_in_doubt_comes_first_then_passed_over_then_ready(cast: Cast) -> None:
    plan = plan_of(cast)
    for number in ("1", "2", "3"):
        a_line(plan, number)
    applied(cast)
    sound_record(cast)
    first, second, third = HoldPoint.objects.filter(area=cast.site.area).order_by("title")
    HoldPoint.objects.filter(pk=second.pk).update(passed_over_at=timezone.now())
    actions.release(cast.clara, **signed(third))
    assert titles(cast.clara) == ["Line 2 A1", "Line 1 A1"]
    HoldPoint.objects.filter(pk=third.pk).update(lies=HoldPoint.Lies.DOUBT, doubted_at=timezone.now())
    assert titles(cast.clara) == ["Line 3 A1", "Line 2 A1", "Line 1 A1"]
    assert titles(cast.clara, state="passed_over") == ["Line 2 A1"]
    # Another party that did not release it is not asked about the doubt.
    assert set(awaited(an_owner(cast))) == set()
    assert first in awaited(cast.clara)
    # One that an inspection is called for has a tab of its own, and is counted among what wants somebody.
    HoldPoint.objects.filter(pk=first.pk).update(lies=HoldPoint.Lies.NOTIFIED)
    assert titles(cast.clara, state="notified") == ["Line 1 A1"]
    page = of(cast.clara).get(PAGE)
    assert (page.context["page"].paginator.count, page.context["rows"][2].point.get_lies_display()) == (3, "Notified")


def test_points_of_several_projects_are_decided_under_one_signature(cast: Cast) -> None:
    sound_record(cast)
    mine = a_point(cast)
    Membership.objects.create(
        project=cast.foreign.project, person=cast.clara, organisation=cast.owner, role=Role.CLIENT
    )
    cast.foreign.project.parties.create(organisation=cast.owner, kind="owner")
    other = a_point(cast, site=cast.foreign)
    client = of(cast.clara)
    page = client.get(PAGE, {"state": "unready"})
    shown = [f"{row.point.pk} {row.outline.digest}" for row in page.context["rows"]]
    page = client.get(PAGE)
    shown += [f"{row.point.pk} {row.outline.digest}" for row in page.context["rows"]]
    assert len(shown) == 2
    sent = {"shown": shown, "every": "1", "outcome": "waived", "password": PASSWORD, "reason": ""}
    assert "Say why; it is kept with each of them." in client.post(PAGE, sent).content.decode()
    # What was ticked stays so, for what is shown of it is the same; a signature over all is asked for again.
    ticked = client.post(PAGE, {**sent, "every": "", "points": shown[1:]}).content.decode()
    assert re.findall(r'value="([0-9a-f -]+)"\s+checked>', ticked) == shown[1:]
    refused = client.post(PAGE, {**sent, "outcome": "released"})
    assert refused.status_code == 422
    assert "No thickness has been measured" in refused.content.decode()
    assert set(HoldPoint.objects.values_list("state", flat=True)) == {"waiting"}
    assert client.post(PAGE, {**sent, "reason": "Too far"}).status_code == 302
    assert set(HoldPoint.objects.filter(pk__in=[mine.pk, other.pk]).values_list("state", flat=True)) == {"waived"}
    letter = Letter.objects.get(kind="decision", person=cast.clara)
    assert cast.site.project.code in letter.body
    assert cast.foreign.project.code in letter.body
    # A second time nothing of it waits, and the same again is told.
    assert titles(cast.clara, state="unready") == []
    assert client.post(PAGE, {**sent, "reason": "Too far"}).status_code == 422


def test_the_page_takes_as_many_queries_for_many_points_as_for_few(cast: Cast) -> None:
    plan = plan_of(cast)
    for number in range(1, 4):
        a_line(plan, str(number))
    sound_record(cast)
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area])
    client = of(cast.clara)

    def taken() -> int:
        client.get(PAGE)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(reverse("points_awaited"), {"many": "200"}).status_code == 200
        return len(asked)

    few = taken()
    site = cast.site
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"B{n}", name="Plate", area_m2=1)
        for n in range(60)
    )
    areas = list(InspectionArea.objects.filter(code__startswith="B"))
    actions.apply_plan(cast.quinn, project=site.project, areas=areas)
    HoldPoint.objects.filter(area__in=areas).update(lies=HoldPoint.Lies.READY)
    assert len(titles(cast.clara)) == 50
    assert len(titles(cast.clara, many="200")) == 183
    assert len(titles(cast.clara, page="2")) == 50
    assert taken() == few <= 40


def test_a_point_that_waits_for_another_party_says_so_to_who_has_released_it(cast: Cast) -> None:
    olga = an_owner(cast)
    a_line(plan_of(cast), letters={"client": "hold", "owner": "hold"})
    sound_record(cast)
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area])
    point = HoldPoint.objects.get()
    before = of(cast.clara).get(f"/hold-points/{point.pk}/").content.decode()
    assert "it already" not in before
    actions.release(cast.clara, **signed(point))
    assert titles(cast.clara) == []
    words = " ".join(of(cast.clara).get(f"/hold-points/{point.pk}/").content.decode().split())
    assert "(client) has released it already. It waits for Far Shipping (owner)." in words
    assert "it already" not in of(olga).get(f"/hold-points/{point.pk}/").content.decode()
    assert "yours or another party’s" in of(cast.clara).get("/hold-points/").content.decode()
