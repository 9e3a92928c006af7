"""How the report lies on its pages: what a client sees who never saw the platform."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import timedelta

import pytest
from pypdf import PdfReader
from reportlab.graphics.shapes import Line, String
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Paragraph, SimpleDocTemplate

from inspection.fieldwork.actions import record_thickness
from inspection.fieldwork.judging import ReadingSent
from inspection.foundation.charts import histogram, register_fonts
from inspection.foundation.ruled_table import Line as Row
from inspection.foundation.ruled_table import Rows
from reports.daily.facts import DayFacts
from reports.daily.gathering import gather
from reports.daily.pdf import draw
from reports.daily.pdf.pieces import TEXT, table
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.build import sent
from tests.reports.day import CLOSING, HOUR, check, long_day, measure, worked

LONG = "Mannlochdeckel mit Süllrand, Unterseite backbord; øvre dørk på styrbord side. "


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages]


@pytest.fixture(autouse=True, scope="module")
def _fonts() -> None:
    """Pieces measure their words when they are made, which is before the document that holds them."""
    register_fonts()


def laid_out(*flowables: object) -> list[str]:
    out = io.BytesIO()
    SimpleDocTemplate(out).build(list(flowables))
    return pages(out.getvalue())


def facts_of(cast: Cast) -> DayFacts:
    return gather(cast.site.project, DAY)


def test_a_long_table_has_its_head_once_on_each_page() -> None:
    told = laid_out(*table(("Number", "What"), (60, 300), [(f"n{n}.", "Shell") for n in range(500)]))
    assert len(told) > 5
    assert [page.count("Number") for page in told] == [1] * len(told)
    found = [word for page in told for word in page.split() if word.startswith("n") and word.endswith(".")]
    assert found == [f"n{n}." for n in range(500)]


@pytest.mark.parametrize("before", range(36, 60))
def test_no_row_of_a_table_and_no_banner_is_left_alone(before: int) -> None:
    """However much stands above it: at least two rows come with the head, and two go to the next page."""
    rows = [("Banner",), *((f"row{n}.", "Shell") for n in range(6))]
    told = laid_out(*(Paragraph("Above", TEXT) for _ in range(before)), *table(("Number", "What"), (60, 300), rows))
    many = [page.count("row") for page in told]
    assert sum(many) == 6
    assert 1 not in many
    assert all(("Banner" in page) <= ("row0." in page) for page in told)


def test_a_cell_taller_than_a_page_goes_on_upon_the_next() -> None:
    words = " ".join(f"w{n}." for n in range(6_000))
    told = laid_out(Rows([Row([Paragraph(words, TEXT)]), Row(["last"])], [200], []))
    assert len(told) > 3
    found = [word for page in told for word in page.split()]
    assert found == [*(f"w{n}." for n in range(6_000)), "last"]


def test_more_readings_than_the_rule_wants_are_no_share_of_them(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    readings = [ReadingSent(n // 3 + 1, n % 3 + 1, 90_000) for n in range(33)]
    record_thickness(
        cast.ines, **sent(cast, readings=readings, first_reading_at=MORNING + HOUR, last_reading_at=MORNING + 2 * HOUR)
    )
    text = " ".join(pages(draw(facts_of(cast))))
    assert "Ines Inspector 33 90.0" in text
    assert "33 of" not in text


def test_the_report_says_measured_and_when_its_day_runs(cast: Cast) -> None:
    worked(cast)
    text = " ".join(pages(draw(facts_of(cast))))
    assert "Areas and coats measured" in text
    assert "worked on" not in text
    assert "Day runs 2026-03-04 06:00 to 2026-03-05 06:00, UTC" in text
    assert "Hours" not in text


def test_a_condition_missed_in_many_places_is_one_row_that_tells_limit_and_finding_apart(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    values = [*[59_900] * 600, *[90_000] * 15]
    readings = [ReadingSent(n // 3 + 1, n % 3 + 1, nm) for n, nm in enumerate(values)]
    record_thickness(
        cast.ines, **sent(cast, readings=readings, first_reading_at=MORNING + HOUR, last_reading_at=MORNING + 2 * HOUR)
    )
    text = " ".join(pages(draw(facts_of(cast))))
    assert text.count("The area mean is at least the specified minimum.") == 1
    assert "60 µm 59.9 µm 40 places: area 1; area 2;" in text
    assert "and 28 more" in text


def test_a_day_of_very_many_areas_with_long_names_is_drawn_whole(cast: Cast) -> None:
    check(cast, "opening", MORNING)
    measure(cast, MORNING + 2 * HOUR, note=LONG * 20)
    check(cast, "closing", CLOSING)
    facts = facts_of(cast)
    (one,) = facts.thicknesses
    many = tuple(
        replace(one, id=str(n), area=f"Außenhaut-Gang-{n:04d}", area_name=LONG, began=one.began + timedelta(seconds=n))
        for n in range(40)
    )
    told = pages(draw(replace(facts, thicknesses=many)))
    text = " ".join(told)
    assert all(f"Außenhaut-Gang-{n:04d}" in text for n in (0, 17, 39))
    for page in told:
        assert page.count("Lowest µm") <= 2


@pytest.mark.parametrize("limits", [(60_000, 75_000, 120_000), (74_000, 75_000, 76_000), (0, 1_000, 3_000_000)])
@pytest.mark.parametrize("width", [162, 480])
def test_no_label_of_a_histogram_meets_another_or_a_line_or_leaves_its_plate(
    limits: tuple[int, int, int], width: int
) -> None:
    low, nominal, high = limits
    drawing = histogram(
        [70_000, 75_000, 81_000], unit="um", minimum_nm=low, nominal_nm=nominal, maximum_nm=high,
        title=f"{LONG}\nGrundierung Außenfläche, zweite Lage", width=width, height=124 if width < 240 else 220,
    )  # fmt: skip
    boxes = []
    for shape in drawing.contents:
        if isinstance(shape, String):
            wide = stringWidth(shape.text, shape.fontName, shape.fontSize)
            left = shape.x - {"start": 0, "middle": wide / 2, "end": wide}[shape.textAnchor]
            boxes.append((left, shape.y, left + wide, shape.y + shape.fontSize * 0.75, shape.text))
    assert all(left >= 0 and right <= width for left, _, right, _, _ in boxes)
    for n, (left, low_y, right, high_y, _) in enumerate(boxes):
        for other_left, other_low, other_right, other_high, _ in boxes[n + 1 :]:
            assert right <= other_left or other_right <= left or high_y <= other_low or other_high <= low_y
        for line in (shape for shape in drawing.contents if isinstance(shape, Line) and shape.x1 == shape.x2):
            assert not (left < line.x1 < right and line.y1 < high_y and line.y2 > low_y) or line.y2 < line.y1


def test_a_day_of_many_areas_is_told_in_small_multiples_and_an_annex_on_few_pages(cast: Cast) -> None:
    """One page in ten areas and two more at most, where single charts alone took one for fifteen records."""
    long_day(cast, 30)
    facts = facts_of(cast)
    told = pages(draw(facts))
    assert len(told) <= 30 / 10 + 2
    text = " ".join(told)
    assert "lines at minimum 60.0, nominal 75.0, maximum 120.0; each axis from" in text
    failing = next(row for row in facts.thicknesses if row.verdict == "fail")
    assert f"✘ {failing.area}" in text.split("Distribution of the readings")[1]
    annex = text.split("Annex: readings")[1]
    assert all(row.area in annex for row in facts.thicknesses)
    of_primer = next(row for row in facts.thicknesses if row.coat == "Primer")
    # SSPC-PA 2: five spots of three readings; the annex tells the mean of each.
    first = [value for spot, value in zip(of_primer.spots, of_primer.values_nm, strict=True) if spot == 1]
    assert len(first) == 3
    assert f"{of_primer.area} {facts.local(of_primer.began):%H:%M} {sum(first) / 3000:.1f} " in annex
    without = replace(facts, thicknesses=tuple(replace(row, spots=()) for row in facts.thicknesses))
    assert without.digest == facts.digest, "reports of before the annex keep their digest"
