"""The lines of a CSV or XLSX file, read under limits. Stands alone, because it also runs as a process of its own.

A workbook of 96 kB can unpack to gigabytes, so whatever is not small text is read by `python unpacking.py LIMITS`: the
file comes in on standard input and the answer goes out on standard output as one JSON object. The process takes its
limits of memory and processor time upon itself first; whoever started it minds the clock (see `cells.py`).
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
import resource
import sys
import zipfile
from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import islice
from typing import Any

CSV_TYPE = "text/csv"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PACKED = b"PK\x03\x04"
MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
# A workbook has a dozen or so of parts, and some more for each further sheet or picture.
MOST_PARTS = 2_000
# A comma that stands between no two digits, so that it is no decimal one.
PARTING_COMMA = re.compile(r"(?<!\d),|,(?!\d)")
Lines = list[tuple[int, list[str]]]


class Unreadable(Exception):
    """The file is no table, or more than is read; the sentence says what would be right."""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Limits:
    """What one file may ask for. Lines are counted with the empty ones, rows without; sizes are in bytes."""

    rows: int
    lines: int
    columns: int
    cells: int
    characters: int
    unpacked: int
    memory: int
    seconds: int


def read(content: bytes, limits: Limits) -> tuple[Lines, str]:
    """The lines that hold anything, with their numbers in the file from 1, and its media type. Raises Unreadable."""
    if content.startswith(PACKED):
        lines, media_type = _workbook(content, limits), XLSX_TYPE
    elif content.startswith(b"\xd0\xcf\x11\xe0"):
        raise Unreadable("This is a workbook of an old format (.xls); save it as .xlsx or as CSV.")
    else:
        lines, media_type = _separated(_decoded(content)), CSV_TYPE
    return list(_within(limits, lines)), media_type


def _within(limits: Limits, lines: Iterable[list[str]]) -> Iterator[tuple[int, list[str]]]:
    rows = cells = characters = 0
    for number, line in enumerate(lines, 1):
        if number > limits.lines:
            raise Unreadable(f"The file goes on for more than {limits.lines:,} lines; divide it.")
        while line and not line[-1].strip():
            line.pop()
        if not line:
            continue
        if len(line) > limits.columns:
            raise Unreadable(
                f"Row {number} goes on for more than {limits.columns} columns; leave only the columns that are wanted."
            )
        rows, cells, characters = rows + 1, cells + len(line), characters + sum(map(len, line))
        if rows > limits.rows:
            # Above the rows stands the head.
            raise Unreadable(f"The file has more than {limits.rows - 1} rows; divide it.")
        if cells > limits.cells:
            raise Unreadable(f"The file has more than {limits.cells:,} cells that are filled in; divide it.")
        if characters > limits.characters:
            raise Unreadable(f"The file holds more than {limits.characters:,} characters; divide it.")
        yield number, line


# --- text -------------------------------------------------------------------------------------------------------------
def _decoded(content: bytes) -> str:
    for mark, encoding in MARKS:
        if content.startswith(mark):
            try:
                return content.decode(encoding)
            except UnicodeDecodeError:
                raise Unreadable(f"The file says it is {encoding} but is not; save it as UTF-8.") from None
    if b"\0" in content:
        raise Unreadable("The file is no text, or UTF-16 without its mark; save it as CSV in UTF-8.")
    # What spreadsheet programs write where they do not write UTF-8.
    for encoding in ("utf-8", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Unreadable("The file is neither UTF-8 nor Windows-1252 text; save it as CSV in UTF-8.")


def _separated(text: str) -> Iterator[list[str]]:
    if any(letter < " " and letter not in "\t\r\n\f" for letter in text[:4096]):
        raise Unreadable("The file is no text; choose a CSV or XLSX file.")
    try:
        yield from csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    except csv.Error as wrong:
        raise Unreadable(f"The file is no CSV that can be read ({wrong}).") from None


def _delimiter(text: str) -> str:
    """What the first line has most of. Its commas may be those of a title above the head, and further ones decimal:
    then it is what most lines have."""
    first = list(islice((line for line in io.StringIO(text) if line.strip()), 20))
    of_head = max(";,\t", key=first[0].count) if first else ";"
    if of_head == "," and 2 * sum(bool(PARTING_COMMA.search(line)) for line in first) <= len(first):
        return next((each for each in ";\t" if 2 * sum(each in line for line in first) > len(first)), ",")
    return of_head


# --- workbooks --------------------------------------------------------------------------------------------------------
def _workbook(content: bytes, limits: Limits) -> Iterator[list[str]]:
    # Nothing here needs it, it costs half a second, and it is there or not by what else is installed.
    sys.modules.setdefault("numpy", None)  # type: ignore[arg-type]  # None is how a module is barred
    from openpyxl import load_workbook  # noqa: PLC0415 - a fifth of a second that only a workbook should cost

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > limits.unpacked:
                raise Unreadable("The workbook is too large when unpacked; save the sheet that is wanted as CSV.")
        sheet = load_workbook(io.BytesIO(content), read_only=True, data_only=True).worksheets[0]
        sheet.reset_dimensions()
        # One column more than is read tells that there are more, however far they go.
        for cells in sheet.iter_rows(values_only=True, max_col=limits.columns + 1):
            # Of most lines most is padding.
            yield [] if cells.count(None) == len(cells) else _texts(cells)
    except (Unreadable, MemoryError):
        raise
    except Exception as wrong:  # whatever a hostile or broken workbook makes the parser raise
        raise Unreadable("The file cannot be read as an XLSX workbook; save it again, or as CSV.") from wrong


def _texts(cells: tuple[Any, ...]) -> list[str]:
    filled = max(place for place, cell in enumerate(cells, 1) if cell is not None)
    return ["" if cell is None else _text(cell) for cell in cells[:filled]]


def _text(cell: Any) -> str:
    if isinstance(cell, float):
        # Fifteen digits are what a worksheet means; the rest is the noise of its binary numbers.
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else format(cell, ".15g")
    if isinstance(cell, datetime):
        return cell.isoformat(" ")
    return str(cell)


# --- as a process of its own ------------------------------------------------------------------------------------------
def _answer(limits: Limits) -> dict[str, Any]:
    resource.setrlimit(resource.RLIMIT_AS, (limits.memory, limits.memory))
    resource.setrlimit(resource.RLIMIT_CPU, (limits.seconds, limits.seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        lines, media_type = read(sys.stdin.buffer.read(), limits)
        return {"lines": lines, "media_type": media_type}
    except Unreadable as refusal:
        return {"unreadable": str(refusal)}
    except MemoryError:
        return {"unreadable": None}


if __name__ == "__main__":
    json.dump(_answer(Limits(**json.loads(sys.argv[1]))), sys.stdout)
