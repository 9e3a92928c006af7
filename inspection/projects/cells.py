"""The bytes of a CSV or XLSX file as lines of text cells, whatever program wrote it; what it is not is told."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.conf import settings

from accounts.refusals import Refused

CSV_TYPE = "text/csv"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_UNPACKED = 100 * 1024 * 1024
MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


def numbered_lines(content: bytes, *, most: int) -> tuple[Iterator[tuple[int, list[str]]], str]:
    """The lines that hold anything, with their numbers in the file from 1, and the file's media type.

    `most` bounds the lines of a worksheet, which may go on empty for very long. Raises Refused, also while the lines
    are being read, for a file that is no table.
    """
    if not content.strip():
        raise Refused("The file is empty.", field="file")
    if len(content) > settings.UPLOAD_MAX_BYTES:
        allowed = settings.UPLOAD_MAX_BYTES // 2**20
        raise Refused(f"The file has {len(content) / 2**20:.0f} MB; at most {allowed} MB are read.", field="file")
    if content.startswith(b"PK\x03\x04"):
        lines, media_type = _workbook(content, most), XLSX_TYPE
    elif content.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refused("This is a workbook of an old format (.xls); save it as .xlsx or as CSV.", field="file")
    else:
        lines, media_type = _separated(_decoded(content)), CSV_TYPE
    return ((number, line) for number, line in enumerate(lines, 1) if any(cell.strip() for cell in line)), media_type


def _decoded(content: bytes) -> str:
    for mark, encoding in MARKS:
        if content.startswith(mark):
            try:
                return content.decode(encoding)
            except UnicodeDecodeError:
                raise Refused(f"The file says it is {encoding} but is not; save it as UTF-8.", field="file") from None
    if b"\0" in content:
        raise Refused("The file is no text, or UTF-16 without its mark; save it as CSV in UTF-8.", field="file")
    # What spreadsheet programs write where they do not write UTF-8.
    for encoding in ("utf-8", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Refused("The file is neither UTF-8 nor Windows-1252 text; save it as CSV in UTF-8.", field="file")


def _separated(text: str) -> Iterator[list[str]]:
    if any(letter < " " and letter not in "\t\r\n\f" for letter in text[:4096]):
        raise Refused("The file is no text; choose a CSV or XLSX file.", field="file")
    head = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(";,\t", key=head.count)
    try:
        yield from csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    except csv.Error as wrong:
        raise Refused(f"The file is no CSV that can be read ({wrong}).", field="file") from None


def _workbook(content: bytes, most: int) -> Iterator[list[str]]:
    from openpyxl import load_workbook  # noqa: PLC0415 - half a second that only an XLSX file should cost

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise Refused("The workbook is too large when unpacked; save it as CSV.", field="file")
        sheet = load_workbook(io.BytesIO(content), read_only=True, data_only=True).worksheets[0]
        sheet.reset_dimensions()
        for number, cells in enumerate(sheet.iter_rows(values_only=True)):
            if number > most:
                raise Refused(f"The first sheet goes on for more than {most} lines; divide it.", field="file")
            yield [_text(cell) for cell in cells]
    except Refused:
        raise
    except Exception as wrong:  # whatever a hostile or broken workbook makes the parser raise
        told = "The file cannot be read as an XLSX workbook; save it again, or as CSV."
        raise Refused(told, field="file") from wrong


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        # Fifteen digits are what a worksheet means; the rest is the noise of its binary numbers.
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else format(cell, ".15g")
    if isinstance(cell, datetime):
        return cell.isoformat(" ")
    return str(cell)
