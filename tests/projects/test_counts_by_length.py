"""What standards want of an area's size: IMO counts lengths and pieces, ISO 19840 has a large area divided.

Counts of MSC.215(82), annex 3 (stored source: one reading for 5 m²; one every 2 to 3 m of boundary; sets of two on
stiffeners, two sets at least; sets of three on primary members, three sets at least; five a m² of complex areas, three
at least), with 3 m and 2 m from one to the next as computed by hand; that a part begun counts is our reading.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.fieldwork.judging import plan_of
from inspection.projects.models import Coat, InspectionArea
from tests.cast import Cast
from tests.projects.test_area_changes import now, send
from tests.projects.test_division import divide
from tests.projects.test_pages import as_person, text_of


def rows_of(page: str) -> list[list[str]]:
    """The rows of the count: where, how many, readings with 3 m and with 2 m."""
    found = re.findall(r'<th scope="row">([^<]*)</th>((?:\s*<td data-label="[^"]*" class="num">\d+</td>){3})', page)
    return [[where, *re.findall(r">(\d+)<", cells)] for where, cells in found]


@pytest.mark.parametrize(
    ("declared", "row", "readings"),
    [
        ({"boundaries_m": "4"}, ["Tank boundaries", "1", "2", "2"], 4),
        ({"boundaries_m": "12; 9,1"}, ["Tank boundaries", "2", "8", "11"], 10),
        ({"stiffeners_m": "2"}, ["Stiffeners", "1", "4", "4"], 6),
        ({"stiffeners_m": "3 × 9"}, ["Stiffeners", "3", "18", "30"], 20),
        ({"primary_members_m": "12"}, ["Primary members", "1", "12", "18"], 14),
        ({"complex_m2": "0.3; 1.2"}, ["Complex areas", "2", "9", "9"], 11),
        ({"openings": "3", "sides_of_an_opening": "2"}, ["Openings", "3", "6", "6"], 8),
    ],
)
def test_what_is_declared_enters_the_plan_by_the_rule_of_annex_3(
    cast: Cast, declared: dict[str, str], row: list[str], readings: int
) -> None:
    finish = cast.site.coats[2]
    assert plan_of(finish, now(cast.site.area)).readings == 2
    page = text_of(send(cast, "tank_sizes", **declared))
    assert row in rows_of(page)
    assert f"{readings} readings with 3 m from one to the next" in page
    assert plan_of(finish, now(cast.site.area)).readings == readings
    assert JournalEntry.objects.get(verb="area.tank_sizes_declared").reason == "As built"


def test_until_lengths_are_declared_the_page_says_that_they_come_on_top(cast: Cast) -> None:
    page = reverse("area", args=[cast.site.area.pk])
    assert "what the annex wants there comes on top" in text_of(as_person(cast.clara).get(page))
    send(cast, "tank_sizes", boundaries_m="6; 2 x 4.5")
    assert "what the annex wants there comes on top" not in text_of(as_person(cast.clara).get(page))
    form = as_person(cast.quinn).get(reverse("area_tank_sizes", args=[cast.site.area.pk]))
    assert "6; 2 × 4.5" in text_of(form)
    send(cast, "tank_sizes", boundaries_m="")
    assert now(cast.site.area).tank_sizes == {}


@pytest.mark.parametrize(
    ("declared", "words"),
    [
        ({"boundaries_m": "-3"}, "“-3” is no size; write 12; 6.5; 24 × 2.6"),
        ({"stiffeners_m": "0 × 4"}, "“0 × 4” is no size"),
        ({"stiffeners_m": "9999 × 4"}, "more than 5000 pieces"),
        ({"openings": "3"}, "Sides measured of an opening: is needed"),
        ({}, "Nothing differs from what is stored."),
    ],
)
def test_what_is_no_length_is_told_and_nothing_is_kept(cast: Cast, declared: dict[str, str], words: str) -> None:
    answer = send(cast, "tank_sizes", **declared)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert now(cast.site.area).tank_sizes == {}


def test_an_area_that_iso_19840_would_divide_is_told_and_its_division_proposed(cast: Cast) -> None:
    area = cast.site.area
    page = reverse("area", args=[area.pk])
    words = "ISO 19840 has an inspection area of more than 1000 m² divided into smaller ones (from memory)."
    InspectionArea.objects.filter(pk=area.pk).update(area_m2=1000)
    assert words not in text_of(as_person(cast.clara).get(page))
    InspectionArea.objects.filter(pk=area.pk).update(area_m2=2500)
    assert words in text_of(as_person(cast.clara).get(page))
    proposed: Any = as_person(cast.quinn).get(reverse("area_divide", args=[area.pk])).context["rows"]
    assert [row.initial["area_m2"] for row in proposed] == ["833.33", "833.33", "833.34"]
    sent = {"parts": "3", "reason": "Over 1000 m²"}
    for row in proposed:
        sent |= {row.add_prefix(name): row.initial[name] for name in ("code", "name", "area_m2")}
    divide(cast, sent)
    assert [str(each.area_m2) for each in now(area).became.order_by("code")] == ["833.33", "833.33", "833.34"]
    Coat.objects.filter(system=cast.site.system, rule=Coat.Rule.ISO_19840).update(rule=Coat.Rule.IMO_PSPC)
    assert words not in text_of(as_person(cast.clara).get(page))
