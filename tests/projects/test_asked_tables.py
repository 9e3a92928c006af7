"""Tables with heads of their own: asked, told, previewed and stored; one page for every kind of table."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from accounts.models import JournalEntry
from inspection.foundation import asked_tables
from inspection.foundation.refusals import Refused
from inspection.foundation.shaping import Shape, told
from inspection.foundation.tables import lines_under_head
from inspection.instruments import certificate_table
from inspection.instruments.models import Certificate
from inspection.projects import area_table
from inspection.projects.models import InspectionArea, StoredTable, ToldTable
from inspection.works.models import PaintBatch
from inspection.works.paint import batch_table
from tests.cast import Cast
from tests.projects.test_pages import as_person, text_of

# A list as an office writes it: a title, its own words, a decimal comma, a signature below.
AREAS = "Anlage Nord\n\nBereich;Bezeichnung;Fläche [m²];Farbe\nN1;Wand Nord;12,5;grau\nN2;Wand Süd;8;grau\n;;;gez. M.\n"


def answers(page: Any, **told_as: Any) -> dict[str, Any]:
    """The question page's form as it stands, with what is told otherwise."""
    form, context = page.context["form"], page.context
    sent = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    return {**sent, "carried": context["carried"], **dict(context["kept"]), **told_as}


def test_a_list_with_words_of_its_own_is_asked_about_then_shown_and_stored_as_told(cast: Cast) -> None:
    client, where = as_person(cast.quinn), reverse("area_upload", args=[cast.site.project.pk])
    asked = client.post(where, {"file": SimpleUploadedFile("liste.csv", AREAS.encode("latin-1")), "look": "1"})
    assert asked.status_code == 200
    assert "How is this table read?" in text_of(asked)
    form = asked.context["form"]
    assert (form["head"].value(), form["skipped"].value()) == ("3", ["6"])
    assert [form[f"column_{place}"].value() for place in range(4)] == ["code", "name", "area_m2", ""]
    shown = client.post(where, answers(asked))
    words = text_of(shown)
    assert "2 inspection areas; nothing is stored yet." in words
    assert "Columns that are not read: Farbe." in words
    assert "Lines passed over: 1, 6." in words
    assert [row.number for row, _ in shown.context["rows"]] == [4, 5]
    assert not InspectionArea.objects.filter(code__startswith="N").exists()
    # The next one with this head, from a colleague: read so at once; asked again where that is wished, and forgotten.
    longer = SimpleUploadedFile("liste.csv", AREAS.replace("N1", "N3").encode())
    later = as_person(cast.quinn).post(where, {"file": longer, "look": "1"})
    assert f"Read as {cast.quinn.name} told it" in text_of(later)
    assert [row.number for row, _ in later.context["rows"]] == [4, 5]
    again = client.post(where, {"file": SimpleUploadedFile("liste.csv", AREAS.encode()), "ask": "1"})
    assert again.context["form"]["column_0"].value() == "code"
    client.post(where, {name: value for name, value in answers(again).items() if name != "remember"})
    assert ToldTable.objects.count() == 0
    verbs = JournalEntry.objects.filter(verb__startswith="organisation.table_shape").order_by("pk")
    assert [entry.verb.rpartition("_")[2] for entry in verbs] == ["told", "forgotten"]
    client.post(where, {"rows": shown.context["form"].initial["rows"], "store": "1"})
    stored = InspectionArea.objects.filter(code__startswith="N").order_by("code")
    assert [(area.code, area.name, str(area.area_m2)) for area in stored] == [
        ("N1", "Wand Nord", "12.50"), ("N2", "Wand Süd", "8.00"),
    ]  # fmt: skip


