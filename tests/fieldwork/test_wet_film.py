"""Wet film by comb: page, API and core; the film to aim at, low readings by name, the lot they lie in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.wetfilm.models import WetFilmRecord
from inspection.foundation.ids import new_id
from inspection.nonconformance.models import Nonconformance
from inspection.projects.models import Party
from inspection.works.models import Crew, Lot, LotPlace
from tests.cast import MORNING, Cast
from tests.fieldwork.after_paint import post, sent, typed
from tests.fieldwork.test_sheet_pages import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.ines)
    return client


def lot_of(cast: Cast, *, coat: int = 0) -> Lot:
    party = Party.objects.get(project=cast.site.project, kind=Party.Kind.INSPECTION)
    crew, _ = Crew.objects.get_or_create(project=cast.site.project, party=party, name="Days")
    lot = Lot.objects.create(
        project=cast.site.project, number=coat + 1, activity="coat", method="airless", coat=cast.site.coats[coat],
        crew=crew, begun_at=MORNING - timedelta(hours=1), entered_by=cast.ines, digest="0" * 64,
    )  # fmt: skip
    LotPlace.objects.create(lot=lot, area=cast.site.area, m2=8)
    return lot


def test_low_readings_are_named_beside_the_film_to_aim_at(cast: Cast, ines: Client) -> None:
    # Primer of 75 µm at 60 % by volume: 125 µm wet, with 10 % thinner 137.5 µm.
    body = typed(cast, lot=str(lot_of(cast).pk), thinner_pct="10", readings="frame 12: 150\nframe 13: 125\n140 µm")
    page = ines.post(reverse("wetfilm_new", args=[cast.site.project.pk]), body, follow=True)
    assert page.status_code == 200, words(page)
    record = WetFilmRecord.objects.get()
    assert (record.aim_um, record.low_count, record.lowest_um, record.verdict) == (137.5, 1, 125, "fail")
    assert "2 frame 13 125 µm below" in words(page)
    assert "Lot 1" in words(page)
    assert not Nonconformance.objects.exists(), "low places are gone over while they are wet"
    kind = BY_NAME["wetfilm"]
    assert (kind.digest(record), kind.verdict(record)) == (record.digest, record.verdict)
    cast.site.coats[0].nominal_nm = 100_000
    cast.site.coats[0].save()
    assert kind.verdict(WetFilmRecord.objects.get()) == "fail", "judged again by the film specified when it was taken"
    correction = ines.get(reverse("wetfilm_new", args=[cast.site.project.pk]) + f"?replaces={record.pk}")
    assert correction.status_code == 200


def test_the_api_takes_wet_film_once_and_names_the_row_that_is_wrong(cast: Cast, ines: Client) -> None:
    lot, other = lot_of(cast), lot_of(cast, coat=1)
    body = sent(cast, lot=str(lot.pk), readings=[{"place": "web", "um": 150}])
    assert [post(ines, "wetfilm", body).status_code for _ in range(2)] == [201, 200]
    for wrong, field, said in (
        ({"lot": str(other.pk)}, "lot", "Lot 2 is not of Primer"),
        ({"lot": str(new_id())}, "lot", "no such lot"),
        ({"readings": []}, "readings", ""),
        ({"readings": [{"um": 150}, {"um": 20_000}]}, "readings", ""),
    ):
        answer = post(ines, "wetfilm", {**body, "id": str(new_id()), **wrong})
        fault = answer.json()["errors"][0]
        assert (answer.status_code, fault["field"].split("[")[0].split(".")[0]) == (422, field)
        assert said in fault["message"]


def test_a_figure_that_no_comb_shows_is_asked_about(cast: Cast, ines: Client) -> None:
    body = typed(cast, readings="frame 12: 153")
    page = ines.post(reverse("wetfilm_new", args=[cast.site.project.pk]), body)
    assert "153 µm is no step of a comb" in words(page)
    assert not WetFilmRecord.objects.exists()
