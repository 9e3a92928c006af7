"""A hold point planned by mistake: renamed, removed while nobody decided, closed with its reason, opened again."""

from __future__ import annotations

import re
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.models import JournalEntry, Person
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import InspectionArea
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point


def as_person(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def refused(cast: Cast) -> HoldPoint:
    point = a_point(cast)
    sent = {"password": PASSWORD, "reason": "Dust", "evidence": evidence_of(point).digest}
    assert as_person(cast.clara).post(f"/hold-points/{point.pk}/refuse/", sent).status_code == 302
    return point


def test_a_point_gets_another_title_and_the_journal_keeps_the_former(cast: Cast) -> None:
    point = a_point(cast)
    former = point.title
    as_person(cast.quinn).post(f"/hold-points/{point.pk}/rename/", {"title": "Blast accepted"})
    assert "Blast accepted" in text_of(as_person(cast.clara).get(f"/hold-points/{point.pk}/"))
    entry = JournalEntry.objects.get(verb="holdpoint.renamed")
    assert (entry.before, entry.after) == ({"title": former}, {"title": "Blast accepted"})


def test_a_point_nobody_decided_on_is_removed_and_can_be_planned_again(cast: Cast) -> None:
    point, client = a_point(cast), as_person(cast.quinn)
    assert client.post(f"/hold-points/{point.pk}/remove/", {"reason": ""}).status_code == 422
    assert client.post(f"/hold-points/{point.pk}/remove/", {"reason": "Wrong coat"}).status_code == 302
    assert client.get(f"/hold-points/{point.pk}/").status_code == 404
    entry = JournalEntry.objects.get(verb="holdpoint.removed")
    assert (entry.reason, (entry.before or {})["title"]) == ("Wrong coat", point.title)
    again = {"title": point.title, "kind": point.kind, "coat": point.coat_id, "areas": [point.area_id]}
    assert client.post(f"/projects/{point.project_id}/hold-points/plan/", again).status_code == 302


def test_a_point_with_a_decision_stays_and_is_closed_with_its_reason(cast: Cast) -> None:
    point, client = refused(cast), as_person(cast.quinn)
    assert "not applicable instead" in text_of(
        client.post(f"/hold-points/{point.pk}/remove/", {"reason": "Not needed"})
    )
    assert client.post(f"/hold-points/{point.pk}/close/", {"reason": "Taken out of the plan"}).status_code == 302
    shown = text_of(as_person(cast.clara).get(f"/hold-points/{point.pk}/"))
    assert "Taken out of the plan" in shown
    assert "Sign and release" not in shown
    assert "Not applicable (1)" in text_of(client.get("/hold-points/"))
    assert point.title not in text_of(client.get("/decisions/"))
    # The API says the same, and takes no decision.
    told = as_person(cast.clara).get(f"/api/hold-points/{point.pk}/").json()
    assert (told["state"], told["place"]) == ("closed", "closed")
    sent = {"password": PASSWORD, "evidence_digest": told["evidence"]["digest"], "reason": "Late"}
    path = f"/api/hold-points/{point.pk}/refuse/"
    assert as_person(cast.clara).post(path, sent, "application/json").status_code == 409


def test_a_closed_point_is_opened_again_and_waits(cast: Cast) -> None:
    point, client = refused(cast), as_person(cast.quinn)
    client.post(f"/hold-points/{point.pk}/close/", {"reason": "By mistake"})
    client.post(f"/hold-points/{point.pk}/reopen/", {"reason": "It is asked for after all"})
    assert HoldPoint.objects.get(pk=point.pk).state == "waiting"
    assert "It is asked for after all" in text_of(client.get(f"/hold-points/{point.pk}/"))


def test_only_a_quality_manager_changes_the_plan(cast: Cast) -> None:
    point = a_point(cast)
    for person in (cast.ines, cast.clara, cast.audrey):
        for deed in ("rename", "remove", "close", "reopen"):
            sent = {"title": "Other", "reason": "Because"}
            assert as_person(person).post(f"/hold-points/{point.pk}/{deed}/", sent).status_code == 403
    assert as_person(cast.igor).post(f"/hold-points/{point.pk}/remove/", {"reason": "No"}).status_code == 404
    assert HoldPoint.objects.filter(pk=point.pk, title=point.title).exists()


def test_areas_are_planned_by_whole_groups_of_a_structure_and_a_system(cast: Cast) -> None:
    site, client = cast.site, as_person(cast.quinn)
    address = f"/projects/{site.project.pk}/hold-points/plan/"
    more = [
        InspectionArea(structure=site.structure, system=site.system, code=f"B{at}", name="Bay", area_m2=9)
        for at in range(3)
    ]
    InspectionArea.objects.bulk_create(more)
    page = client.get(address)
    (key,) = re.findall(r'name="groups" value="([^"]+)"', page.content.decode())
    assert f"All of {site.structure}, {site.system}" in text_of(page)
    sent = {"title": "Primer accepted", "kind": "hold", "coat": site.coats[0].pk}
    assert client.post(address, {**sent, "areas": [more[0].pk]}).status_code == 302
    # The group leaves out what has this point already.
    assert client.post(address, {**sent, "groups": [key]}).status_code == 302
    wanted = InspectionArea.objects.filter(structure=site.structure).count()
    assert HoldPoint.objects.filter(coat=site.coats[0], kind="hold").count() == wanted > 3
    again = client.post(address, {**sent, "groups": [key]})
    assert (again.status_code, "Choose at least one area" in text_of(again)) == (422, True)
    assert client.post(address, {**sent, "groups": ["made up"]}).status_code == 422


def test_planning_costs_the_same_for_few_areas_and_many(cast: Cast) -> None:
    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            page = client.get(f"/projects/{cast.site.project.pk}/hold-points/plan/")
        assert page.content.decode().count('name="areas"') == cast.site.structure.areas.count()
        return len(caught)

    client = as_person(cast.quinn)
    few = cost()
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=cast.site.structure, system=cast.site.system, code=f"B{at}", name="Bay", area_m2=9)
        for at in range(40)
    )
    assert cost() == few