def test_what_is_still_missing_is_said_on_the_page_and_nothing_goes_on(cast: Cast) -> None:
    client, where = as_person(cast.quinn), reverse("area_upload", args=[cast.site.project.pk])
    asked = client.post(where, {"rows": "X1;Wall;3\nX2;Roof;4\n", "ask": "1", "reason": "Measured anew"})
    assert "No column is known to be “Code of the area”; say which it is." in text_of(asked)
    again = client.post(where, answers(asked))
    assert again.status_code == 422
    shown = client.post(where, answers(asked, column_0="code", column_1="name", column_2="area_m2"))
    assert "2 inspection areas; nothing is stored yet." in text_of(shown)
    twice = client.post(where, answers(asked, column_0="code", column_1="code"))
    assert "Code of the area can be one column only." in text_of(twice)
    broken = client.post(where, {"carried": "no base64", "file": SimpleUploadedFile("a.csv", b"code;name\n")})
    assert broken.status_code == 422


def test_a_sheet_is_chosen_where_two_could_be_meant(cast: Cast) -> None:
    book = Workbook()
    for sheet, code in ((book.active, "S1"), (book.create_sheet("Second"), "S2")):
        sheet.append(["Area", "Description", "m²"])
        sheet.append([code, "Wall", 4.5])
    out = io.BytesIO()
    book.save(out)
    client, where = as_person(cast.quinn), reverse("area_upload", args=[cast.site.project.pk])
    asked = client.post(where, {"file": SimpleUploadedFile("two.xlsx", out.getvalue()), "look": "1"})
    assert "say which is meant" in text_of(asked)
    other = client.post(where, answers(asked, sheet="1"))
    assert "of the sheet Second" in text_of(other)
    shown = client.post(where, answers(other))
    assert [dict(cells)["code"] for _, cells in shown.context["rows"]] == ["S2"]


@pytest.mark.once
def test_an_order_of_days_that_is_two_ways_is_asked_and_what_was_told_is_kept_to() -> None:
    content = b"Certificate,Lab,Date,Valid until,Traceable to,Gauge\nC-1,Lab A,03/04/2026,03/04/2027,SI,G-1\n"
    columns = certificate_table.READ_AS
    sheets, _ = columns.sheets(content)
    proposal = asked_tables.proposed(sheets, columns)
    assert [fault.field for fault in proposal.asked] == ["day_order"]
    with pytest.raises(Refused, match="two ways"):
        asked_tables.retold(sheets[0], proposal.shape, columns)
    days = {}
    for order in ("dmy", "mdy"):
        shape = told({**proposal.shape.plain, "day_order": order}, columns.meanings)
        text = asked_tables.retold(sheets[0], shape, columns)
        [line] = lines_under_head(text.encode(), known=columns.known, needed=columns.needed)
        days[order] = line["issued"], line["expires"], line.number
    assert days == {"dmy": ("2026-04-03", "2027-04-03", 2), "mdy": ("2026-03-04", "2027-03-04", 2)}


@pytest.mark.once
@pytest.mark.parametrize("content", [AREAS.encode(), AREAS.encode("utf-16"), AREAS.replace(";", "\t").encode()])
def test_every_way_of_writing_text_gives_the_same_rows(content: bytes) -> None:
    sheets, _ = area_table.READ_AS.sheets(content)
    shape = asked_tables.proposed(sheets, area_table.READ_AS).shape
    text = asked_tables.retold(sheets[0], Shape(**{**shape.plain, "skipped": (6,)}), area_table.READ_AS)
    lines = lines_under_head(text.encode(), known=area_table.COLUMNS, needed=area_table.NEEDED)
    assert [(line.number, line["code"], line["area_m2"]) for line in lines] == [(4, "N1", "12,5"), (5, "N2", "8")]


