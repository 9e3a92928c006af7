"""Files made to take a reader's time or memory: each is refused within the limits, and the site stays small.

The reader runs in a process of its own; what is measured here is the process that asked it.
"""

from __future__ import annotations

import io
import re
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook

from tests.cast import Cast

SHEET, STRINGS, TYPES = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "[Content_Types].xml"
OF_STRINGS = b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>'  # noqa: E501 - as a workbook has it
NAMES = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
CELL = b"<c><v>1</v></c>"
LAUGHS = b"".join(b'<!ENTITY %c "%s">' % (98 + step, b"&%c;" % (97 + step) * 10) for step in range(8))
SECONDS, GROWTH_MB = 3, 150


def sheet(rows: bytes, *, before: bytes = b"") -> dict[str, bytes]:
    return {SHEET: before + b"<worksheet %s><sheetData>%s</sheetData></worksheet>" % (NAMES, rows)}


def strings(items: bytes) -> dict[str, bytes]:
    return {STRINGS: b"<sst %s>%s</sst>" % (NAMES, items)}


BOMBS: dict[str, dict[str, bytes]] = {
    "cells in one row": sheet(b'<row r="1">' + CELL * 600_000 + b"</row>"),
    "rows": sheet(b"<row>" + CELL + b"</row>" + b"<row/>" * 600_000),
    "a row far down": sheet(b'<row r="999999999">' + CELL + b"</row>"),
    "a column far out": sheet(b'<row r="1"><c r="ZZZZZZ1"><v>1</v></c></row>'),
    "wide rows": sheet(b"<row>" + CELL * 101 + b"</row>"),
    "one long text in every cell": {
        **strings(b"<si><t>" + b"a" * 1_000_000 + b"</t></si>"),
        **sheet(b"<row>" + b'<c t="s"><v>0</v></c>' * 50 + b"</row>"),
    },
    "texts": {**strings(b"<si><t>abcd</t></si>" * 2_000_000), **sheet(b"<row>" + CELL + b"</row>")},
    "texts that name texts": sheet(
        b'<row><c t="inlineStr"><is><t>&i;</t></is></c></row>',
        before=b'<!DOCTYPE a [<!ENTITY a "' + b"x" * 1000 + b'">' + LAUGHS + b"]>",
    ),
    "what unpacks to 101 MB": {STRINGS: b"0" * (101 * 2**20)},
}
# Of some it is a matter of how fast the machine is which limit is met first.
SAID = {
    "cells in one row": "Row 1 goes on for more than 100 columns; leave|not read within 3 seconds|more memory than",
    "rows": "more than 50,000 lines; divide it|not read within 3 seconds; save",
    "a row far down": "more than 50,000 lines; divide it",
    "a column far out": "cannot be read as an XLSX workbook",
    "wide rows": "Row 1 goes on for more than 100 columns; leave only",
    "one long text in every cell": "more than 20,971,520 characters; divide it",
    "texts": "not read within 3 seconds; save the sheet",
    "texts that name texts": "cannot be read as an XLSX workbook",
    "what unpacks to 101 MB": "too large when unpacked; save the sheet",
}


def workbook(parts: dict[str, bytes]) -> bytes:
    """A workbook in which some parts are others than a program would write."""
    book, plain, packed = Workbook(), io.BytesIO(), io.BytesIO()
    book.active.append(("spot", "thickness_um"))
    book.save(plain)
    with zipfile.ZipFile(plain) as read, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as written:
        for name in dict.fromkeys([*read.namelist(), *parts]):
            content = parts.get(name) or read.read(name)
            told = name == TYPES and STRINGS in parts
            written.writestr(name, content.replace(b"</Types>", OF_STRINGS) if told else content)
    return packed.getvalue()


def most_memory_mb(*, afresh: bool = False) -> int:
    """The most memory this process has held since it was last asked afresh (proc(5): clear_refs, VmHWM)."""
    if afresh:
        Path("/proc/self/clear_refs").write_text("5")
    (held,) = re.findall(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())
    return int(held) // 1024


@pytest.mark.parametrize("kind", BOMBS)
@pytest.mark.once
def test_a_workbook_made_to_burst_is_refused_in_time_and_the_site_stays_small(
    client: Client, cast: Cast, settings: Any, kind: str
) -> None:
    settings.TABLE_READ_SECONDS = SECONDS
    content = workbook(BOMBS[kind])
    client.force_login(cast.quinn)
    before, begun = most_memory_mb(afresh=True), time.monotonic()
    sent = {"file": SimpleUploadedFile("areas.xlsx", content), "look": "1"}
    answer = client.post(reverse("area_upload", args=[cast.site.project.pk]), sent)
    assert time.monotonic() - begun < 3 * SECONDS
    assert most_memory_mb() - before < GROWTH_MB
    assert answer.status_code == 422
    page = answer.content.decode()
    assert re.search(SAID[kind], page)


@pytest.mark.parametrize("name", ["thickness_upload", "certificate_upload"])
@pytest.mark.once
def test_every_table_that_comes_in_is_read_apart(client: Client, cast: Cast, settings: Any, name: str) -> None:
    settings.TABLE_READ_MEMORY_MB = 96
    client.force_login(cast.quinn)
    of_project = name == "thickness_upload"
    sent: dict[str, Any] = {"file": SimpleUploadedFile("t.xlsx", workbook(BOMBS["cells in one row"])), "look": "1"}
    if of_project:
        sent |= {"area": cast.site.area.pk, "coat": cast.site.coats[0].pk, "gauge": cast.gauge.pk,
                 "profile_way": "adjusted"}  # fmt: skip
    answer = client.post(reverse(name, args=[cast.site.project.pk] if of_project else []), sent)
    assert answer.status_code == 422
    assert "takes more memory than a table of that size can need; save the sheet" in answer.content.decode()


def test_text_that_is_large_is_read_apart_as_well(client: Client, cast: Cast) -> None:
    client.force_login(cast.quinn)
    where = reverse("area_upload", args=[cast.site.project.pk])
    before = most_memory_mb(afresh=True)
    answer = client.post(where, {"file": SimpleUploadedFile("areas.csv", b"1," * 4_500_000), "look": "1"})
    assert "Row 1 goes on for more than 100 columns" in answer.content.decode()
    assert most_memory_mb() - before < GROWTH_MB
