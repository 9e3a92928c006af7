"""Progress and mass balance by page and API: from lots, measurements and points alone; questions, never verdicts."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree as ET

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.models import Party
from inspection.works.models import Crew, Lot, LotPlace
from tests.cast import DAY, MORNING, Cast
from tests.standing.scene import measure
from tests.works.test_lots import as_person, many_lots, words

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def crew(cast: Cast) -> Crew:
    party = Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    return Crew.objects.create(project=cast.site.project, party=party, name="Days")


def lot(
    cast: Cast, crew: Crew, number: int, places: dict[Any, int], *, activity: str = "coat", coat: int | None = 0,
    days_ago: int = 0, **more: Any,
) -> Lot:  # fmt: skip
    ended = MORNING - timedelta(days=days_ago)
    made = Lot.objects.create(
        project=cast.site.project, number=number, activity=activity, method="airless", crew=crew,
        coat=None if coat is None else cast.site.coats[coat], begun_at=ended - HOUR, ended_at=ended,
        entered_by=cast.ines, digest="0" * 64, **more,
    )  # fmt: skip
    for area, m2 in places.items():
        LotPlace.objects.create(lot=made, area=area, m2=m2)
    return made


def told(client: Client, cast: Cast, **query: str) -> Any:
    answer = client.get(f"/api/projects/{cast.site.project.pk}/progress/", query)
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_progress_is_the_sum_of_lots_measurements_and_points(cast: Cast, crew: Crew) -> None:
    site, quinn = cast.site, as_person(cast.quinn)
    lot(cast, crew, 1, {site.area: 8, site.other_area: 30}, activity="blast", coat=None, days_ago=3)
    # Two lots of ten and nine on an area of eight: no more than the whole is claimed.
    lot(cast, crew, 2, {site.area: 8, site.other_area: 20}, days_ago=2)
    lot(cast, crew, 3, {site.area: 8}, days_ago=1)
    lot(cast, crew, 4, {site.area: 8}, activity="stripe", coat=1)
    withdrawn = lot(cast, crew, 5, {site.area: 8}, coat=2)
    Lot.objects.filter(pk=withdrawn.pk).update(withdrawn_at=MORNING)
    measure(cast, "08:00", "08:20")
    point = HoldPoint.objects.create(
        project=site.project, area=site.area, coat=site.coats[0], title="Primer", state="released",
    )  # fmt: skip
    Decision.objects.create(
        point=point, number=1, outcome="released", person=cast.clara, signed_as="Client", evidence={},
        evidence_digest="0" * 64, at=MORNING + 2 * HOUR,
    )  # fmt: skip
    found = told(quinn, cast)
    lines = {line["step"]: line for line in found["lines"]}
    assert (lines["Prepared steel"]["of_m2"], lines["Prepared steel"]["claimed_m2"]) == (68, 38)
    primer = lines["Primer"]
    assert (primer["claimed_m2"], primer["inspected_m2"], primer["released_m2"]) == (28, 8, 8)
    assert lines["Intermediate"]["claimed_m2"] == lines["Finish"]["claimed_m2"] == 0
    assert (found["total_m2"], found["claimed_m2"], found["inspected_m2"]) == (204, 28, 8)
    page = words(quinn.get(f"/projects/{site.project.pk}/progress/"))
    assert "28 of 204 m²" in page
    chart = quinn.get(f"/projects/{site.project.pk}/progress/chart.svg")
    assert "claimed by lots" in "".join(ET.fromstring(chart.content).itertext())
    assert as_person(cast.igor).get(f"/projects/{site.project.pk}/progress/").status_code == 404
    HoldPoint.objects.filter(pk=point.pk).update(state="refused")
    assert {line["step"]: line for line in told(quinn, cast)["lines"]}["Primer"]["released_m2"] == 0


def test_the_forecast_is_the_mean_of_the_last_fourteen_days(cast: Cast, crew: Crew) -> None:
    lot(cast, crew, 1, {cast.site.other_area: 28}, days_ago=2)
    with time_machine.travel(MORNING + HOUR, tick=False):
        found = told(as_person(cast.quinn), cast)
    # 28 m² in 14 days are 2 a day; 176 of 204 m² are left.
    assert (found["a_day_m2"], found["would_end"]) == (2, str(DAY + timedelta(days=88)))
    with time_machine.travel(MORNING + timedelta(days=40), tick=False):
        assert told(as_person(cast.quinn), cast)["would_end"] is None


def test_litres_and_film_that_do_not_agree_are_asked_about(cast: Cast, crew: Crew) -> None:
    quinn, area = as_person(cast.quinn), cast.site.area
    # 60 % of 2 l on 8 m² are 150 µm; of 100 µm measured a third was lost.
    made = lot(cast, crew, 1, {area: 8}, drawn_l=Decimal("2.5"), returned_l=Decimal("0.5"))
    measure(cast, "08:00", "08:20")
    [balance] = told(quinn, cast, loss="30")["balances"]
    assert (balance["litres"], balance["greatest_um"], balance["mean_um"]) == (2, 150, 100)
    assert balance["loss_pct"] == pytest.approx(100 / 3)
    assert balance["question"] == ""
    assert "33 % were lost" in told(quinn, cast, loss="10")["balances"][0]["question"]
    Lot.objects.filter(pk=made.pk).update(drawn_l=1)
    page = words(quinn.get(f"/projects/{cast.site.project.pk}/progress/"))
    assert "100 µm were measured, and the paint used holds at most 37 µm" in page.replace("38 µm", "37 µm")
    wrong = quinn.get(f"/projects/{cast.site.project.pk}/progress/?loss=100")
    assert (wrong.status_code, "from 0 to below 100 %" in words(wrong)) == (422, True)
    # The second coat is what its readings add to the first's.
    lot(cast, crew, 2, {area: 8}, coat=1, drawn_l=4)
    measure(cast, "09:00", "09:20", coat=1, values_um=(220, 220, 220))
    assert told(quinn, cast)["balances"][1]["mean_um"] == 120


def test_progress_asks_no_more_for_more_rows(cast: Cast, crew: Crew) -> None:
    quinn, counts = as_person(cast.quinn), []
    for numbers in (range(1, 4), range(4, 31)):
        many_lots(cast, crew, numbers)
        with CaptureQueriesContext(connection) as asked:
            assert quinn.get(f"/projects/{cast.site.project.pk}/progress/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
