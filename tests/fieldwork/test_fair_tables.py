"""Fair tables as gauges and offices write them: what is read for certain, what is asked, and what the answer gives."""

from __future__ import annotations

import base64
import io
import zipfile
import zlib
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from openpyxl import Workbook

from inspection.fieldwork.judging import ReadingSent
from inspection.fieldwork.reading_shape import MEANINGS
from inspection.fieldwork.reading_table import Table, read_table
from inspection.foundation.refusals import Refused
from inspection.foundation.shaping import Shape, Unsure, told
from inspection.foundation.units import Unit

pytestmark = pytest.mark.once
OSLO = ZoneInfo("Europe/Oslo")
AT = datetime(2026, 3, 4, 13, 5, tzinfo=UTC)
THREE = [(1, 1, 84_500), (1, 2, 85_000), (2, 1, 79_900)]
# Two sheets, the readings on the second, with a moment each; written with xlwt 1.3.
XLS = zlib.decompress(base64.b85decode(
    "c-rk)O-NKx6#nk}(b4>wF^#m4hme)&BHBb?qoL_$#9Z`8V59S@!JM&~X;B1OI?Etv)z3z-MH~BB^g{);vPEFjA}9haXwxbvXraE&"
    "J?}l684Vmr!Fb=}o_p`P_ndp)J?H+s_hu?EJ$Aol207RZ74udR3Nm<tQjuHngW4@i7Tw%O$?~wKP~;;=7U+0d`npj1Q2KiY3hrqy"
    "i2|P~9m5d1;xW@$MeJi6!a~~6EHsKe1-B@bp_=WgVA{`gJ=43~_Zia`=3HUgOns-tQA`E98g@Hzd|0XDwlbmuk67jdb9SN%uVfrw"
    "yejOzI$9Ia@aZ+yP^*<-9OTjtGiD}ay$ZMGqCG-r3Wb{5+KkT5J)zJvD#_{N_-Pry4|jFHFg*V1@&$<hE1O^V7ru{NnajVXXuvS6"
    "<3fgX8l`C0WQ$HqH)ST%<olbty-W9);Yc)gGC7M@=-dS;2L{6t(>M`N7-541QY4)mil-=q5_bO*AayF*KM*sM$=<Vr)SikCn#J-^"
    ";7!DzwTYDS(kdYuA?30h;05L<17`1he;exS4)!u<m=6y7c-bP~0v0Yw2@)<_Xt8MnOYC5JnYC`>at+f;dKJp+yQ`eS{t@mo%B}S@"
    "&MwBg;MR=tHY%sT9e7-u{u10y<%y1&^OY0tgJY<p<1Rw-@)<#+XcRZDOFRj>xo|e3PfV*9ZAw1H@7QiRXJ|R*P|U@Eeb6cucqqHl"
    "ru7FaJ*&cTJD{!6Sru%1_N)q?RY~odJ3Dqwp_;l-Q>msox|AGU&#{qt0iJW0t{Vk$RYe{eDp@#rX7l8O;jb-HgSvzUHAA+T=|SOY"
    "P#0;?me8PO$l7{7UT`&NSsFNsuv8Rz@ZiCN2M-=R<Un4Q<W)y?u7bLA(JXZS>&#J__kNT7x9CBfo)mpdwj)M)0_XCIpAFE3t4l0X"
    "#{FL?afn7wU;uq=$3WikOCJg%^L>^r=>K<1DBtnt^RaV<$Nvp3ZXfR"
))  # fmt: skip
NAMES = "urn:oasis:names:tc:opendocument:xmlns:"


def ods(*rows: tuple[str | float, ...]) -> bytes:
    """OpenDocument 1.3, part 3: a sheet as content.xml has it, after the part that says the type."""
    cells = "".join(
        "<table:table-row>" + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>'
            if isinstance(cell, str) else f'<table:table-cell office:value-type="float" office:value="{cell}"/>'
            for cell in row
        ) + "</table:table-row>"
        for row in rows
    )  # fmt: skip
    names = " ".join(f'xmlns:{name}="{NAMES}{name}:1.0"' for name in ("office", "table", "text"))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("META-INF/manifest.xml", f'<manifest:manifest xmlns:manifest="{NAMES}manifest:1.0"/>')
        packed.writestr(
            "content.xml", f'<office:document-content {names}><office:body><office:spreadsheet><table:table '
            f'table:name="A">{cells}</table:table></office:spreadsheet></office:body></office:document-content>',
        )  # fmt: skip
    return out.getvalue()


def book(**sheets: list[tuple[object, ...]]) -> bytes:
    made, out = Workbook(), io.BytesIO()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(out)
    return out.getvalue()


def read(content: bytes | str, **told_of_it: Any) -> Table:
    shape = Shape(**told_of_it) if told_of_it else None
    return read_table(content.encode() if isinstance(content, str) else content, zone=OSLO, shape=shape)


