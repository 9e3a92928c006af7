"""Rows of a CSV or XLSX file as text, line by line, with the head's names; nothing is stored and nothing is guessed."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings

from accounts.refusals import Fault, Refused

MOST_ROWS = 2_000
MOST_UNPACKED = 50 * 1024 * 1024
MOST_LINES = 50_000
LONGEST_CELL = 300


@dataclass(frozen=True)
class Line:
    """One line under the head: its number in the file (the head is line 1) and its cells by column."""

    number: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


def lines_under_head(content: bytes, *, known: Collection[str], needed: Collection[str]) -> list[Line]:
    """The lines of a file under its head. Raises Refused for a file that is no table of these columns."""
    if not content.strip():
        raise Refused("The file is empty.", field="file")
    if len(content) > settings.UPLOAD_MAX_BYTES:
        raise Refused(f"The file is too large; at most {settings.UPLOAD_MAX_BYTES // 2**20} MB are read.", field="file")
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refused("This is a workbook of an old format (.xls); save it as .xlsx or as CSV.", field="file")
    found = _xlsx(content) if content.startswith(b"PK\x03\x04") else _csv(_decoded(content))
    numbered = [(number, cells) for number, cells in enumerate(found, start=1) if any(cell.strip() for cell in cells)]
    if not numbered:
        raise Refused("The file holds no rows.", field="file")
    head_number, head = numbered[0]
    names = _head(head, head_number, known, needed)
    if len(numbered) == 1:
        raise Refused("The file has a head but no rows under it.", field="file")
    if len(numbered) > MOST_ROWS + 1:
        raise Refused(f"The file has more than {MOST_ROWS} rows; divide it.", field="file")
    return [_line(number, cells, names) for number, cells in numbered[1:]]


def as_csv(lines: list[Line], columns: Collection[str]) -> str:
    """The lines as CSV text that reads back the same, to be shown, put right and sent again."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([line[column] for column in columns] for line in lines)
    return out.getvalue()


def _line(number: int, cells: list[str], names: list[str]) -> Line:
    if any(cell.strip() for cell in cells[len(names) :]):
        words = "has more cells than the head; with a decimal comma, separate columns by semicolons."
        raise Refused(Fault(words, "file", number))
    trimmed = [cell.strip() for cell in cells]
    for name, cell in zip(names, trimmed, strict=False):
        if len(cell) > LONGEST_CELL:
            raise Refused(Fault(f"The cell holds more than {LONGEST_CELL} characters.", name, number))
    return Line(number, dict(zip(names, trimmed, strict=False)))


def _head(cells: list[str], number: int, known: Collection[str], needed: Collection[str]) -> list[str]:
    names = [cell.strip().lower().replace(" ", "_").replace("\u03bc", "u").replace("µ", "u") for cell in cells]
    while names and not names[-1]:
        names.pop()
    faults = [
        Fault(f"Column “{name[:40]}” is not known here; known are {', '.join(known)}.", "file", number)
        for name in names
        if name not in known
    ]
    faults += [Fault(f"There is no column {name}.", "file", number) for name in needed if name not in names]
    faults += [Fault(f"Column {name} is there twice.", "file", number) for name in set(names) if names.count(name) > 1]
    if faults:
        raise Refused(faults)
    return names


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif b"\0" in content:
        encodings = []
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not any(letter < " " and letter not in "\t\r\n" for letter in text):
            return text
    raise Refused("The file is no text that can be read; save it as CSV in UTF-8.", field="file")


def _csv(text: str) -> Iterator[list[str]]:
    head = next((line for line in text.splitlines() if line.strip()), "")
    try:
        yield from csv.reader(io.StringIO(text, newline=""), delimiter=max(";,\t", key=head.count), strict=True)
    except csv.Error as wrong:
        raise Refused(f"The file is no CSV that can be read ({wrong}).", field="file") from None


def _xlsx(content: bytes) -> Iterator[list[str]]:
    from openpyxl import load_workbook  # noqa: PLC0415 - half a second that only an XLSX file should cost

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise Refused("The workbook is too large when unpacked; save it as CSV.", field="file")
        sheet = load_workbook(io.BytesIO(content), read_only=True, data_only=True).worksheets[0]
        sheet.reset_dimensions()
        for number, cells in enumerate(sheet.iter_rows(values_only=True)):
            if number > MOST_LINES:
                raise Refused(f"The first sheet goes on for more than {MOST_LINES} lines; divide it.", field="file")
            yield [_cell(cell) for cell in cells]
    except Refused:
        raise
    except Exception as wrong:  # whatever a hostile or broken workbook makes the parser raise
        raise Refused("The file cannot be read as an XLSX workbook; save it as CSV.", field="file") from wrong


def _cell(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        # Fifteen digits are what a worksheet means; the rest is the noise of its binary numbers.
        return format(cell, ".15g")
    if isinstance(cell, datetime):
        return cell.date().isoformat() if not (cell.hour or cell.minute or cell.second) else cell.isoformat(" ")
    return str(cell)
