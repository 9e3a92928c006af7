"""Many inspection areas from one table: every row and fault is shown first, then all are stored or none."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inspection.projects.models import InspectionArea, Structure
from tests.cast import Cast
from tests.projects.test_pages import as_person, text_of

HEAD = "code;name;area_m2;shape"
GOOD = f"{HEAD}\nB1;Bay 1;12,5;plate\nB2;Bay 2;8;Beam or girder\n"


def post(cast: Cast, **sent: Any) -> Any:
    return as_person(cast.quinn).post(reverse("area_upload", args=[cast.site.project.pk]), sent)


def test_a_good_table_is_shown_first_and_stored_when_sent_again(cast: Cast) -> None:
    shown = post(cast, file=SimpleUploadedFile("areas.csv", GOOD.encode()), look="1")
    assert "2 inspection areas; nothing is stored yet." in text_of(shown)
    assert InspectionArea.objects.filter(code__startswith="B").count() == 0
    post(cast, rows=shown.context["form"].initial["rows"], store="1")
    stored = InspectionArea.objects.filter(code__startswith="B").order_by("code")
    assert [(area.code, str(area.area_m2), area.shape) for area in stored] == [
        ("B1", "12.50", "plate"),
        ("B2", "8.00", "beam"),
    ]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("B1;Bay;0;plate", "row 3, area_m2: The area is more than 0 m²"),
        ("B1;Bay;-1;plate", "row 3, area_m2: The area is more than 0 m²"),
        ("B1;Bay;big;plate", "row 3, area_m2: “big” is not a number"),
        ("B1;Bay;1.234;plate", "row 3, area_m2: 1.234 m² may be meant as thousands"),
        ("B1;Bay;4;round", "row 3, shape: “round” is not known; write plate, pipe, beam, edge."),
        ("B9;Bay;4;plate", "row 3, code: Tank already has an area B9"),
        (";Bay;4;plate", "row 3, code: is missing."),
        (f"{'B' * 61};Bay;4;plate", "row 3, code: has 61 characters"),
    ],
)
def test_each_fault_names_its_row_and_nothing_is_stored(cast: Cast, row: str, words: str) -> None:
    answer = post(cast, rows=f"{HEAD}\nB9;Good;4;plate\n{row}", store="1")
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert InspectionArea.objects.filter(code="B9").count() == 0


def test_each_row_bears_its_line_of_the_file_and_first_what_was_found(cast: Cast) -> None:
    page = text_of(post(cast, rows=f"{GOOD}\nB3;Bay 3;big;plate", look="1"))
    assert re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', page)[:3] == ["Row", "Found", "code"]
    assert re.findall(r'<th scope="row"[^>]*>([^<]*)</th>', page) == ["2", "3", "5"]


def test_where_there_are_several_structures_the_row_names_one(cast: Cast) -> None:
    Structure.objects.create(project=cast.site.project, name="Roof")
    assert "row 2, structure: is missing, and “Roof” or “Tank” could be meant; name one in each row." in text_of(
        post(cast, rows=GOOD, look="1")
    )
    rows = "structure;code;name;area_m2\nroof;B1;Bay;4"
    post(cast, rows=rows, store="1")
    assert InspectionArea.objects.get(code="B1").structure.name == "Roof"


def test_strangers_add_no_areas(cast: Cast) -> None:
    where = reverse("area_upload", args=[cast.site.project.pk])
    assert as_person(cast.ines).post(where, {"rows": GOOD, "store": "1"}).status_code == 403
    assert as_person(cast.igor).post(where, {"rows": GOOD, "store": "1"}).status_code == 404


def test_two_thousand_faults_are_told_a_window_at_a_time_and_the_next_rows_are_asked_for(cast: Cast) -> None:
    rows = "\n".join([HEAD, *(f"B{number};Bay;{'x' * 60};{'y' * 60}" for number in range(2_000))])
    first = post(cast, rows=rows, look="1")
    assert first.status_code == 422
    page = text_of(first)
    assert "and more, 4000 in all" in page
    assert "1 to 100 of 2000 rows as read" in page
    assert page.count("row-wrong") == 100
    # The rows that were sent, to be put right, are most of it.
    assert len(first.content) - len(rows) < 150_000
    last = text_of(post(cast, rows=rows, look="20"))
    assert "1901 to 2000 of 2000 rows as read" in last
    assert 'form="table-form" name="look" value="19"' in last
