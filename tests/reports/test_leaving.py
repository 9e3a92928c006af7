"""Who leaves is asked about once, with what they still hold; what stays behind is on the page of decisions."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.models import Person, RoleGrant
from inspection.fieldwork.actions import open_sheet
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.instruments.models import Gauge, ReferenceStandard
from inspection.nonconformance.models import Nonconformance
from tests.cast import Cast


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def laden(in_date: Cast) -> Cast:
    """Ines with a gauge and a shim in hand, an open sheet and a nonconformance; a point that waits for Clara."""
    cast, site = in_date, in_date.site
    Gauge.objects.filter(pk=cast.gauge.pk).update(holder=cast.ines)
    ReferenceStandard.objects.filter(pk=cast.shims[125].pk).update(holder=cast.ines)
    place = {"area": site.area, "coat": site.coats[0]}
    open_sheet(cast.ines, id=new_id(), gauge=cast.gauge, profile_way="adjusted", **place)
    HoldPoint.objects.create(project=site.project, title="Primer accepted", **place)
    Nonconformance.objects.create(project=site.project, number=7, title="Runs", raised_by=cast.ines, **place)
    return cast


HELD = (
    "Coating thickness gauge G-01, in their hands",
    "Shim S-125, in their hands",
    "Open sheet of Ines Inspector: P-1",
    "Open nonconformance NC-007 Runs, P-1",
)


@pytest.mark.parametrize("deed", ["close", "roles/inspector/end"])
def test_it_is_asked_once_with_all_that_the_person_still_holds(laden: Cast, deed: str) -> None:
    path = f"/people/{laden.ines.pk}/{deed}/"
    asked = text_of(as_person(laden.admin).get(path))
    assert [words for words in HELD if words not in asked] == []
    assert Person.objects.get(pk=laden.ines.pk).has_role("inspector")
    assert as_person(laden.admin).post(path).status_code == 302
    assert not RoleGrant.objects.filter(person=laden.ines, ended_at=None).exists()


def test_a_client_is_asked_about_with_the_points_that_wait_for_them(laden: Cast) -> None:
    assert "1 point waits for them in P-1" in text_of(as_person(laden.admin).get(f"/people/{laden.clara.pk}/close/"))


def test_somebody_who_holds_nothing_is_asked_about_plainly(laden: Cast) -> None:
    asked = text_of(as_person(laden.admin).get(f"/people/{laden.igor.pk}/close/"))
    assert "still holds" not in asked
    assert "Close the access of Igor Inspector" in asked


def test_what_leaving_people_hold_is_on_the_page_of_decisions(laden: Cast) -> None:
    manager = as_person(laden.quinn)
    assert "Left behind" not in text_of(manager.get("/decisions/"))
    for someone in (laden.ines, laden.clara):
        as_person(laden.admin).post(f"/people/{someone.pk}/close/")
    shown = text_of(manager.get("/decisions/"))
    for words in (
        "held by Ines Inspector",
        "S-125",
        "Open sheet",
        "Points wait for Owner One, of which nobody takes part",
    ):
        assert words in shown
    # Handed over, it is settled.
    manager.post(f"/instruments/gauges/{laden.gauge.pk}/hand-over/", {"to": "", "place": "Store"})
    assert "G-01 </a>" not in text_of(manager.get("/decisions/")).split("Left behind by people")[-1]


def test_asking_and_the_page_cost_the_same_for_few_things_and_more(laden: Cast) -> None:
    def cost(client: Client, path: str) -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(path)
        return len(caught)

    pages = ((as_person(laden.admin), f"/people/{laden.ines.pk}/close/"), (as_person(laden.quinn), "/decisions/"))
    RoleGrant.objects.filter(person=laden.igor).delete()
    ReferenceStandard.objects.filter(pk=laden.shims[50].pk).update(holder=laden.igor)
    before = [cost(*each) for each in pages]
    for nominal, holder in ((250, laden.igor), (500, laden.ines)):
        ReferenceStandard.objects.filter(pk=laden.shims[nominal].pk).update(holder=holder)
    assert [cost(*each) for each in pages] == before
