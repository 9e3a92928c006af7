"""Rows of a table as text, line by line, with the head's names; nothing is stored and nothing is guessed."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar

from django.core.paginator import Page, Paginator

from inspection.foundation.cells import Sheet, sheets, shielded
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import HEAD_WITHIN
from inspection.foundation.text import wrong_on_a_line

MOST_ROWS = 2_000
MOST_LINES = 50_000
LONGEST_CELL = 300
MOST_DIGITS = 15
# So many rows of a table that was read are shown at a time; as many faults stand above them (fault_list.html).
ROWS_A_PAGE = 100


@dataclass(frozen=True)
class Line:
    """One line under the head: its number in the file (the head is line 1) and its cells by column."""

    number: int
    cells: dict[str, str]
    # Of its table: the columns that mean nothing here, and the lines above the head. They are told, and not read.
    not_read: tuple[str, ...] = ()
    above: tuple[int, ...] = ()

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    def unseen(self) -> list[Fault]:
        """The cells that hold what a short text may not; they are kept as they are, to be put right."""
        found = ((column, wrong_on_a_line(text)) for column, text in self.cells.items())
        return [Fault(wrong, column, self.number) for column, wrong in found if wrong]


@dataclass
class Row:
    """One line of a table with what was found wrong in it."""

    line: Line
    faults: list[Fault] = field(default_factory=list)
    # How its cells are kept, where that is not as they stand: sentences that ask nothing.
    told: list[str] = field(default_factory=list)

    @property
    def number(self) -> int:
        """Its line in the file, where the head is line 1."""
        return self.line.number

    @property
    def wants_look(self) -> bool:
        """Whether whoever looks through the rows wants to see it first."""
        return bool(self.faults or self.told)

    def fault(self, column: str, message: str) -> None:
        self.faults.append(Fault(message, column, self.number))


@dataclass
class Table:
    """The rows of a table as read; `COLUMNS` are those it may have, in their order."""

    COLUMNS: ClassVar[tuple[str, ...]] = ()
    rows: Sequence[Row]

    @property
    def faults(self) -> list[Fault]:
        return [fault for row in self.rows for fault in row.faults]

    @property
    def columns(self) -> list[str]:
        return [column for column in self.COLUMNS if any(row.line[column] for row in self.rows)]

    @property
    def not_read(self) -> tuple[str, ...]:
        """The columns of the file that mean nothing here."""
        return self.rows[0].line.not_read if self.rows else ()

    @property
    def above(self) -> tuple[int, ...]:
        """The lines above the head, which are passed over."""
        return self.rows[0].line.above if self.rows else ()

    @property
    def told(self) -> list[str]:
        """What of the file is not read, in sentences."""
        told = []
        if self.above:
            lines = ", ".join(map(str, self.above))
            told.append(f"Passed over, above the head: line{'s' * (len(self.above) > 1)} {lines}.")
        if self.not_read:
            told.append(f"Columns that mean nothing here are not read: {', '.join(self.not_read)}.")
        return told

    @property
    def digest(self) -> str:
        """The SHA-256 of what it says, in whatever order of rows and columns, and however its figures are written."""
        rows = sorted(
            json.dumps([[name, _plain(row.line[name])] for name in self.COLUMNS if row.line[name]]) for row in self.rows
        )
        return hashlib.sha256("\n".join(rows).encode()).hexdigest()

    @property
    def text(self) -> str:
        """The table as text, to be put right and read again."""
        return as_csv([row.line for row in self.rows], self.columns)

    def window(self, asked: str | None) -> Page[Any]:
        """A window of the rows, each with its cells, named, in the order of the columns.

        Of more than one window holds, those come first that want a look.
        """
        rows = self.rows
        if len(rows) > ROWS_A_PAGE:
            rows = sorted(rows, key=lambda row: not row.wants_look)
        page: Page[Any] = Paginator(rows, ROWS_A_PAGE).get_page(asked)
        columns = self.columns
        page.object_list = [(row, [(column, row.line[column]) for column in columns]) for row in page.object_list]
        return page


def _plain(cell: str) -> str:
    """A figure as it is compared, 12,50 and 12.5 alike; any other text as it stands."""
    try:
        figure = Decimal(cell.replace(",", ".", 1))
    except InvalidOperation:
        return cell
    return f"{figure.normalize():f}" if figure.is_finite() and abs(figure.adjusted()) < MOST_DIGITS else cell


class HeadUnclear(Refused):
    """The file is a table, but its heads do not say what its columns are, or which of its sheets is meant."""


def lines_under_head(content: bytes, *, known: Collection[str], needed: Collection[str]) -> list[Line]:
    """The lines of a file under its head, which may stand below a title, on any sheet; other columns are not read.

    Raises Refused for a file that is no table of these columns, or that has two.
    """
    found, _ = sheets(content, most_rows=MOST_ROWS, most_lines=MOST_LINES)
    if not found[0].lines:
        raise Refused("The file holds no rows.", field="file")
    heads = [_place_of_head(sheet, known) for sheet in found]
    most = max(score for score, _ in heads)
    best = [place for place, (score, _) in enumerate(heads) if score == most]
    if len(best) > 1 and most:
        both = " and ".join(f"“{found[place].name[:40]}”" for place in best[:3])
        raise HeadUnclear(f"The sheets {both} both hold such a table; send one of them alone.", field="file")
    sheet, at = found[best[0]], heads[best[0]][1]
    names, not_read = _head(sheet.lines[at][1], sheet.lines[at][0], known, needed)
    if len(sheet.lines) == at + 1:
        raise Refused("The file has a head but no rows under it.", field="file")
    above = tuple(number for number, _ in sheet.lines[:at])
    return [_line(number, cells, names, not_read, above) for number, cells in sheet.lines[at + 1 :]]


def _place_of_head(sheet: Sheet, known: Collection[str]) -> tuple[int, int]:
    """How many known names the line has that has most of them, and its place; the first line where none has any."""
    scores = [len(set(names_of(cells)) & set(known)) for _, cells in sheet.lines[:HEAD_WITHIN]]
    most = max(scores, default=0)
    return most, scores.index(most) if most else 0


def as_csv(lines: Sequence[Line], columns: Collection[str]) -> str:
    """The lines as CSV text that reads back the same, to be shown, put right and sent again."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([shielded(line[column]) for column in columns] for line in lines)
    return out.getvalue()


