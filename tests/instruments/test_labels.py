"""Labels: the code on them reads back, by an independent reader, as the address that leads to the thing."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image, ImageDraw
from pypdf import PdfReader
from reportlab.lib.pagesizes import A4

from inspection.foundation.labels import QUIET_MODULES, SHEETS, runs
from inspection.instruments.labels import address_of, labels_pdf
from inspection.instruments.models import Gauge
from tests.cast import Cast
from tests.instruments.pages import as_person, text_of


def painted(text: str, module: int = 6) -> Image.Image:
    """The runs of a code painted with its quiet zone, as they are drawn on the label."""
    modules, dark = runs(text)
    side = (modules + 2 * QUIET_MODULES) * module
    picture = Image.new("L", (side, side), 255)
    pen = ImageDraw.Draw(picture)
    for column, row, length in dark:
        left, top = (column + QUIET_MODULES) * module, (row + QUIET_MODULES) * module
        pen.rectangle((left, top, left + length * module - 1, top + module - 1), fill=0)
    return picture


def test_the_code_reads_back_as_the_address_of_the_thing(cast: Cast) -> None:
    cast.gauge.identity = "G/01 ½"
    cast.gauge.save()
    (code,) = zxingcpp.read_barcodes(painted(address_of(cast.gauge)))
    assert code.text == "http://localhost:8000/i/G%2F01%20%C2%BD"
    answer = as_person(cast.ines).get(code.text.removeprefix("http://localhost:8000"))
    assert answer.headers["Location"] == reverse("gauge", args=[cast.gauge.pk])


@pytest.mark.parametrize("name", list(SHEETS))
def test_every_thing_gets_one_label_and_sheets_fill_up(cast: Cast, name: str) -> None:
    sheet = SHEETS[name]
    things = [Gauge(identity=f"N-{number:03}", serial="77") for number in range(sheet.count + 3)]
    pages = PdfReader(BytesIO(labels_pdf(things, sheet=sheet, start=2))).pages
    assert len(pages) == 2
    words = [page.extract_text() for page in pages]
    assert all(thing.identity in "".join(words) for thing in things)
    assert "N-000" in words[0]
    assert [f"N-{number:03}" in words[1] for number in (sheet.count - 2, sheet.count - 1)] == [False, True]
    assert (float(pages[0].mediabox.width), float(pages[0].mediabox.height)) == pytest.approx(A4, abs=0.01)


def test_labels_name_the_company_as_it_was_founded(cast: Cast) -> None:
    words = PdfReader(BytesIO(labels_pdf([cast.gauge], sheet=SHEETS["large"]))).pages[0].extract_text()
    assert "The Company" in words
    assert "Stripecoat" not in words


def labels_page(cast: Cast, **asked: Any) -> Any:
    return as_person(cast.ines).get(reverse("labels"), asked)


def test_chosen_labels_come_as_a_pdf_to_download(cast: Cast) -> None:
    answer = labels_page(cast, sheet="small", start="3", gauge=[cast.gauge.pk], standard=[cast.shims[50].pk])
    assert answer.headers["Content-Disposition"] == 'attachment; filename="labels.pdf"'
    text = PdfReader(BytesIO(answer.content)).pages[0].extract_text()
    assert "G-01" in text
    assert "S-50" in text
    assert "50.0 µm nominal" in text


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"sheet": "small", "start": "1"}, "Choose at least one gauge or standard."),
        ({"sheet": "small", "start": "66"}, "A sheet has labels 1 to 65."),
        ({"sheet": "small", "start": "one"}, "“one” is not a number"),
    ],
)
def test_a_choice_that_cannot_be_printed_is_explained(cast: Cast, asked: dict, words: str) -> None:
    answer = labels_page(cast, **asked)
    assert (answer.status_code, words in text_of(answer)) == (422, True)


def test_outsiders_print_no_labels(cast: Cast) -> None:
    for someone in (cast.clara, cast.audrey):
        assert as_person(someone).get(reverse("labels")).status_code == 403


def test_all_gauges_or_all_standards_are_chosen_at_once(cast: Cast) -> None:
    answer = labels_page(cast, sheet="small", start="1", all_standards="on")
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
    assert [shim.identity for shim in cast.shims.values() if shim.identity not in text] == []
    assert "G-01" not in text
    assert (
        "G-01"
        in PdfReader(BytesIO(labels_page(cast, sheet="small", start="1", all_gauges="on").content))
        .pages[0]
        .extract_text()
    )