def places(table: Table) -> list[tuple[int, int, int]]:
    return [reading[:3] for reading in table.readings]


ROWS = [("spot", "reading", "thickness_um"), (1, 1, 84.5), (1, 2, 85), (2, 1, 79.9)]
CERTAIN: dict[str, bytes | str] = {
    "five lines of noise above the head": "Gauge 7;\nSerial;4711\nBatch;B-2\n;\nMeasured by;N. N.\nSite;North\n"
    "spot;reading;DFT (um)\n1;1;84,5\n1;2;85,0\n2;1;79,9\n",
    "own names in the trade's words, in German": "Messstelle;Schichtdicke µm\n1;84,5\n1;85\n2;79,9\n",
    "a unit in brackets and other columns": "No.;Spot;DFT [microns];Operator\n1;1;84.5;N\n2;1;85;N\n3;2;79.9;N\n",
    "the unit in the cells": "Spot\tDFT\n1\t84.5 µm\n1\t85 µm\n2\t79.9 µm\n",
    "tabs and decimal commas": "Spot\tDFT µm\n1\t84,5\n1\t85,0\n2\t79,9\n",
    "fixed width": "Spot   Reading   DFT um\n   1         1     84.5\n   1         2     85\n   2         1     79.9\n",
    "fixed width with an empty cell": "Spot   DFT um   Remark\n   1     84.5   weld\n   1     85.0\n   2     79.9\n",
    "UTF-16 with its mark": "Spot\tDFT µm\n1\t84,5\n1\t85,0\n2\t79,9\n".encode("utf-16"),
    "UTF-16 without": "Spot\tDFT µm\r\n1\t84,5\r\n1\t85,0\r\n2\t79,9\r\n".encode("utf-16-le"),
    "Latin-1": "Spot;Schichtdicke [µm]\n1;84,5\n1;85\n2;79,9\n".encode("latin-1"),
    "repeated cells left blank": "Spot;DFT µm\n1;84,5\n;85,0\n2;79,9\n",
    "millimetres": "Spot;DFT [mm]\n1;0,0845\n1;0,085\n2;0.0799 mm\n",
    "spots by their label": "Spot;DFT µm\nS1;84,5\nS1;85,0\nSpot 2;79,9\n",
    "rows by spot": "Spot;DFT 1 µm;DFT 2 µm;DFT 3 µm\n1;84,5;85,0;\n2;79,9;;\n",
    "the second sheet of a workbook": book(Notes=[("made by nobody",)], Readings=ROWS),
    "an .ods": ods(*ROWS),
    "an .xls": XLS,
}  # fmt: skip


@pytest.mark.parametrize("kind", CERTAIN)
def test_a_fair_table_whose_head_says_all_is_read_without_a_question(kind: str) -> None:
    table = read(CERTAIN[kind])
    assert (places(table), table.unit, table.faults) == (THREE, Unit.UM, [])


