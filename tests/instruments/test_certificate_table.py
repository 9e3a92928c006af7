"""Many certificates from one table: every row and fault is shown first, then all are stored or none."""

from __future__ import annotations

import re
from datetime import date
from io import BytesIO
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from inspection.instruments import certificate_table
from inspection.instruments.models import Certificate
from inspection.projects import area_table as areas
from tests.cast import Cast
from tests.instruments.pages import as_person, text_of

HEAD = "number;laboratory;issued;expires;coverage_factor;traceable_to;thing;value_um;uncertainty_um"
FIRST = "B-1;M;2026-01-05;2027-01-05;2;N;S-50;50;1"
GOOD = "\n".join(
    [
        HEAD,
        "B-1;Metrology House;2026-01-05;2027-01-05;2;National institute;S-50;50,1;0,9",
        "B-1;Metrology House;;;;;S-125;125.2;±0.9",
        "B-2;Metrology House;06.01.2026;06.01.2027;;National institute;G-01;;",
    ]
)


def post(cast: Cast, **sent: Any) -> Any:
    return as_person(cast.quinn).post(reverse("certificate_upload"), sent)


def test_a_good_table_is_shown_and_not_stored(cast: Cast) -> None:
    answer = post(cast, file=SimpleUploadedFile("t.csv", GOOD.encode(), "text/csv"), look="1")
    words = text_of(answer)
    assert answer.status_code == 200
    assert "2 certificates with 3 rows; nothing is stored yet." in words
    assert "Record 2 certificates" in words
    assert Certificate.objects.count() == 2


def test_a_title_above_and_columns_of_its_own_are_passed_over_and_told(cast: Cast) -> None:
    rows = [line + ";" + ("colour" if line == HEAD else "red") for line in GOOD.splitlines()]
    rows = [rows[0].replace("value_um", "Value (µm)"), *rows[1:]]
    content = "\n".join(["Certificates of spring", "", *rows]).replace("06.01.2026", "6 Jan 2026")
    answer = post(cast, file=SimpleUploadedFile("t.csv", content.encode("utf-16"), "text/csv"), look="1")
    words = text_of(answer)
    assert "2 certificates with 3 rows; nothing is stored yet." in words
    assert "Passed over, above the head: line 1." in words
    assert "Columns that mean nothing here are not read: colour." in words


def test_the_shown_rows_are_stored_all_together(cast: Cast) -> None:
    assert post(cast, rows=GOOD, store="1").status_code == 302
    first = Certificate.objects.get(number="B-1")
    assert {value.value_nm for value in first.values.all()} == {50_100, 125_200}
    second = Certificate.objects.get(number="B-2")
    assert [value.gauge for value in second.values.all()] == [cast.gauge]


def test_the_rows_come_back_as_text_that_reads_the_same(cast: Cast) -> None:
    answer = post(cast, file=SimpleUploadedFile("t.csv", GOOD.encode(), "text/csv"), look="1")
    text = answer.context["form"].initial["rows"]
    assert post(cast, rows=text, store="1").status_code == 302
    assert Certificate.objects.filter(number__startswith="B-").count() == 2


def test_a_workbook_is_read_with_its_dates_and_numbers(cast: Cast) -> None:
    sheet = Workbook()
    rows: Any = sheet.active
    rows.append(HEAD.split(";"))
    rows.append(
        ["B-1", "Metrology House", date(2026, 1, 5), date(2027, 1, 5), 2, "National institute", "S-50", 50.1, 0.9]
    )
    out = BytesIO()
    sheet.save(out)
    answer = post(cast, file=SimpleUploadedFile("t.xlsx", out.getvalue()), look="1")
    assert answer.status_code == 200
    post(cast, rows=answer.context["form"].initial["rows"], store="1")
    assert Certificate.objects.get(number="B-1").issued == date(2026, 1, 5)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("B-1;M;2026-01-05;2027-01-05;2;N;S-99;50;1", "row 2, thing: S-99 is not registered"),
        ("B-1;M;2026-01-05;2027-01-05;2;N;;50;1", "row 2, thing: Name the gauge or standard"),
        ("B-1;M;2026-01-05;2027-01-05;2;N;S-50;;1", "row 2, value_um: is missing for S-50"),
        ("B-1;M;2026-01-05;2027-01-05;2;N;S-50;fifty;1", "row 2, value_um: “fifty” is not a number"),
        ("B-1;M;2026-01-05;2027-01-05;2;N;S-50;5.01;1", "row 2, value: 5.0 µm is far from the 50.0 µm"),
        ("B-1;M;5/1/2026;2027-01-05;2;N;S-50;50;1", "row 2, issued: “5/1/2026” is not a date"),
        ("B-1;M;2026-01-05;2025-01-05;2;N;S-50;50;1", "row 2, expires: The expiry date must be after the issue date."),
        ("B-1;M;2026-01-05;2027-01-05;k;N;S-50;50;1", "row 2, coverage_factor: “k” is not a coverage factor"),
        ("B-1;M;2026-01-05;2027-01-05;2;N;G-01;50;1", "row 2, value_um: G-01 is a gauge"),
        ("CS-1;Example Laboratory;2026-01-05;2027-01-05;2;N;S-50;50;1", "row 2, number: Certificate CS-1 of Example"),
        ("B-1;M;2026-01-05;2027-01-05;2;;S-50;50;1", "row 2, traceable_to: Name the national institute"),
        (
            f"{FIRST}\nB-1;M;2026-01-06;;;;S-125;125;1",
            "row 3, issued: differs from row 2",
        ),
        (
            f"{FIRST}\nB-1;M;;;;;S-50;50;1",
            "row 3, standard: S-50 stands in an earlier row",
        ),
    ],
)
def test_each_fault_names_its_row_and_column_and_nothing_is_stored(cast: Cast, row: str, words: str) -> None:
    answer = post(cast, rows=f"{HEAD}\n{row}\nB-7;M;2026-01-05;2027-01-05;2;N;S-125;125;1", store="1")
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert Certificate.objects.count() == 2


