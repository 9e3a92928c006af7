"""Reading CSV and XLSX: what is understood, and what is said of the rest, row by row."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from openpyxl import Workbook

from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.reading_table import MOST_ROWS, Table, as_rows, read_table, template
from inspection.foundation.refusals import Refused
from inspection.foundation.tables import Line, as_csv, lines_under_head
from inspection.foundation.units import Unit
from tests.fieldwork.build import GOOD_SPOTS

OSLO = ZoneInfo("Europe/Oslo")
PLAIN = "spot,reading,thickness_um\n1,1,84.5\n1,2,85\n2,1,79.9\n"
READ = [ReadingSent(1, 1, 84_500), ReadingSent(1, 2, 85_000), ReadingSent(2, 1, 79_900)]


def read(content: bytes | str) -> Table:
    return read_table(content.encode() if isinstance(content, str) else content, zone=OSLO)


def workbook(*rows: tuple[object, ...]) -> bytes:
    book, out = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


def faults(content: bytes | str) -> list[tuple[int | None, str, str]]:
    return [(fault.row, fault.field, fault.message) for fault in read(content).faults]


def refusal(content: bytes | str) -> str:
    with pytest.raises(Refused) as refused:
        read(content)
    return str(refused.value)


@pytest.mark.parametrize(
    "content",
    [
        PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", ";").replace(".", ","),
        'spot,reading,thickness_um\n1,1,"84,5"\n1,2,85\n2,1,"79,9"\n',
        "Spot, Reading, Thickness um\n\n1, 1, 84.50\n1,2,85.0\n\n2,1,79.9\n\n",
        "thickness_µm;spot;reading\n84,5;1;1\n85;1;2\n79,9;2;1",
        "thickness_\u03bcm;spot;reading\n84,5;1;1\n85;1;2\n79,9;2;1",
        b"\xef\xbb\xbf" + PLAIN.encode(),
        b"\xff\xfe" + PLAIN.encode("utf-16-le"),
        b"\xfe\xff" + PLAIN.encode("utf-16-be"),
        PLAIN.encode("utf-16-le"),
        "spot;reading;thickness_µm\n1;1;84,5\n1;2;85\n2;1;79,9\n".encode("latin-1"),
        workbook(("spot", "reading", "thickness_um"), (1, 1, 84.5), (1, 2, 85), (2, 1, 79.9)),
        workbook((), ("spot", "reading", "thickness_um"), (1.0, 1, "84,5"), (), (1, 2, 85.0), (2, 1, 79.9), ()),
    ],
    ids=[
        "commas", "CRLF", "tabs", "semicolons and decimal commas", "quoted decimal commas", "spaces and empty lines",
        "micro sign, other order", "Greek mu", "UTF-8 with mark", "UTF-16 LE", "UTF-16 BE",
        "UTF-16 without mark", "Latin-1", "XLSX", "XLSX with empty lines and text",
    ],
)  # fmt: skip
def test_the_same_readings_are_understood_in_every_form(content: bytes | str) -> None:
    table = read(content)
    assert (table.readings, table.unit, table.faults) == (READ, Unit.UM, [])


def test_the_head_says_mil() -> None:
    table = read("spot,thickness_mil\n1,3.32\n")
    assert (table.unit, table.readings) == (Unit.MIL, [ReadingSent(1, 1, 84_328)])


def test_without_their_number_readings_count_up_within_their_spot() -> None:
    table = read("spot,thickness_um\n1,80\n2,81\n1,82\n")
    assert [reading[:3] for reading in table.readings] == [(1, 1, 80_000), (2, 1, 81_000), (1, 2, 82_000)]


def test_columns_that_mean_nothing_here_are_told_and_not_read() -> None:
    table = read("serial,spot,thickness_um,colour,colour\nX-1,1,84.5,red,\nX-1,1,85,,blue\nX-1,2,79.9,,\n")
    assert (table.readings, table.faults) == (READ, [])
    assert table.not_read == ("serial", "colour", "colour")


def test_a_time_that_came_twice_that_night_is_asked_about_with_its_row() -> None:
    head, twice = "spot,time,thickness_um\n", "2026-10-25 02:30"
    asked = (
        "02:30 came twice that night, since the clocks were put back. "
        "Write 2026-10-25 02:30+02:00 for the first time or 2026-10-25 02:30+01:00 for the second."
    )
    assert faults(f"{head}1,2026-10-25 01:59,80\n2,{twice},81\n") == [(3, "time", asked)]
    readings = read(f"{head}1,{twice}+01:00,80\n").readings
    assert readings[0].taken_at == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert read(as_rows(readings, Unit.UM, OSLO)).readings == readings, "what was written out is read back"


def test_times_without_a_zone_are_the_projects_own() -> None:
    table = read(
        "spot,thickness_um,time,void_reason\n1,80,2026-03-04 14:05,\n1,81,2026-03-04T13:06:00+00:00,probe tilted\n"
    )
    assert [reading.taken_at for reading in table.readings] == [
        datetime(2026, 3, 4, 13, 5, tzinfo=UTC),
        datetime(2026, 3, 4, 13, 6, tzinfo=UTC),
    ]
    assert table.readings[1].void_reason == "probe tilted"


def test_a_worksheet_gives_dates_as_dates_and_no_binary_noise() -> None:
    book = workbook(("spot", "thickness_um", "time"), (1, 0.1 + 0.2, datetime(2026, 3, 4, 14, 5)))  # noqa: DTZ001 - a workbook knows no zone
    assert read(book).readings == [ReadingSent(1, 1, 300, datetime(2026, 3, 4, 13, 5, tzinfo=UTC))]


def test_every_fault_names_its_row_and_column() -> None:
    content = (
        "spot;reading;thickness_um;time\n1;1;-4;\n1;2;eighty;\n0;3;84,5;\n1;x;-84.5;\n2;1;;\n2;2;1e9;\n"
        "2;3;NaN;noon\n1.5;1;84;\n"
    )
    found = faults(content)
    assert [(row, column) for row, column, _ in found] == [
        (2, "thickness_um"), (3, "thickness_um"), (4, "spot"), (5, "reading"), (5, "thickness_um"), (6, "thickness_um"),
        (7, "thickness_um"), (8, "thickness_um"), (8, "time"), (9, "spot"),
    ]  # fmt: skip
    words = [message for *_, message in found]
    assert "negative" in words[0]
    assert "“eighty” is not a number" in words[1]
    assert "is missing" in words[5]
    assert "beyond anything measured" in words[6]


def test_a_decimal_comma_between_comma_separated_columns_is_told_apart() -> None:
    ((row, _, message),) = faults("spot,reading,thickness_um\n1,1,84,5\n")
    assert row == 2
    assert "with a decimal comma, separate the columns by semicolons" in message


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The file is empty"),
        (b" \n\n ", "The file is empty"),
        (b"\xef\xbb\xbf\n", "The file holds no rows"),
        ("spot,thickness_um\n", "no readings under it"),
        (b"\xff\xfesp\xd8\xd8", "is not; save it as UTF-8"),
        (b"\xef\xbb\xbfspot\xff", "is not; save it as UTF-8"),
        (b"spot,thickness_um\n1,84\x81\n", "neither UTF-8 nor Windows-1252"),
        (b"\x89PNG\r\n\x1a\n\x01\x02", "The file is no text"),
        (b"%PDF-1.7\n\x01\x02", "The file is no text"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "cannot be read as an XLS workbook"),
        (b"PK\x03\x04broken", "cannot be read as an XLSX workbook"),
        ('spot,thickness_um\n1,"84\n', "no CSV that can be read"),
        (workbook(), "The file holds no rows"),
        (b"x" * (10 * 1024 * 1024 + 1), "at most 10 MB are read"),
        ("spot,thickness_um\n" + "1,84\n" * (MOST_ROWS + 1), "more than 20000 rows"),
    ],
)
def test_what_is_no_table_of_readings_is_refused_with_the_reason(content: bytes | str, said: str) -> None:
    assert said in refusal(content)


def test_a_zip_of_something_else_is_no_workbook() -> None:
    import zipfile

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("readme.txt", "hello")
    assert "cannot be read as an XLSX workbook" in refusal(out.getvalue())


def test_a_workbook_that_unpacks_to_gigabytes_is_not_unpacked() -> None:
    import zipfile

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * (101 * 1024 * 1024))
    assert "too large when unpacked" in refusal(out.getvalue())


def test_the_template_is_a_file_that_only_lacks_its_readings() -> None:
    empty = template(range(1, 6), 3, "um")
    assert {message for _, column, message in faults(empty) if column == "thickness_um"} == {
        "is missing; give the reading, or take the row out."
    }
    lines = empty.splitlines()
    filled = [lines[0], *(line.replace(",,,", ",84.5,,") for line in lines[1:])]
    assert len(read("\n".join(filled)).readings) == 15


@pytest.mark.parametrize(("unit", "nm"), [(Unit.UM, 84_501), (Unit.MIL, 84_455)])
def test_stored_readings_written_out_are_read_back_exactly(unit: Unit, nm: int) -> None:
    stored = [*GOOD_SPOTS, ReadingSent(9, 1, nm, datetime(2026, 3, 4, 13, 5, tzinfo=UTC), "on a weld, tilted")]
    if unit is Unit.MIL:
        stored = stored[-1:]
    assert read(as_rows(stored, unit, OSLO)).readings == stored


def test_what_begins_like_a_formula_is_written_as_text_and_read_back_as_it_was() -> None:
    """OWASP, CSV injection: such a cell is run by a spreadsheet that opens the table."""
    reasons = ["=1+1", "+SUM(A1)", "-2+3", "@cmd", "'=1+1", "''-x", "-5", "+3,5", "'quoted'", "dust"]
    readings = [ReadingSent(1, order, 80_000, None, why) for order, why in enumerate(reasons, start=1)]
    written = as_rows(readings, Unit.UM, OSLO)
    cells = [line[4] for line in csv.reader(io.StringIO(written))][1:]
    assert cells == ["'=1+1", "'+SUM(A1)", "'-2+3", "'@cmd", "''=1+1", "'''-x", "-5", "+3,5", "'quoted'", "dust"]
    assert [reading.void_reason for reading in read(written).readings] == reasons
    line = Line(2, {"code": "=A1", "name": "-2"})
    table = as_csv([line], ["code", "name"])
    assert table.splitlines()[1] == "'=A1;-2"
    (again,) = lines_under_head(table.encode(), known=("code", "name"), needed=("code",))
    assert again.cells == line.cells