def _line(number: int, cells: list[str], names: list[str], not_read: tuple[str, ...], above: tuple[int, ...]) -> Line:
    if any(cell.strip() for cell in cells[len(names) :]):
        words = "has more cells than the head; with a decimal comma, separate columns by semicolons."
        raise Refused(Fault(words, "file", number))
    # A worksheet's day is a moment to it, at midnight.
    trimmed = [cell.strip().removesuffix(" 00:00:00") for cell in cells]
    read = {name: cell for name, cell in zip(names, trimmed, strict=False) if name}
    for name, cell in read.items():
        if len(cell) > LONGEST_CELL:
            raise Refused(Fault(f"The cell holds more than {LONGEST_CELL} characters.", name, number))
    return Line(number, read, not_read, above)


def names_of(cells: Sequence[str]) -> list[str]:
    """Heads as they are compared: “Area (m²)” is area_m2."""
    plain = [cell.strip().lower().replace("µ", "u").replace("\u03bc", "u").replace("²", "2") for cell in cells]
    return [re.sub(r"[^\w]+", "_", cell).strip("_") for cell in plain]


def _head(
    cells: list[str], number: int, known: Collection[str], needed: Collection[str]
) -> tuple[list[str], tuple[str, ...]]:
    """The names of the columns, empty for those that mean nothing here, and the heads of these."""
    names = names_of(cells)
    while names and not names[-1]:
        names.pop()
    missing = [name for name in needed if name not in names]
    faults = [Fault(f"There is no column {name}.", "file", number) for name in missing]
    faults += [Fault(f"Column {name} is there twice.", "file", number) for name in known if names.count(name) > 1]
    if missing:
        faults += [
            Fault(f"Column “{name[:40]}” is not known here; known are {', '.join(known)}.", "file", number)
            for name in names
            if name and name not in known
        ]
    if faults:
        raise HeadUnclear(faults)
    not_read = tuple(cell.strip()[:40] for cell, name in zip(cells, names, strict=False) if name and name not in known)
    return [name if name in known else "" for name in names], not_read