def test_certificates_and_batches_are_asked_by_the_same_page(cast: Cast) -> None:
    client = as_person(cast.quinn)
    paper = (
        f"Cert No;Lab;Date;Valid until;Traceable to;Gauge\nC-77;Lab A;13/03/2026;13/03/2027;SI;{cast.gauge.identity}\n"
    )
    where = reverse("certificate_upload")
    asked = client.post(where, {"file": SimpleUploadedFile("c.csv", paper.encode()), "look": "1"})
    shown = client.post(where, answers(asked))
    assert "1 certificate with 1 row; nothing is stored yet." in text_of(shown)
    client.post(where, {"rows": shown.context["form"].initial["rows"], "store": "1"})
    assert str(Certificate.objects.get(number="C-77").issued) == "2026-03-13"
    delivery = "Product;Part;Lot No;Menge;Einheit;Delivered\nFilm 40;A;K-9;160;l;03/02/2026 8:30 AM\n"
    where = reverse("batch_upload", args=[cast.site.project.pk])
    asked = client.post(where, {"file": SimpleUploadedFile("b.csv", delivery.encode()), "look": "1"})
    assert "can be read two ways" in text_of(asked)
    shown = client.post(where, answers(asked, day_order="mdy"))
    assert "1 batch" in text_of(shown)
    assert not PaintBatch.objects.filter(number="K-9").exists()
    client.post(where, {**shown.context["form"].initial, "store": "1"})
    batch = PaintBatch.objects.get(number="K-9")
    assert f"{batch.received_at.astimezone(cast.site.project.zone):%Y-%m-%d %H:%M}" == "2026-03-02 08:30"
    assert batch_table.READ_AS.known == batch_table.COLUMNS


def test_the_same_file_or_the_same_rows_stored_before_are_told_before_and_after_storing(cast: Cast) -> None:
    client, site = as_person(cast.quinn), cast.site
    delivery = "product;component;number;unit;received;received_at\nFilm 40;A;K-9;l;160,50;2026-03-02\n"
    paper = (
        "number;laboratory;issued;expires;traceable_to;thing\n"
        f"C-78;Lab A;2026-03-13;2027-03-13;SI;{cast.gauge.identity}\n"
    )
    for where, rows in (
        (reverse("area_upload", args=[site.project.pk]), "code;name;area_m2\nN1;Wall;12,50\n"),
        (reverse("batch_upload", args=[site.project.pk]), delivery),
        (reverse("certificate_upload"), paper),
    ):

        def send(text: str, where: str = where) -> Any:
            return client.post(where, {"file": SimpleUploadedFile("a.csv", text.encode()), "look": "1"})

        def store(shown: Any, where: str = where) -> str:
            sent = {**shown.context["form"].initial, "came": shown.context["came"], "store": "1"}
            return text_of(client.post(where, sent, follow=True))

        assert "stored before" not in text_of(send(rows))
        assert "stored before" not in store(send(rows))
        assert f"by {cast.quinn.name}." in text_of(send(rows))
        assert "The same file was stored before, on " in text_of(send(rows))
        pasted = client.post(where, {"rows": rows.replace("12,50", "12.5").replace("160,50", "160.5"), "look": "1"})
        assert "The same rows were stored before, on " in text_of(pasted)
        # Of other rows nothing is said, and rows put right are no more those of the file.
        others = rows.replace("Wall", "Roof").replace("K-9", "K-8").replace("C-78", "C-79")
        assert send(others).context["before"] == []
        forged = client.post(where, {"rows": others, "came": send(rows).context["came"], "look": "1"})
        assert forged.context["before"] == []
        # Areas and batches that are there change nothing, and a certificate is refused.
        if "certificate" not in where:
            assert "The same file was stored before, on " in store(send(rows))
    tables = [(row.table, bool(row.project), row.rows) for row in StoredTable.objects.order_by("pk")]
    assert tables == [("areas", True, 1)] * 2 + [("batches", True, 1)] * 2 + [("certificates", False, 1)]
    assert JournalEntry.objects.filter(verb="table.stored").count() == 5
    # Nobody of another house is told.
    other = as_person(cast.clara).post(reverse("batch_upload", args=[site.project.pk]), {"rows": delivery, "look": "1"})
    assert "stored before" not in text_of(other)