LIST: dict[str, Any] = {"columns": ("thickness",), "unit": "um", "per_spot": 2}
# What is sent, the parts that are asked for, and what then makes it the three readings.
ASKED: dict[str, tuple[bytes | str, set[str], dict[str, Any]]] = {
    "a list of values": ("84,5\n85,0\n79,9\n", {"unit", "spot"}, LIST),
    "a list with a head": ("Schichtdicke\n84,5\n85,0\n79,9\n", {"unit", "spot"}, LIST | {"head": 1}),
    "a list that ends with its mean": (
        "84.5\n85.0\n79.9\nMean 83.1\nn 3\n", {"unit", "spot"}, LIST | {"separator": "lines", "skipped": (4, 5)},
    ),
    "a head that says no unit": (
        "spot;DFT\n1;84,5\n1;85\n2;79,9\n", {"unit"},
        {"head": 1, "columns": ("spot", "thickness"), "unit": "um"},
    ),
    "heads that may be it": (
        "Place;Value µm\n1;84,5\n1;85\n2;79,9\n", {"columns"},
        {"head": 1, "columns": ("spot", "thickness"), "unit": "um"},
    ),
    "two columns that may be it": (
        "spot;DFT µm;thickness µm\n1;84,5;9\n1;85;9\n2;79,9;9\n", {"columns"},
        {"head": 1, "columns": ("spot", "thickness", ""), "unit": "um"},
    ),
    "two sheets of readings": (book(One=[*ROWS[:1], (1, 1, 60)], Two=ROWS), {"sheet"}, {
        "sheet": 1, "head": 1, "columns": ("spot", "reading", "thickness"), "unit": "um",
    }),
    "a mean below its column": (
        "spot;DFT µm;by\n1;84,5;\n1;85;\n2;79,9;\n;83,1;Mean\n", {"skipped"},
        {"head": 1, "columns": ("spot", "thickness", ""), "unit": "um", "skipped": (5,)},
    ),
    "no head, but columns": (
        "1;1;84,5\n1;2;85\n2;1;79,9\n", {"unit"}, {"columns": ("spot", "reading", "thickness"), "unit": "um"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", ASKED)
def test_what_a_file_does_not_say_is_asked_and_the_answer_reads_it(kind: str) -> None:
    content, asked, answer = ASKED[kind]
    with pytest.raises(Unsure) as unsure:
        read(content)
    assert asked <= {fault.field for fault in unsure.value.faults}
    table = read(content, **answer)
    assert (places(table), table.faults) == (THREE, [])


TIMED = {"head": 1, "columns": ("spot", "thickness", "time"), "unit": "um"}


def test_times_are_read_in_the_orders_in_use_and_asked_about_where_they_are_ambiguous() -> None:
    head = "spot;DFT µm;time\n"
    for text in ("2026-03-04 14:05", "04.03.2026 14:05", "4.3.26 14:05:00", "4 March 2026 2:05 PM", "2026/03/04 14:05"):
        (reading,) = read(f"{head}1;84;{text}\n").readings
        assert reading.taken_at == AT, text
    two_ways = f"{head}1;84;03/04/2026 2:05 PM\n"
    with pytest.raises(Unsure, match="“03/04/2026 2:05 PM” can be read two ways"):
        read(two_ways)
    assert read(two_ways, **TIMED, day_order="mdy").readings[0].taken_at == AT
    # A number above 12 tells the order of all.
    assert read(f"{head}1;84;03/04/2026 14:05\n1;85;03/25/2026 14:05\n").readings[0].taken_at == AT
    alone = f"{head}1;84;11:55 PM\n1;85;12:05 AM\n"
    with pytest.raises(Unsure, match="The times have no day"):
        read(alone)
    night = [datetime(2026, 3, 4, 22, 55, tzinfo=UTC), datetime(2026, 3, 4, 23, 5, tzinfo=UTC)]
    assert [reading.taken_at for reading in read(alone, **TIMED, day="2026-03-04").readings] == night
    given = read_table(alone.encode(), zone=OSLO, day=date(2026, 3, 4))
    assert [reading.taken_at for reading in given.readings] == night
    apart = read("spot;DFT µm;Datum;Uhrzeit\n1;84;04.03.2026;14:05\n1;85;;14:05\n")
    assert [reading.taken_at for reading in apart.readings] == [AT, AT]


def test_the_rows_of_several_areas_are_told_apart_and_each_counts_its_own_spots() -> None:
    table = read("Area;Spot;DFT µm\nA1;1;84,5\n;1;85\nA2;1;79,9\n;2;80\n")
    assert table.areas == ["A1", "A2"]
    assert table.of_area("A1").readings == [ReadingSent(1, 1, 84_500), ReadingSent(1, 2, 85_000)]
    assert places(table.of_area("A2")) == [(1, 1, 79_900), (2, 1, 80_000)]
    assert "2 empty cells of area: taken as what stands above." in table.notes


def test_readings_in_millimetres_say_that_they_were_turned() -> None:
    table = read("Spot;DFT mm\n1;1,250\n1;0.5\n")
    assert [reading.value_nm for reading in table.readings] == [1_250_000, 500_000]
    assert table.notes == ("The readings are turned from mm into µm.",)


def test_what_was_passed_over_or_filled_in_is_told() -> None:
    table = read(CERTAIN["five lines of noise above the head"])
    assert table.notes == ("Passed over as no readings: lines 1, 2, 3, 5, 6.",)
    assert read(CERTAIN["a unit in brackets and other columns"]).not_read == ("no.", "operator")
    assert "Spots are counted in the order of the file, 2 readings each." in read("84\n85\n", **LIST).notes


def test_a_reading_finer_than_a_nanometre_is_kept_between_its_two() -> None:
    table = read("spot,thickness_um\n1,84.55559\n1,85\n")
    assert places(table) == [(1, 1, 84_556), (1, 2, 85_000)]
    assert [reading.value_nm for reading in table.rounded(0) + table.rounded(1)] == [84_555, 85_000, 84_556, 85_000]


def test_a_shape_that_cannot_be_is_refused_by_its_part() -> None:
    for sent, field in (
        ([], "shape"), ({"colour": 1}, "colour"), ({"columns": ["spot", "spot"]}, "columns"), ({"head": -1}, "head"),
        ({"columns": ["mass"]}, "columns"), ({"skipped": "1"}, "skipped"), ({"unit": "inch"}, "unit"),
        ({"day": "4.3.2026"}, "day"), ({"separator": ","}, "separator"), ({"per_spot": True}, "per_spot"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            told(sent, MEANINGS)
        assert refused.value.faults[0].field == field
    whole = told({"columns": ["spot", "thickness", ""], "head": 3, "skipped": [9, 2]}, MEANINGS)
    assert told(whole.plain, MEANINGS) == whole == Shape(("spot", "thickness", ""), 3, (2, 9))
