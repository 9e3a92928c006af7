"""A table with other heads than ours, or without a head: what must be asked of it, and its rows under our heads.

Each table that comes in declares its columns once (`Columns`); what is asked, remembered and read is the same for all.
What was told gives the rows as text under our own heads, on the lines of the file, which is then read as any other.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from inspection.foundation import cells, column_units, written_times
from inspection.foundation.cells import Sheet, shielded
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import HEAD_WITHIN, Meaning, Proposal, Shape, head_of, heads_of, rows_under, width_of
from inspection.foundation.tables import MOST_LINES, MOST_ROWS, HeadUnclear, lines_under_head, names_of


@dataclass(frozen=True)
class Columns:
    """What the columns of a kind of table may be. `name` is what answers are kept under."""

    name: str
    meanings: tuple[Meaning, ...]
    needed: tuple[str, ...]
    # Those that hold days, or days with a time.
    days: frozenset[str] = frozenset()
    # Of each of these, one at least, with the words for it.
    any_of: tuple[tuple[str, tuple[str, ...]], ...] = ()
    # Where the day may be left out of `clock`, that column, and the one that has the day if there is one.
    clock: str = ""
    day: str = ""
    # Those of which a table may write a thing once for several rows.
    repeated: tuple[str, ...] = ()
    # What heads mean, where a room has words of its own: a name for each, and what about them is doubtful.
    say: Callable[[Sequence[str]], tuple[tuple[str, ...], tuple[str, ...]]] | None = None
    most_rows: int = MOST_ROWS
    most_lines: int = MOST_LINES
    most_cells: int = cells.MOST_CELLS

    def sheets(self, content: bytes, separator: str = "") -> tuple[list[Sheet], str]:
        """The sheets of a file of these, within their limits, and its media type. Raises Refused for no table."""
        most = {"most_rows": self.most_rows, "most_lines": self.most_lines, "most_cells": self.most_cells}
        return cells.sheets(content, separator=separator, **most)

    @property
    def telling(self) -> tuple[str, ...]:
        """The columns without which a line is no row."""
        return self.needed or self.any_of[0][1]

    @property
    def known(self) -> tuple[str, ...]:
        return tuple(one.name for one in self.meanings)

    @property
    def units(self) -> dict[str, str]:
        """The unit of each column that has one."""
        return {one.name: one.unit for one in self.meanings if one.unit}

    def label(self, name: str) -> str:
        return next(one.label for one in self.meanings if one.name == name)


def can_be(name: str, label: str, words: str = "", *, unit: str = "") -> Meaning:
    """A column by its own name and the words of the trade that mean it (common practice, no source)."""
    return Meaning(name, label, frozenset(filter(None, words.split("|"))), unit=unit)


def is_certain(content: bytes, columns: Columns) -> bool:
    """Whether the file says for certain how it is read. Raises Refused for what is no table at all."""
    sheets, _ = columns.sheets(content)
    if not any(sheet.lines for sheet in sheets):
        return True
    if columns.say:
        found = proposed(sheets, columns)
        return not found.asked and not likely_noise(sheets[found.shape.sheet], found.shape, columns)
    try:
        lines = lines_under_head(content, known=columns.known, needed=columns.needed)
    except HeadUnclear:
        # Where no rows stand below, there is nothing to tell of them.
        return not any(len(sheet.lines) > 1 for sheet in sheets)
    if set(filter(None, proposed(sheets, columns).shape.columns)) - set(lines[0].cells):
        # A head says in other words what a column is that was not read.
        return False
    if written_times.day_order_of(line[name] for line in lines for name in columns.days) != "":
        return False
    shape = proposed(sheets, columns).shape
    return not _written_once(sheets[shape.sheet], shape, columns)


def proposed(sheets: Sequence[Sheet], columns: Columns, *, separator: str = "") -> Proposal:
    """The shape of a file by its heads: of several sheets the one that speaks most for itself."""
    looked = [under_head(sheet, Shape(sheet=place, separator=separator), columns) for place, sheet in enumerate(sheets)]
    scores = [len(set(filter(None, shape.columns))) for shape in looked]
    best = scores.index(max(scores))
    asked = []
    if scores.count(scores[best]) > 1:
        names = ", ".join(f"“{sheet.name[:40]}”" for sheet in sheets)
        asked.append(Fault(f"The workbook has the sheets {names}; say which is meant.", "sheet"))
    found = completed(sheets[best], looked[best], columns)
    _, doubts = columns.say(heads_of(sheets[best], found.shape)) if columns.say and found.shape.head else ((), ())
    return Proposal(found.shape, (*asked, *(Fault(told, "columns") for told in doubts), *found.asked))


def under_head(sheet: Sheet, shape: Shape, columns: Columns, head: int | None = None) -> Shape:
    """The shape proposed for a sheet; with `head` where the line of its head is known, 0 for none."""
    within = [line for line in sheet.lines[:HEAD_WITHIN] if head in (None, line[0])]
    best = max(within, key=lambda line: len(set(filter(None, _likely(line[1], columns)))), default=(0, []))
    taken = _likely(best[1], columns)
    if not any(taken) and head is None:
        return replace(shape, head=0, columns=("",) * width_of(sheet))
    return replace(shape, head=best[0], columns=taken or ("",) * width_of(sheet))


def _likely(heads: Sequence[str], columns: Columns) -> tuple[str, ...]:
    """By our own name, else by the words of the trade; what is taken already is not taken again."""
    if columns.say:
        return columns.say(heads)[0]
    names, words = names_of(heads), [head_of(cell)[0] for cell in heads]
    taken: dict[int, str] = {}
    for place, name in enumerate(names):
        if name in columns.known and name not in taken.values():
            taken[place] = name
    for place, cell in enumerate(heads):
        fitting = (one.name for one in columns.meanings if one.name not in taken.values() and _in_a_unit(cell, one))
        if place not in taken and (name := next(fitting, "")):
            taken[place] = name
    for place, word in enumerate(words):
        fitting = (one.name for one in columns.meanings if word in one.heads and one.name not in taken.values())
        if place not in taken and (name := next(fitting, "")):
            taken[place] = name
    return tuple(taken.get(place, "") for place in range(len(heads)))


def _in_a_unit(head: str, one: Meaning) -> bool:
    """Whether a head says the column in some unit of its measure: “Fläche [cm²]” is the area."""
    if not one.unit:
        return False
    base, unit = column_units.split(head, one.unit)
    return bool(unit) and base in {column_units.split(known, one.unit)[0] for known in (one.name, *one.heads)}


def completed(sheet: Sheet, shape: Shape, columns: Columns) -> Proposal:
    """What of a shape follows from its sheet, filled in, and what does not, asked."""
    asked = [
        Fault(f"No column is known to be “{columns.label(name)}”; say which it is.", "columns")
        for name in columns.needed
        if name not in shape.columns
    ]
    asked += [
        Fault(f"No column is known to be {words}; say which it is.", "columns")
        for words, names in columns.any_of
        if not set(names) & set(shape.columns)
    ]
    if columns.clock and not shape.day and columns.day not in shape.columns and _without_day(sheet, shape, columns):
        asked.append(Fault("The times have no day; say on which day the first of them was.", "day"))
    if not shape.blanks and (once := _written_once(sheet, shape, columns)):
        labels = " and ".join(columns.label(name) for name in once)
        told = f"Below a filled cell of {labels} some are empty; say whether they mean the same as above, or nothing."
        asked.append(Fault(told, "blanks"))
    if not shape.day_order:
        places = [place for name in columns.days for place in shape.places(name)]
        texts = [line[place] for _, line in rows_under(sheet, shape) for place in places if place < len(line)]
        order = written_times.day_order_of(texts)
        shape = replace(shape, day_order=order or "")
        if order is None:
            first = next(text for text in texts if written_times.TWO_WAYS.match(text))[:40]
            told = f"“{first}” can be read two ways; say whether the day or the month comes first."
            asked.append(Fault(told, "day_order"))
    return Proposal(shape, tuple(asked))


def _written_once(sheet: Sheet, shape: Shape, columns: Columns) -> list[str]:
    """The columns that look as if a thing were written once for the rows below it: the first row has it, some below
    have none, and none says the same as the row above it."""
    once = []
    noise = set(likely_noise(sheet, shape, columns)) if columns.repeated else set()
    rows = [line for number, line in rows_under(sheet, shape) if number not in noise]
    for name in columns.repeated:
        place = shape.place(name)
        texts = [line[place].strip() if place < len(line) else "" for line in rows] if place is not None else []
        doubled = any(one and one == other for one, other in pairwise(texts))
        if texts and texts[0] and not all(texts) and not doubled:
            once.append(name)
    return once


def _without_day(sheet: Sheet, shape: Shape, columns: Columns) -> bool:
    """Whether the first time that can be read is one of day alone."""
    place = shape.place(columns.clock)
    if place is None:
        return False
    for _, line in rows_under(sheet, shape):
        try:
            day, at = written_times.written(line[place] if place < len(line) else "", "dmy")
        except ValueError:
            continue
        if at is not None:
            return day is None
    return False


def likely_noise(sheet: Sheet, shape: Shape, columns: Columns) -> tuple[int, ...]:
    """Lines under the head that leave all needed columns empty but hold something: proposed to be passed over.

    A day or a time has a digit; words in its place are none.
    """
    places = [(place, name in columns.days) for name in columns.telling for place in shape.places(name)]
    return tuple(
        number
        for number, line in rows_under(sheet, replace(shape, skipped=()))
        if places and not any(place < len(line) and _says(line[place], digit=digit) for place, digit in places)
    )


def _says(cell: str, *, digit: bool) -> bool:
    return any(map(str.isdigit, cell)) if digit else bool(cell.strip())


def retold(sheet: Sheet, shape: Shape, columns: Columns) -> str:
    """The rows under our heads, as text that `lines_under_head` reads, each on the line it has in the file.

    Days are written so that they can be read one way only. Raises Refused where something is still to be asked.
    """
    found = completed(sheet, shape, columns)
    if found.asked:
        raise Refused(found.asked)
    shape, names = found.shape, columns.known
    lines = dict(_filled(sheet, shape, columns))
    if not lines:
        raise Refused("No rows are left under the head.", field="skipped")
    in_heads = _units_in_heads(sheet, shape, columns)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    # Without a head, ours takes a line of its own.
    for number in range(min(shape.head, 1), max(lines) + 1):
        if number == shape.head:
            writer.writerow(names)
        elif number in lines:
            row = lines[number]
            places = (shape.place(name) for name in names)
            texts = ["" if place is None or place >= len(row) else row[place].strip() for place in places]
            named = zip(names, texts, strict=True)
            read = [_as_kept(name, text, shape, columns, in_heads) for name, text in named]
            writer.writerow([shielded(text) for text in read])
        else:
            out.write("\n")
    return out.getvalue()


def _filled(sheet: Sheet, shape: Shape, columns: Columns) -> Iterator[tuple[int, list[str]]]:
    """The rows, with what stands above in cells that are empty where it was told that they mean it."""
    places = [place for name in columns.repeated for place in shape.places(name)] if shape.blanks == "above" else []
    above: dict[int, str] = {}
    for number, line in rows_under(sheet, shape):
        full = [*line, *[""] * (max(places, default=0) + 1 - len(line))] if places else line
        for place in places:
            above[place] = full[place] = full[place].strip() or above.get(place, "")
        yield number, full


def _units_in_heads(sheet: Sheet, shape: Shape, columns: Columns) -> dict[str, tuple[str, str]]:
    """By column with a measure the head that names a unit, and the unit."""
    heads = heads_of(sheet, shape) if shape.head else []
    found = {}
    for name, ours in columns.units.items():
        place = shape.place(name)
        if place is not None and place < len(heads) and (unit := column_units.split(heads[place], ours)[1]):
            found[name] = heads[place], unit
    return found


def _as_kept(name: str, text: str, shape: Shape, columns: Columns, in_heads: dict[str, tuple[str, str]]) -> str:
    """A cell as it is read: a day so that it can be read one way only, a figure in the unit of its column."""
    if name in columns.days:
        return _day(text, shape.day_order)
    ours = columns.units.get(name)
    return column_units.in_ours(text, ours, in_heads.get(name, ("", ""))[1]) if ours else text


def _day(text: str, order: str) -> str:
    """A day or moment in ISO 8601; what is none stays as it is, to be told beside its row."""
    try:
        day, at = written_times.written(text, order)
    except ValueError:
        return text
    return str(at)[:16] if day and at else str(day) if day else text


def told_of(sheet: Sheet, shape: Shape, columns: Columns) -> list[str]:
    """What a shape passes over, fills in and turns into other units, in sentences."""
    left = not_read(sheet, shape)
    told = [f"Columns that are not read: {', '.join(head[:40] for head in left)}."] if left else []
    told += passed_over(sheet, shape)
    before = dict(rows_under(sheet, shape))
    for name in columns.repeated if shape.blanks == "above" else ():
        place = shape.place(name)
        if place is not None:
            many = sum(not "".join(before[number][place : place + 1]).strip() for number in before)
            words = f"{many} empty cell{'s' * (many > 1)} of “{columns.label(name)}”: taken as what stands above."
            told += [words] if many else []
    for name, (head, unit) in _units_in_heads(sheet, shape, columns).items():
        ours = columns.units[name]
        if column_units.IN_OURS[ours][unit] != 1:
            told.append(f"“{head[:40]}” is turned from {column_units.shown(unit)} into {column_units.shown(ours)}.")
    return told


def not_read(sheet: Sheet, shape: Shape) -> list[str]:
    """The heads of the columns that mean nothing here."""
    heads = enumerate(heads_of(sheet, shape))
    return [head for place, head in heads if head and shape.columns[place : place + 1] in ((), ("",))]


def passed_over(sheet: Sheet, shape: Shape) -> list[str]:
    above = [number for number, _ in sheet.lines if number < shape.head]
    passed = sorted({*above, *shape.skipped})
    shown = f"{', '.join(map(str, passed[:40]))}{' and more' if len(passed) > 40 else ''}"
    return [f"Lines passed over: {shown}."] if passed else []
