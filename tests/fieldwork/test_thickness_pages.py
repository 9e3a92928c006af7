"""The list of thickness records and the page of one: verdict, checks, what decided, standing, versions, file, chart."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree as ET

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.verdicts_shown import told
from inspection.foundation.units import Unit, in_unit
from inspection.projects.models import Project
from tests.cast import Cast
from tests.fieldwork.build import GOOD_SPOTS, sent, singles, spots
from tests.fieldwork.test_sheet_pages import ines, words

__all__ = ["ines"]


def page_of(client: Client, record: ThicknessRecord) -> str:
    answer = client.get(reverse("thickness", args=[record.pk]))
    assert answer.status_code == 200
    return words(answer)


def test_the_page_tells_each_check_with_limit_observed_and_what_decided(ines: Client, cast: Cast) -> None:
    readings = spots([80, 82, 81], [45, 46, 47], [90, 91, 92], [70, 69, 71], [85, 84, 86])
    record, _ = record_thickness(cast.ines, **sent(cast, readings=readings))
    page = page_of(ines, record)
    assert "SSPC-PA 2, restriction level 3" in page
    check = re.search(r"Fail Area 1: Every spot mean is at least 80 % .*? spot (\d)", page)[0]
    assert "48 µm 46 µm spot 2" in check
    assert "Spot 2 too thin" in page


def test_a_near_miss_is_told_from_a_hit(ines: Client, cast: Cast) -> None:
    # The mean of 47.9, 48 and 48 is below 48.0, which one digit after the point would hide.
    readings = spots([47.9, 48, 48], [80, 80, 80], [80, 80, 80], [80, 80, 80], [80, 80, 80])
    record, _ = record_thickness(cast.ines, **sent(cast, readings=readings))
    assert "48 µm 47.97 µm spot 1" in page_of(ines, record)


def test_voided_readings_are_shown_with_their_reason_and_the_missing_repeat(ines: Client, cast: Cast) -> None:
    readings = [*GOOD_SPOTS, ReadingSent(2, 4, 190_000, None, "probe tilted")]
    record, _ = record_thickness(cast.ines, **sent(cast, readings=readings))
    page = page_of(ines, record)
    assert "190.0 (voided: probe tilted)" in page
    assert "spot 2 lacks it" in page
    assert "the rule wants 15, 1 more" in page


def test_readings_that_decide_an_iso_verdict_are_named_by_their_spot(ines: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast, coat=2, readings=singles(*[230] * 13, 150, 158)))
    page = page_of(ines, record)
    assert re.search(r"at least 80 % of the nominal thickness.*?160 µm 150 µm spots 14, 15", page)


def test_a_project_in_mil_shows_mil(ines: Client, cast: Cast) -> None:
    Project.objects.filter(pk=cast.site.project.pk).update(unit="mil")
    readings = [ReadingSent(spot, order, 84_328) for spot in range(1, 6) for order in (1, 2, 3)]
    record, _ = record_thickness(cast.ines, **sent(cast, unit="mil", readings=readings))
    page = page_of(ines, record)
    assert "Mean 3.32 mil" in page
    # 80 % of 60 µm is 48 µm = 1.8898 mil.
    assert "1.9 mil 3.3 mil" in page


def test_the_chart_is_an_image_with_its_numbers_beside_it(ines: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast))
    chart = ines.get(reverse("thickness_chart", args=[record.pk]))
    assert chart["Content-Type"] == "image/svg+xml"
    assert "style=" not in chart.content.decode()
    assert any("15 readings" in (text.text or "") for text in ET.fromstring(chart.content).iter())
    page = page_of(ines, record)
    assert "Below the minimum 0 From the minimum to below nominal 3 From nominal to the maximum 12" in page


def test_both_versions_are_readable_and_point_at_each_other(ines: Client, cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    new, _ = record_thickness(cast.ines, **sent(cast, replaces=old, replacement_reason="spot 2 misread"))
    assert "This version was replaced: spot 2 misread" in page_of(ines, old)
    assert "Correct it" not in page_of(ines, old)
    assert "Correct it" in page_of(ines, new)
    assert "Why: spot 2 misread" in page_of(ines, new)


def test_other_records_of_the_same_place_are_shown_and_all_kept(ines: Client, cast: Cast) -> None:
    one, _ = record_thickness(cast.ines, **sent(cast))
    other, _ = record_thickness(cast.quinn, **sent(cast))
    elsewhere, _ = record_thickness(cast.ines, **sent(cast, coat=2, readings=singles(*[230] * 15)))
    page = ines.get(reverse("thickness", args=[one.pk])).content.decode()
    assert str(other.pk) in page
    assert str(elsewhere.pk) not in page


def test_the_list_shows_current_versions_and_narrows(ines: Client, cast: Cast) -> None:
    old, _ = record_thickness(cast.ines, **sent(cast))
    new, _ = record_thickness(cast.ines, **sent(cast, replaces=old, replacement_reason="slip"))
    other, _ = record_thickness(cast.ines, **sent(cast, area=cast.site.other_area))

    def shown(**asked: str) -> set[Any]:
        page = ines.get(reverse("thickness_list"), asked).content.decode()
        return {record.pk for record in (old, new, other) if str(record.pk) in page}

    assert shown() == {new.pk, other.pk}
    assert shown(replaced="on") == {old.pk, new.pk, other.pk}
    assert shown(verdict="incomplete") == {other.pk}
    assert shown(area="a1") == {new.pk}
    assert shown(first_day="2026-03-04", last_day="2026-03-04") == {new.pk, other.pk}
    assert shown(first_day="2026-03-05") == set()
    assert ines.get(reverse("thickness_list"), {"first_day": "soon"}).status_code == 422
    assert ines.get(reverse("thickness_list"), {"project": str(cast.foreign.project.pk)}).status_code == 422


def test_list_and_page_take_no_more_queries_for_more_rows(ines: Client, cast: Cast) -> None:
    def cost(address: str, rows: int) -> int:
        with CaptureQueriesContext(connection) as caught:
            answer = ines.get(address)
        assert answer.content.decode().count("A1") >= rows
        return len(caught)

    costs = []
    for count in (3, 27):
        for _ in range(count):
            record_thickness(cast.ines, **sent(cast))
        costs.append(cost(reverse("thickness_list"), 3))
    assert costs[0] == costs[1]
    costs = []
    for count in (2, 500):
        many = spots(*[[80, 81, 82]] * count)
        record, _ = record_thickness(cast.ines, **sent(cast, readings=many))
        costs.append(cost(reverse("thickness", args=[record.pk]), 1))
    assert costs[0] == costs[1]


def test_the_client_and_the_auditor_read_and_the_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    record, _ = record_thickness(cast.ines, **sent(cast))
    for someone in (cast.clara, cast.audrey, cast.quinn, cast.admin):
        client.force_login(someone)
        assert client.get(reverse("thickness", args=[record.pk])).status_code == 200
        assert "Correct it" not in page_of(client, record) or someone == cast.quinn
    for someone in (cast.igor, cast.carl):
        client.force_login(someone)
        for name in ("thickness", "thickness_chart", "thickness_file"):
            assert client.get(reverse(name, args=[record.pk])).status_code == 404
        assert str(record.pk) not in client.get(reverse("thickness_list")).content.decode()


def test_a_mean_is_rounded_alike_under_figures_and_in_the_checks() -> None:
    # The float that 80.35 names lies a little below it.
    for nm in (80_350, 337_150, 81_250, 80_450):
        _, observed = told(80, nm / 1000, "µm", Unit.UM)
        assert observed == f"{in_unit(nm, Unit.UM)} µm"