def test_all_faults_of_one_row_are_told_at_once(cast: Cast) -> None:
    words = text_of(post(cast, rows=f"{HEAD}\nB-1;M;2026-01-05;2025-01-05;2;;S-99;abc;1", look="1"))
    assert "row 2, thing: S-99 is not registered" in words
    assert "row 2, value_um: “abc” is not a number" in words
    assert "row 2, expires: The expiry date must be after the issue date." in words
    assert "row 2, traceable_to: Name the national institute" in words


def test_a_day_that_cannot_be_read_brings_no_fault_that_only_follows_from_it(cast: Cast) -> None:
    answer = post(cast, rows=f"{HEAD}\nB-1;M;5/1/2026;2027-01-05;2;N;S-50;50;1", look="1")
    assert [fault.field for fault in answer.context["table"].faults] == ["issued"]


def test_each_row_bears_its_line_of_the_file_and_first_what_was_found(cast: Cast) -> None:
    page = text_of(post(cast, file=SimpleUploadedFile("t.csv", f"{GOOD}\n\nB-3;M;;;;N;S-50;x;1".encode()), look="1"))
    heads = re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', page)
    assert heads[:3] == ["Row", "Found", "number"]
    assert re.findall(r'<th scope="row"[^>]*>([^<]*)</th>', page) == ["2", "3", "4", "6"]


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("width", [390, 1280])
def test_what_was_found_is_seen_without_scrolling_sideways(cast: Cast, page_as: Any, axe: Any, width: int) -> None:
    page = page_as(cast.quinn, width=width)
    page.goto(reverse("certificate_upload"))
    wrong = "B-3;A laboratory with a long name;2026-01-05;2025-01-05;2;;S-99 of the other set;abc;1"
    page.get_by_label("Or the rows themselves").fill(f"{GOOD}\n{wrong}")
    page.get_by_role("button", name="Show every row").click()
    axe(page)
    frame = page.get_by_role("region", name="The rows as read").bounding_box()
    found = page.locator("td.found")
    for box in [found.nth(place).bounding_box() for place in range(found.count())]:
        assert frame["x"] <= box["x"] < box["x"] + box["width"] <= frame["x"] + frame["width"]
        assert box["width"] >= 200


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The submitted file is empty."),
        (b"\x00\x01\x02", "The file is no text"),
        (b"PK\x03\x04 broken", "cannot be read as an XLSX workbook"),
        (b"\xd0\xcf\x11\xe0", "cannot be read as an XLS workbook"),
        (b"number;laboratory\n", "There is no column thing."),
        (HEAD.encode(), "no rows under it"),
        ((HEAD.replace("number", "no") + "\n").encode(), "Column “no” is not known here"),
        ((HEAD + "\nB-1;M;2026-01-05;2027-01-05;2;N;S-50;50;1;extra").encode(), "more cells than the head"),
    ],
)
def test_what_is_no_table_is_refused_in_words(cast: Cast, content: bytes, words: str) -> None:
    answer = post(cast, file=SimpleUploadedFile("t.csv", content), look="1")
    assert answer.status_code == 422
    assert words in text_of(answer)


def test_a_table_recorded_twice_is_recorded_once(cast: Cast) -> None:
    post(cast, rows=GOOD, store="1")
    again = post(cast, rows=GOOD, store="1")
    assert (again.status_code, "already recorded" in text_of(again)) == (422, True)
    assert Certificate.objects.filter(number__startswith="B-").count() == 2


def test_nobody_else_uploads_certificates(cast: Cast) -> None:
    for someone in (cast.ines, cast.clara, cast.audrey, cast.admin):
        assert as_person(someone).post(reverse("certificate_upload"), {"rows": GOOD, "store": "1"}).status_code == 403


def test_the_setup_guide_shows_the_heads_that_the_tables_take() -> None:
    guide = (settings.BASE_DIR / "docs" / "howto" / "quality-manager-setup.md").read_text()
    assert certificate_table.TEMPLATE.strip() in guide
    assert areas.TEMPLATE.strip() in guide


def test_many_faults_are_told_a_window_at_a_time(cast: Cast) -> None:
    head, *_ = GOOD.splitlines()
    columns = len(head.split(";"))
    rows = "\n".join([head, *(";".join([f"B-{n}", *["x" * 60] * (columns - 1)]) for n in range(600))])
    answer = post(cast, rows=rows, look="6")
    page = text_of(answer)
    assert "501 to 600 of 600 rows as read" in page
    assert page.count("row-wrong") == 100
    assert len(answer.content) - len(rows) < 300_000
