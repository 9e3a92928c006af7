"""The lines of a file of text or of a workbook, read under limits. Stands alone: it also runs as a process of its own.

A workbook of 96 kB can unpack to gigabytes, so whatever is not small text is read by `python unpacking.py LIMITS
SEPARATOR`: the file comes in on standard input and the answer goes out on standard output as one JSON object. The
process takes its limits of memory and processor time upon itself first; whoever started it minds the clock.
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
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Any

CSV_TYPE = "text/csv"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
XLS_TYPE = "application/vnd.ms-excel"
ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
PACKED = b"PK\x03\x04"
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
# A workbook has a dozen or so of parts, and some more for each further sheet or picture.
MOST_PARTS = 2_000
MOST_SHEETS = 30
# So many lines tell what parts the cells of a text.
LOOKED_AT = 40
# A comma that stands between no two digits, so that it is no decimal one.
PARTING_COMMA = re.compile(r"(?<!\d),|,(?!\d)")
# What may part the cells of a text; `columns` are those of fixed width, `lines` has one cell a line.
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
COLUMNS, LINES = "columns", "lines"
Lines = list[tuple[int, list[str]]]
Sheets = list[tuple[str, Lines]]


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


def read(content: bytes, limits: Limits, separator: str = "") -> tuple[Sheets, str]:
    """Each sheet with its name and the lines that hold anything, numbered in the file from 1; and the media type.

    A text is one sheet without a name; `separator` says what parts its cells, where that cannot be told from it.
    Raises Unreadable. Of a workbook only the first sheet must be within the limits; another that is not is left out.
    """
    if content.startswith(PACKED) and not _is_ods(content):
        return _sheets(_workbook(content, limits), limits), XLSX_TYPE
    if content.startswith((PACKED, OLD_WORKBOOK)):
        media_type = ODS_TYPE if content.startswith(PACKED) else XLS_TYPE
        return _sheets(_other_workbook(content, limits), limits), media_type
    return [("", list(_within(limits, _separated(_decoded(content), separator))))], CSV_TYPE


def _sheets(found: Iterable[tuple[str, Iterable[list[str]]]], limits: Limits) -> Sheets:
    read: Sheets = []
    for name, lines in islice(found, MOST_SHEETS):
        try:
            kept = list(_within(limits, lines))
        except Unreadable:
            if not read:
                raise
            continue
        if kept or not read:
            read.append((name, kept))
    return [sheet for sheet in read if sheet[1]] or read


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
        # Of letters of our scripts, UTF-16 writes one byte as nothing: the second, or the first.
        for encoding, first in (("utf-16-le", 1), ("utf-16-be", 0)):
            nothing = content[first::2].count(0), content[1 - first :: 2].count(0)
            if 2 * nothing[0] > len(content) // 2 and not nothing[1] and len(content) % 2 == 0:
                return content.decode(encoding, "replace")
        raise Unreadable("The file is no text; save it as CSV in UTF-8.")
    # What spreadsheet programs write where they do not write UTF-8.
    for encoding in ("utf-8", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Unreadable("The file is neither UTF-8 nor Windows-1252 text; save it as CSV in UTF-8.")


def _separated(text: str, separator: str) -> Iterator[list[str]]:
    if any(letter < " " and letter not in "\t\r\n\f" for letter in text[:4096]):
        raise Unreadable("The file is no text; choose a text such as CSV, or a workbook.")
    separator = separator or _separator(text)
    if separator == COLUMNS:
        yield from _of_fixed_width(text.splitlines())
    elif separator == LINES:
        yield from ([line.strip()] for line in text.splitlines())
    else:
        try:
            yield from csv.reader(io.StringIO(text, newline=""), delimiter=SEPARATORS[separator], strict=True)
        except csv.Error as wrong:
            raise Unreadable(f"The file is no CSV that can be read ({wrong}).") from None


def _separator(text: str) -> str:
    """What the first line has most of. Its commas may be those of a title above the head, and further ones decimal:
    then it is what most lines have."""
    first = list(islice((line for line in io.StringIO(text) if line.strip()), LOOKED_AT))
    counts = {name: first[0].count(mark) if first else 0 for name, mark in SEPARATORS.items()}
    of_head = max(("semicolon", "comma", "tab"), key=lambda name: counts[name])
    with_comma = [line for line in first if "," in line]
    parting = sum(bool(PARTING_COMMA.search(line)) for line in first)
    several = sum(line.count(",") > 1 and not any(mark in line for mark in ";\t") for line in first)
    if counts[of_head] and (of_head != "comma" or 2 * parting > len(first)):
        return of_head
    for name in ("semicolon", "tab"):
        if 2 * sum(SEPARATORS[name] in line for line in first) > len(first):
            return name
    widths = [width for line in first if (width := len(re.split(r" {2,}", line.strip()))) > 1]
    if not parting and 2 * len(widths) > len(first) and len(set(widths)) == 1:
        # Most lines have as many cells parted by two blanks or more; their commas are decimal.
        return COLUMNS
    if 2 * max(parting, several) > len(first) or _counts_up(with_comma):
        return "comma"
    if parting and 2 * len(with_comma) > len(first):
        return "comma"
    return COLUMNS if 2 * sum(len(line.split()) > 1 for line in first) > len(first) else LINES


def _counts_up(lines: list[str]) -> bool:
    """Whether what stands before the one comma of each line counts up from 1, as a spot does and a reading does not."""
    before = [line.partition(",")[0].strip() for line in lines if "," in line]
    whole = [int(text) for text in before if text.isascii() and text.isdigit() and len(text) < 7]
    return 0 < len(whole) == len(before) and whole[0] == 1 and whole == sorted(whole)


def _of_fixed_width(lines: list[str]) -> Iterator[list[str]]:
    """Cells where the lines have letters, parted where all have two blanks or more; a title above is one cell."""
    lines = [line.expandtabs(8).rstrip() for line in lines]
    parted = [re.split(r" {2,}", line.strip()) for line in lines]
    table = [line for line, cells in zip(lines, parted, strict=True) if len(cells) > 1]
    if not table:
        yield from (line.split() for line in lines)
        return
    if len({len(cells) for cells in parted if len(cells) > 1}) == 1:
        # No cell is empty, so that each line says by itself where its cells are.
        yield from parted
        return
    longest = max(map(len, table))
    filled = "".join("1" if any(line[place : place + 1].strip() for line in table) else "0" for place in range(longest))
    bounds = [found.span() for found in re.finditer(r"1+(?:01+)*", filled)]
    for line, cells in zip(lines, parted, strict=True):
        yield [line[start:end].strip() for start, end in bounds] if len(cells) > 1 else cells


# --- workbooks --------------------------------------------------------------------------------------------------------
def _unpacked_size(content: bytes, limits: Limits) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        parts = packed.infolist()
        if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > limits.unpacked:
            raise Unreadable("The workbook is too large when unpacked; save the sheet that is wanted as CSV.")


def _is_ods(content: bytes) -> bool:
    # Its first part is its type, not compressed (OpenDocument 1.3, part 2, 3.3).
    return ODS_TYPE.encode() in content[:120]


def _workbook(content: bytes, limits: Limits) -> Iterator[tuple[str, Iterator[list[str]]]]:
    # Nothing here needs it, it costs half a second, and it is there or not by what else is installed.
    sys.modules.setdefault("numpy", None)  # type: ignore[arg-type]  # None is how a module is barred
    from openpyxl import load_workbook  # noqa: PLC0415 - a fifth of a second that only a workbook should cost

    def lines(sheet: Any) -> Iterator[list[str]]:
        sheet.reset_dimensions()
        # One column more than is read tells that there are more, however far they go.
        for cells in sheet.iter_rows(values_only=True, max_col=limits.columns + 1):
            # Of most lines most is padding.
            yield [] if cells.count(None) == len(cells) else _texts(cells)

    with _told("XLSX"):
        _unpacked_size(content, limits)
        sheets = load_workbook(io.BytesIO(content), read_only=True, data_only=True).worksheets
    for sheet in sheets:
        yield sheet.title, _all_told("XLSX", lines(sheet))


def _other_workbook(content: bytes, limits: Limits) -> Iterator[tuple[str, Iterator[list[str]]]]:
    """The sheets of an .ods or an .xls."""
    from python_calamine import CalamineWorkbook  # noqa: PLC0415 - wanted by few files

    kind = "ODS" if content.startswith(PACKED) else "XLS"

    def lines(place: int) -> Iterator[list[str]]:
        sheet = book.get_sheet_by_index(place)
        if sheet.total_height > limits.lines:
            raise Unreadable(f"The file goes on for more than {limits.lines:,} lines; divide it.")
        if sheet.total_width > limits.columns:
            raise Unreadable(f"A row goes on for more than {limits.columns} columns; leave only the wanted ones.")
        for cells in sheet.to_python(skip_empty_area=False):
            yield _texts(tuple(None if cell == "" else cell for cell in cells))

    with _told(kind):
        if kind == "ODS":
            _unpacked_size(content, limits)
        book = CalamineWorkbook.from_object(io.BytesIO(content))
        names = list(book.sheet_names)
    for place, name in enumerate(names):
        yield name, _all_told(kind, lines(place))


@contextmanager
def _told(kind: str) -> Iterator[None]:
    try:
        yield
    except (Unreadable, MemoryError):
        raise
    except Exception as wrong:  # whatever a hostile or broken workbook makes the parser raise
        raise Unreadable(f"The file cannot be read as an {kind} workbook; save it again, or as CSV.") from wrong


def _all_told(kind: str, lines: Iterator[list[str]]) -> Iterator[list[str]]:
    with _told(kind):
        yield from lines


def _texts(cells: tuple[Any, ...]) -> list[str]:
    filled = max((place for place, cell in enumerate(cells, 1) if cell is not None), default=0)
    return ["" if cell is None else _text(cell) for cell in cells[:filled]]


def _text(cell: Any) -> str:
    if isinstance(cell, float):
        # Fifteen digits are what a worksheet means; the rest is the noise of its binary numbers.
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else format(cell, ".15g")
    if isinstance(cell, datetime):
        return cell.isoformat(" ")
    if isinstance(cell, date):
        # As a day is told by the other formats: a moment at midnight.
        return f"{cell.isoformat()} 00:00:00"
    if isinstance(cell, timedelta):
        return str(cell).rpartition(" ")[2]
    return str(cell)


# --- as a process of its own ------------------------------------------------------------------------------------------
def _answer(limits: Limits, separator: str) -> dict[str, Any]:
    resource.setrlimit(resource.RLIMIT_AS, (limits.memory, limits.memory))
    resource.setrlimit(resource.RLIMIT_CPU, (limits.seconds, limits.seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        sheets, media_type = read(sys.stdin.buffer.read(), limits, separator)
        return {"sheets": sheets, "media_type": media_type}
    except Unreadable as refusal:
        return {"unreadable": str(refusal)}
    except MemoryError:
        return {"unreadable": None}


if __name__ == "__main__":
    json.dump(_answer(Limits(**json.loads(sys.argv[1])), sys.argv[2]), sys.stdout)
