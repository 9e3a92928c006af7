"""What the lines and columns of a table mean, whoever made it: proposed from the sheet, certain or to be asked.

A shape says it: the sheet, the line of the head, what each column is, the lines that are noise, and what the file
leaves unsaid. It stores as JSON and is the same on the page, in the API and where it is remembered. Nothing here
guesses past what a head says in known words: the rest is a proposal, and whoever sends the file answers.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from typing import Any

from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit
from inspection.foundation.unpacking import COLUMNS, LINES, SEPARATORS
from inspection.foundation.written_times import DAY_ORDERS

BLANKS = {"above": "the same as above them", "nothing": "nothing"}
# What is written above a head: a title, a serial number, settings.
HEAD_WITHIN = 40
MOST_COLUMNS = 40
MOST_SKIPPED = 200
MOST_A_SPOT = 100
LONGEST_HEAD = 60
# Of one file, and no answer for the next.
OF_ONE_FILE = ("sheet", "skipped", "day")
# Of thick films; turned into µm where it is read.
MM = "mm"
UNIT_WORDS: dict[str, str] = {
    "um": Unit.UM, "micron": Unit.UM, "microns": Unit.UM, "micrometre": Unit.UM, "micrometres": Unit.UM,
    "micrometer": Unit.UM, "micrometers": Unit.UM, "mil": Unit.MIL, "mils": Unit.MIL,
    "mm": MM, "millimetre": MM, "millimetres": MM, "millimeter": MM, "millimeters": MM,
}  # fmt: skip
SEPARATOR_NAMES = {
    "comma": "Commas", "semicolon": "Semicolons", "tab": "Tabs", COLUMNS: "Blanks, in columns of fixed width",
    LINES: "Nothing: each line is one cell",
}  # fmt: skip


@dataclass(frozen=True)
class Meaning:
    """What a column may be: heads that say so for certain, and beginnings of heads that only make it likely."""

    name: str
    label: str
    heads: frozenset[str]
    likely: tuple[str, ...] = ()
    # Several columns may be this.
    many: bool = False
    # In which it is kept, by a name of `column_units`; empty where it is no measure.
    unit: str = ""


@dataclass(frozen=True)
class Shape:
    """How a table is read. Lines count from 1 as in the file; `head` 0 is a table without one; sheets count from 0."""

    columns: tuple[str, ...] = ()
    head: int = 0
    skipped: tuple[int, ...] = ()
    sheet: int = 0
    separator: str = ""
    unit: str = ""
    day_order: str = ""
    day: str = ""
    per_spot: int = 0
    # What empty cells below a filled one mean, where a table writes a thing once: the same, or nothing.
    blanks: str = ""

    @property
    def plain(self) -> dict[str, Any]:
        return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(self).items()}

    def place(self, name: str) -> int | None:
        """The first column that is this."""
        return self.columns.index(name) if name in self.columns else None

    def places(self, name: str) -> list[int]:
        return [place for place, meant in enumerate(self.columns) if meant == name]


@dataclass(frozen=True)
class Proposal:
    """A shape for a file, and what about it must be asked: each fault bears the name of the part of the shape."""

    shape: Shape
    asked: tuple[Fault, ...]


class Unsure(Refused):
    """The file can be read, but not for certain; the faults say what must be told of it."""

    def __init__(self, proposal: Proposal) -> None:
        super().__init__(proposal.asked)
        self.proposal = proposal


def head_of(cell: str) -> tuple[str, str | None]:
    """A head in plain words, without its unit; and the unit: “Schichtdicke [µm]” is (schichtdicke, µm)."""
    plain = cell.strip().casefold().replace("µ", "u").replace("\u03bc", "u")
    words = re.findall(r"[^\W_]+|#", plain)
    unit = next((UNIT_WORDS[word] for word in words if word in UNIT_WORDS), None)
    return " ".join(word for word in words if word not in UNIT_WORDS), unit


def fingerprint(sheet: Sheet, shape: Shape) -> str:
    """A digest by which the next file of the same make is known: its head, or how many columns it has without one."""
    cells = next((cells for number, cells in sheet.lines if number == shape.head), None)
    # With its unit: what was told of a head in µm says nothing of one in mil.
    heads = [" ".join(filter(None, head_of(cell))) for cell in cells] if cells else []
    known = heads or [f"{len(shape.columns)} columns"]
    return hashlib.sha256("\n".join(known).encode()).hexdigest()


def lasting(shape: Shape) -> dict[str, Any]:
    """What of a shape may be the answer for the next file too."""
    return {name: value for name, value in shape.plain.items() if name not in OF_ONE_FILE}


def laid_on(shape: Shape, digest: str, sheets: Sequence[Sheet]) -> Shape | None:
    """A shape that was told of an earlier file, on the sheet and line of this one where the same head stands."""
    for place, sheet in enumerate(sheets):
        lines = [number for number, _ in sheet.lines[:HEAD_WITHIN]] if shape.head else [0]
        for head in lines:
            here = replace(shape, sheet=place, head=head)
            if (head or width_of(sheet) == len(shape.columns)) and fingerprint(sheet, here) == digest:
                return here
    return None


def width_of(sheet: Sheet) -> int:
    return min(max((len(cells) for _, cells in sheet.lines), default=0), MOST_COLUMNS)


def heads_of(sheet: Sheet, shape: Shape) -> list[str]:
    """The words of the head, filled up to the columns of the shape; without a head “Column 1” and so on."""
    cells = next((cells for number, cells in sheet.lines if shape.head and number == shape.head), [])
    width = max(len(shape.columns), len(cells))
    return [cells[at].strip() if at < len(cells) else "" if shape.head else f"Column {at + 1}" for at in range(width)]


def rows_under(sheet: Sheet, shape: Shape) -> Iterator[tuple[int, list[str]]]:
    """The lines below the head that are not noise."""
    skipped = set(shape.skipped)
    return ((number, cells) for number, cells in sheet.lines if number > shape.head and number not in skipped)


def head_proposed(sheet: Sheet, meanings: Sequence[Meaning]) -> tuple[int, tuple[str, ...]]:
    """The line of the head and what its columns are likely to be; (0, ()) where no line has such words."""
    best: tuple[int, int, tuple[str, ...]] = (0, 0, ())
    for number, cells in sheet.lines[:HEAD_WITHIN]:
        score, columns = likely_columns(cells, meanings)
        if score > best[0]:
            best = (score, number, columns)
    return best[1:]


def likely_columns(heads: Sequence[str], meanings: Sequence[Meaning]) -> tuple[int, tuple[str, ...]]:
    """What the columns under these heads are likely to be, and how much speaks for it."""
    words = [head_of(cell)[0] for cell in heads]
    surely = [next((one.name for one in meanings if word in one.heads), "") for word in words]
    likely = [one for one in meanings if one.name not in surely]
    columns = [
        sure or next((one.name for one in likely if word and word.startswith(one.likely)), "")
        for sure, word in zip(surely, words, strict=True)
    ]
    score = 10 * len(set(filter(None, surely))) + len(set(filter(None, columns)))
    return score, tuple(_once(columns, meanings))


def _once(columns: Iterable[str], meanings: Sequence[Meaning]) -> Iterable[str]:
    """What one column has alone is proposed for the first of them; that there are two is asked by the room."""
    many, seen = {one.name for one in meanings if one.many}, set[str]()
    for name in columns:
        yield name if name in many or name not in seen else ""
        seen.add(name)


def told(data: Any, meanings: Sequence[Meaning]) -> Shape:
    """A shape as it was sent, checked. Raises Refused, naming the part."""
    if not isinstance(data, Mapping):
        raise Refused("Give an object, such as {“head”: 1, “columns”: [“spot”, “thickness”]}.", field="shape")
    faults = [Fault("There is no such part of a shape.", str(name)[:40]) for name in data if name not in PARTS]
    known = {one.name for one in meanings} | {""}
    columns = data.get("columns", [])
    if not _list_of(columns, str) or len(columns) > MOST_COLUMNS:
        faults.append(Fault(f"Give a list of at most {MOST_COLUMNS} names; an empty one is not read.", "columns"))
    elif wrong := [name for name in columns if name not in known]:
        names = ", ".join(sorted(known - {""}))
        faults.append(Fault(f"“{wrong[0][:40]}” is nothing that a column can be; it can be {names}.", "columns"))
    elif twice := [one for one in meanings if not one.many and columns.count(one.name) > 1]:
        faults.append(Fault(f"{twice[0].label} can be one column only.", "columns"))
    skipped = data.get("skipped", [])
    if not _list_of(skipped, int) or len(skipped) > MOST_SKIPPED:
        faults.append(Fault(f"Give a list of at most {MOST_SKIPPED} line numbers.", "skipped"))
    for name, most in (("head", 10**7), ("sheet", 100), ("per_spot", MOST_A_SPOT)):
        value = data.get(name, 0)
        if type(value) is not int or not 0 <= value <= most:
            faults.append(Fault(f"Give a whole number from 0 to {most}.", name))
    for name, choices in CHOICES.items():
        if data.get(name, "") not in ("", *choices):
            faults.append(Fault(f"Give one of {', '.join(choices)}, or leave it out.", name))
    faults += _day_faults(data.get("day", ""))
    if faults:
        raise Refused(faults)
    return Shape(**{**data, "columns": tuple(columns), "skipped": tuple(sorted(set(skipped)))})


def _day_faults(day: Any) -> list[Fault]:
    try:
        if day:
            date.fromisoformat(day)
    except (TypeError, ValueError):
        return [Fault("Give a day such as 2026-03-04, or leave it out.", "day")]
    return [] if isinstance(day, str) else [Fault("Give a day such as 2026-03-04, or leave it out.", "day")]


def _list_of(value: Any, kind: type) -> bool:
    return isinstance(value, list | tuple) and all(type(each) is kind for each in value)


PARTS = frozenset(field.name for field in fields(Shape))
CHOICES: dict[str, tuple[str, ...]] = {
    "separator": (*SEPARATORS, COLUMNS, LINES), "unit": (*Unit.values, MM), "day_order": tuple(DAY_ORDERS),
    "blanks": tuple(BLANKS),
}  # fmt: skip
