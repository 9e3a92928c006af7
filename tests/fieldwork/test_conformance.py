"""Beside a thickness record's verdict: how probable it is that the area conforms, what went into it, who sees it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.conformance import conformance_of, limits_of
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.queries import readings_of
from tests.cast import MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS, sent, singles, spots
from tests.fieldwork.test_sheet_pages import ines, words
from tests.standing.scene import verify

__all__ = ["ines"]
NEAR = spots([62, 63, 61], [58, 57, 59], [66, 65, 67], [61, 60, 62], [64, 63, 65])


def told(client: Client, record: ThicknessRecord) -> Any:
    answer = client.get(reverse("api_thickness_conformance", args=[record.pk]))
    assert answer.status_code == 200
    return answer.json()


def test_the_page_tells_the_probability_beside_the_verdict_and_what_went_into_it(ines: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast, readings=NEAR))
    page = words(ines.get(reverse("thickness", args=[record.pk])))
    assert (
        "If scatter stays as measured, the mean of the area is from 60.0 µm to 120.0 µm with a probability of" in page
    )
    assert "more spots like these would settle it" in page
    assert "is to be expected below 48.0 µm" in page
    assert "No verdict: the rule compares what was measured with its limits." in page
    assert "Scatter of 5 spots" in page


def test_the_gauge_enters_by_the_checks_that_the_standing_rests_on(ines: Client, cast: Cast) -> None:
    verify(cast, MORNING - timedelta(hours=1), off_by_nm=800)
    record, _ = record_thickness(cast.ines, **sent(cast, readings=NEAR))
    before = told(ines, record)
    assert before["gauge_error_um"] == pytest.approx(0.8)
    assert before["mean_um"] == pytest.approx(62.2 - 0.8)
    assert 0.05 < before["probability_mean_conforms"] < 0.99
    parts = {part["name"]: part["standard_uncertainty_um"] for part in before["budget"]}
    assert parts["certificate of the standard"] == pytest.approx(0.5)
    # The check after work lies lower; one made after adjusting the gauge would tell nothing of these readings.
    verify(cast, MORNING + timedelta(hours=3), off_by_nm=-200, purpose="closing")
    after = told(ines, record)
    assert after["gauge_error_um"] == pytest.approx(0.3)
    assert {part["evaluation"] for part in after["budget"]} == {"A", "B"}


def test_a_check_after_adjusting_tells_nothing_of_the_readings_before(ines: Client, cast: Cast) -> None:
    verify(cast, MORNING - timedelta(hours=1), off_by_nm=800)
    record, _ = record_thickness(cast.ines, **sent(cast, readings=NEAR))
    verify(cast, MORNING + timedelta(hours=3), off_by_nm=0, purpose="closing", adjustment="zero")
    assert told(ines, record)["gauge_error_um"] == pytest.approx(0.8)


def test_without_a_check_the_stated_accuracy_is_taken_and_said(ines: Client, cast: Cast) -> None:
    late = MORNING + timedelta(days=40)
    record, _ = record_thickness(
        cast.ines, **sent(cast, readings=NEAR, first_reading_at=late, last_reading_at=late + timedelta(hours=1))
    )
    answer = told(ines, record)
    assert answer["gauge_error_um"] == 0
    assert "stated accuracy of the gauge" in {part["name"] for part in answer["budget"]}
    assert any("no check of the gauge" in note for note in answer["notes"])


def test_a_rule_that_allows_a_share_is_told_its_probability(ines: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast, coat=2, readings=singles(*[208, 199, 214, 203, 221] * 3)))
    answer = told(ines, record)
    assert answer["share_allowed_pct"] == pytest.approx(20)
    assert 0 <= answer["probability_share_conforms"] <= 1
    assert len(answer["sentences"]) == 3


def test_one_spot_tells_nothing_and_the_page_leaves_it_out(ines: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast, readings=spots([80, 81, 82])))
    assert told(ines, record)["mean_um"] is None
    assert "Beside the verdict" not in words(ines.get(reverse("thickness", args=[record.pk])))


def test_limits_are_those_that_the_record_was_judged_by() -> None:
    pa2 = limits_of("dft-pa2", {"level": 1, "minimum_um": 60, "maximum_um": 120})
    assert pa2 is not None
    assert (pa2.mean_lower, pa2.mean_upper, pa2.share_limit, pa2.share) == (60, 120, 60, None)
    imo = limits_of("dft-imo-pspc", {"nominal_um": 320})
    assert imo is not None
    assert (imo.mean_lower, imo.share_limit, imo.share) == (None, 320, pytest.approx(0.1))
    declared = limits_of("dft-custom", {"minimum_mean_um": 200, "minimum_each_um": 160})
    assert declared is not None
    assert (declared.mean_lower, declared.share_limit, declared.share) == (200, 160, None)
    assert limits_of("dft-pa2", {"unspecified": ["minimum"]}) is None


def test_it_costs_the_same_queries_with_five_spots_and_with_fifty(ines: Client, cast: Cast) -> None:
    verify(cast, MORNING - timedelta(hours=1))
    few, _ = record_thickness(cast.ines, **sent(cast, readings=GOOD_SPOTS))
    many, _ = record_thickness(cast.ines, **sent(cast, readings=spots(*[[80 + n % 7, 81, 82] for n in range(50)])))
    counted = []
    for pk in (few.pk, many.pk):
        record = ThicknessRecord.objects.select_related("gauge", "standing", "profile_record").get(pk=pk)
        readings = readings_of(record)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert conformance_of(record, readings)
        counted.append(len(asked))
    assert counted == [1, 1]


def test_a_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast))
    client.force_login(cast.carl)
    assert client.get(reverse("api_thickness_conformance", args=[record.pk])).status_code == 404
