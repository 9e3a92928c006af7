"""Could we hand over today? Everything that is lacking, counted on top, with whose turn it is and since when."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inspection.diary.actions import write_entry
from inspection.diary.checks import EntrySent
from inspection.diary.queries import day_of
from inspection.diary.signing import sign_day, withdraw_signature
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.nonconformance.models import Nonconformance, ReworkItem
from inspection.projects.models import InspectionArea, Party, Section
from inspection.standing.models import Standing
from reports.daily.models import DailyReport
from tests.cast import DAY, MORNING, PASSWORD, Cast
from tests.fieldwork.test_sheet_pages import words
from tests.holdpoints.planned import a_line, an_owner, plan_of
from tests.past_triggers import rewrite
from tests.standing.scene import measure

Lies = HoldPoint.Lies


@pytest.fixture
def quinn(client: Client, cast: Cast) -> Client:
    client.force_login(cast.quinn)
    return client


def lacking(client: Client, cast: Cast, **asked: Any) -> Any:
    answer = client.get(reverse("api_handover", args=[cast.site.project.pk]), asked)
    assert answer.status_code == 200
    return answer.json()


def counts(client: Client, cast: Cast, **asked: Any) -> dict[str, int]:
    return {row["kind"]: row["count"] for row in lacking(client, cast, **asked)["counts"] if row["count"]}


def point(cast: Cast, lies: int, *, area: Any = None, days: int = 0, **more: Any) -> HoldPoint:
    return HoldPoint.objects.create(
        project=cast.site.project, area=area or cast.site.area, coat=cast.site.coats[0], title="Primer accepted",
        lies=lies, planned_at=timezone.now() - timedelta(days=days), **more,
    )  # fmt: skip


def test_a_project_without_anything_lacking_could_be_handed_over(quinn: Client, cast: Cast) -> None:
    point(cast, Lies.RELEASED, state="released")
    answer = lacking(quinn, cast)
    assert (answer["ready"], answer["lacking"], answer["items"]) == (True, 0, [])
    page = words(quinn.get(reverse("handover", args=[cast.site.project.pk])))
    assert "Nothing is lacking" in page


def test_each_cell_that_lacks_something_stands_with_its_owner_and_age(quinn: Client, cast: Cast) -> None:
    point(cast, Lies.READY, days=9)
    point(cast, Lies.UNREADY, area=cast.site.other_area, days=2)
    answer = lacking(quinn, cast, kind="not-released")
    assert (answer["ready"], answer["lacking"]) == (False, 2)
    (item,) = answer["items"]
    assert (item["what"], item["owner"], item["days"]) == ("Primer accepted", "Client", 9)
    assert item["place"] == "A1, after Primer"
    (waiting,) = lacking(quinn, cast, kind="evidence")["items"]
    assert (waiting["owner"], waiting["days"]) == ("Inspectors", 2)


def test_what_was_refused_is_lacking_since_then_and_not_since_it_was_planned(quinn: Client, cast: Cast) -> None:
    refused = point(cast, Lies.REFUSED, days=61, state="refused")
    Decision.objects.create(
        point=refused, number=1, outcome=Decision.Outcome.REFUSED, person=cast.clara, signed_as="Clara",
        reason="Overspray", at=timezone.now() - timedelta(days=7), evidence={},
    )  # fmt: skip
    (item,) = lacking(quinn, cast, kind="refused")["items"]
    assert (item["owner"], item["days"]) == ("Painting contractor", 7)


def test_a_witness_point_whose_evidence_is_there_is_not_lacking(quinn: Client, cast: Cast) -> None:
    point(cast, Lies.READY, kind="witness")
    assert lacking(quinn, cast)["ready"]


def test_every_home_is_asked(quinn: Client, cast: Cast) -> None:
    site = cast.site
    point(cast, Lies.DOUBT, state="released", doubted_at=timezone.now())
    measure(cast, "07:00", "08:00")
    Nonconformance.objects.create(project=site.project, number=1, area=site.area, coat=site.coats[0], title="Runs")
    ReworkItem.objects.create(project=site.project, area=site.area, what="Misses", place="web", opened_by=cast.ines)
    DailyReport.objects.create(project=site.project, day=DAY)
    found = counts(quinn, cast)
    wanted = {
        "in-doubt": 1,
        "in-question": 1,
        "nonconformances": 1,
        "rework": 1,
        "reports": 1,
        "instruments": 1,
        "days": 1,
    }
    assert found == wanted
    page = words(quinn.get(reverse("handover", args=[site.project.pk]), {"kind": "in-question"}))
    assert "7 things are lacking" in page
    assert "The gauge was not checked in this shift before the first reading." in page


def test_areas_on_which_the_plan_is_not_applied_are_lacking_its_lines(quinn: Client, cast: Cast) -> None:
    revision = plan_of(cast)
    first, second = a_line(revision, "1"), a_line(revision, "2")
    answer = lacking(quinn, cast, kind="not-planned")
    assert [item["what"] for item in answer["items"]] == ["2 of 2 lines of the plan are not applied"] * 2
    for line, area in ((first, cast.site.area), (first, cast.site.other_area), (second, cast.site.area)):
        point(cast, Lies.RELEASED, area=area, line=line, state="released")
    (left,) = lacking(quinn, cast, kind="not-planned")["items"]
    assert (left["what"], left["place"]) == ("1 of 2 lines of the plan are not applied", "A2")


def test_whose_turn_it_is_follows_the_letters_of_the_line(quinn: Client, cast: Cast) -> None:
    an_owner(cast)
    line = a_line(plan_of(cast), letters={"owner": "hold"})
    point(cast, Lies.READY, line=line)
    (item,) = lacking(quinn, cast, kind="not-released")["items"]
    assert item["owner"] == Party.Kind.OWNER.label


def test_a_section_counts_what_lies_in_it_and_another_projects_section_is_none(quinn: Client, cast: Cast) -> None:
    section = Section.objects.create(structure=cast.site.structure, name="Deck", path="Deck")
    rewrite(InspectionArea.objects.filter(pk=cast.site.area.pk), section=section)
    point(cast, Lies.READY)
    point(cast, Lies.READY, area=cast.site.other_area)
    assert counts(quinn, cast) == {"not-released": 2}
    assert counts(quinn, cast, section=str(section.pk)) == {"not-released": 1}
    foreign = Section.objects.create(structure=cast.foreign.structure, name="Deck", path="Deck")
    address = reverse("api_handover", args=[cast.site.project.pk])
    assert quinn.get(address, {"section": str(foreign.pk)}).status_code == 404
    assert quinn.get(address, {"kind": "everything"}).status_code == 422


def test_days_worked_stand_until_whoever_worked_has_signed_them(quinn: Client, cast: Cast) -> None:
    """A day runs from the first shift, so a reading of the early night belongs to the day before."""
    site, night = cast.site, MORNING - timedelta(hours=6)
    measure(cast, "", "", at=night)
    measure(cast, "07:00", "08:00")
    entry = {"kind": "narrative", "text": "Blasting went on"}
    write_entry(cast.quinn, id=new_id(), project=site.project, sent=EntrySent(day=DAY, **entry))
    items = lacking(quinn, cast, kind="days")["items"]
    before = f"{DAY - timedelta(days=1):%Y-%m-%d}"
    assert [(item["place"], item["owner"]) for item in items] == [
        (before, "Ines Inspector"), (f"{DAY}", "Ines Inspector"), (f"{DAY}", "Quinn Quality"),
    ]  # fmt: skip
    assert items[0]["days"] == items[1]["days"] + 1
    told = {"project": site.project, "day": DAY, "password": PASSWORD}
    digest = day_of(cast.quinn, site.project, DAY).mine.digest
    signature, _ = sign_day(cast.quinn, id=new_id(), digest=digest, **told)
    assert [item["owner"] for item in lacking(quinn, cast, kind="days")["items"]] == ["Ines Inspector"] * 2
    withdraw_signature(cast.quinn, signature=signature, reason="A lot was missing")
    assert counts(quinn, cast)["days"] == 3
    quinn.force_login(cast.clara)
    assert "days" not in counts(quinn, cast), "the diary is the company's own"


def test_a_retired_area_lacks_nothing(quinn: Client, cast: Cast) -> None:
    point(cast, Lies.READY)
    rewrite(InspectionArea.objects.filter(pk=cast.site.area.pk), retired_at=timezone.now(), retired_why="Cut out")
    assert lacking(quinn, cast)["ready"]


def test_drafts_of_reports_are_the_companys_own_and_a_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    DailyReport.objects.create(project=cast.site.project, day=DAY)
    client.force_login(cast.clara)
    assert lacking(client, cast)["ready"]
    client.force_login(cast.carl)
    assert client.get(reverse("handover", args=[cast.site.project.pk])).status_code == 404
    assert client.get(reverse("api_handover", args=[cast.site.project.pk])).status_code == 404


@pytest.mark.parametrize("kind", ["not-released", "nonconformances", "not-planned", "in-question"])
def test_thirty_areas_cost_as_many_queries_as_three(quinn: Client, cast: Cast, kind: str) -> None:
    line = a_line(plan_of(cast))
    counted = []
    for many in (3, 27):
        for number in range(many):
            area = InspectionArea.objects.create(
                structure=cast.site.structure, system=cast.site.system, code=f"B{many}-{number}", name="Web", area_m2=9
            )
            point(cast, Lies.READY, area=area, line=line)
            Nonconformance.objects.create(
                project=cast.site.project, number=many * 100 + number, area=area, coat=cast.site.coats[0], title="Runs"
            )
            if kind == "in-question":
                record = measure(cast, "07:00", "08:00", area=area, tell=False)
                told = {"state": "in_question", "reasons": ["Unchecked."], "due_at": MORNING, "computed_at": MORNING}
                Standing.objects.create(record=record, **told)
        address = reverse("handover", args=[cast.site.project.pk])
        quinn.get(address, {"kind": kind})
        with CaptureQueriesContext(connection) as asked:
            quinn.get(address, {"kind": kind})
        counted.append(len(asked))
    assert counted[0] == counted[1]
