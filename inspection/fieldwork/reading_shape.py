"""What a file of readings may hold, and what of it must be asked before its rows can be read."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from inspection.foundation import written_times
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Fault
from inspection.foundation.shaping import (
    UNIT_WORDS,
    Meaning,
    Proposal,
    Shape,
    head_of,
    head_proposed,
    heads_of,
    likely_columns,
    rows_under,
    width_of,
)

AREA, SPOT, READING, THICKNESS = "area", "spot", "reading", "thickness"
DATE, TIME, VOID = "date", "time", "void_reason"


def _means(name: str, label: str, heads: str, likely: str = "", *, many: bool = False) -> Meaning:
    return Meaning(name, label, frozenset(heads.split("|")), tuple(filter(None, likely.split("|"))), many)


# Words of the trade in English and German, without their unit (common practice, no source).
MEANINGS = (
    _means(AREA, "Inspection area", "area|inspection area|area code|bereich|prüffläche|prüfbereich", "area"),
    _means(SPOT, "Spot", "spot|spot no|spot number|spot nr|spot #|measuring spot|messstelle|messpunkt", "spot|place"),
    _means(READING, "Reading’s number in its spot", "reading|reading no|reading number|reading nr|reading #"),
    _means(
        THICKNESS, "Thickness",
        "thickness|dft|dry film thickness|film thickness|coating thickness|schichtdicke|trockenschichtdicke",
        "thick|dft|value|schicht|messwert|wert|reading value|result", many=True,
    ),
    _means(DATE, "Day", "date|day|datum|tag", "date|datum"),
    _means(TIME, "Time", "time|date time|datetime|timestamp|time stamp|taken at|uhrzeit|zeit|date and time", "time"),
    _means(VOID, "Why the reading is void", "void reason", "void"),
)  # fmt: skip
LABELS = {one.name: one.label for one in MEANINGS}
# One of several readings in a row: “Reading 2”, “R2”, “#2”, “2”, “DFT 2”.
NUMBERED = re.compile(r"(?:reading|r|no|#|dft|m|messung|thickness|value)? ?#? ?(\d{1,2})")
# What a line begins with that sums others up. Read as a reading it would be counted among them.
SUMMARY = re.compile(
    r"(mean|average|avg|minimum|min|maximum|max|std|standard deviation|s\.?d|sum|total|count|median"
    r"|mittel|mittelwert|anzahl|summe|standardabweichung)\.?( (value|thickness|dft|wert))?[\s:=(]*[\d.,]*\s*[\[(]?"
    r"(µm|um|microns?|mils?)?[\])]?", re.IGNORECASE,
)  # fmt: skip
WITH_UNIT = re.compile(r"\s*([-+]?\d[\d.,]*)\s*(\S+)\s*")


@dataclass(frozen=True)
class _Looked:
    """One sheet with the shape proposed for it; `sure` where known words say what each of its columns is."""

    sheet: Sheet
    shape: Shape
    sure: bool
    doubtful: tuple[str, ...] = ()


def proposed(sheets: Sequence[Sheet], *, separator: str = "", sheet: int | None = None) -> Proposal:
    """The shape of a file of readings. What its head says in known words is certain; the rest is asked."""
    looked = [_looked(each, Shape(sheet=place, separator=separator)) for place, each in enumerate(sheets)]
    surely = [each for each in looked if each.sure]
    likely = [each for each in looked if each.shape.places(THICKNESS)]
    found = looked[sheet] if sheet is not None and sheet < len(looked) else (surely or likely or looked)[0]
    asked = []
    if sheet is None and len(sheets) > 1 and len(surely) != 1:
        names = ", ".join(f"“{each.name[:40]}”" for each in sheets)
        asked.append(Fault(f"The workbook has the sheets {names}; say which holds the readings.", "sheet"))
    if not found.sure and (found.shape.head or len(found.shape.columns) > 1):
        told = " or ".join(f"“{head[:40]}”" for head in found.doubtful) or "each column"
        asked.append(Fault(f"It is not certain what {told} means; look at what each column is taken for.", "columns"))
    if summing := summaries(found.sheet, found.shape):
        told = f"Line {summing[0]} looks like a mean, a count or the like; say whether such lines are readings."
        asked.append(Fault(told, "skipped"))
    return completed(found.sheet, found.shape, asked)


def completed(sheet: Sheet, shape: Shape, asked: Sequence[Fault] = ()) -> Proposal:
    """What of a shape follows from its sheet, filled in, and what does not, asked."""
    questions = list(asked)
    heads = heads_of(sheet, shape)
    thick = shape.places(THICKNESS)
    if not thick:
        questions.append(Fault("No column is known to be the thickness; say which it is.", "columns"))
    elif len(thick) > 1 and not _numbered(heads, thick):
        both = " and ".join(f"“{heads[place][:40]}”" for place in thick[:3])
        questions.append(Fault(f"The thickness could be {both}; say which it is, or that all are readings.", "columns"))
    if not shape.unit:
        unit = _unit(sheet, shape, heads)
        shape = replace(shape, unit=unit or "")
        if thick and not unit:
            questions.append(Fault("Nothing says whether the readings are in µm, mil or mm; say it.", "unit"))
    if shape.place(SPOT) is None and len(thick) < 2 and not shape.per_spot:
        questions.append(Fault("No column is known to be the spot; say it, or how many readings a spot has.", "spot"))
    when = [text for name in (DATE, TIME) for text in _texts(sheet, shape, name)]
    if not shape.day_order:
        order = written_times.day_order_of(when)
        shape = replace(shape, day_order=order or "")
        if order is None:
            told = f"“{_first_of(when)}” can be read two ways; say whether the day or the month comes first."
            questions.append(Fault(told, "day_order"))
    if not shape.day and shape.place(DATE) is None and _without_day(_texts(sheet, shape, TIME)):
        questions.append(Fault("The times have no day; say on which day the first of them was taken.", "day"))
    return Proposal(shape, tuple(questions))


def under_head(sheet: Sheet, shape: Shape, head: int) -> Shape:
    """The shape proposed for a sheet whose head is known to be this line, or 0 for none."""
    return _looked(sheet, shape, head).shape


def _looked(sheet: Sheet, shape: Shape, told_head: int | None = None) -> _Looked:
    head, columns = head_proposed(sheet, MEANINGS)
    if told_head is not None and told_head != head:
        cells = next((cells for number, cells in sheet.lines if number == told_head), [])
        head, columns = (told_head, likely_columns(cells, MEANINGS)[1]) if cells else (0, ())
    if not head:
        return _Looked(sheet, replace(shape, columns=_by_content(sheet)), sure=False)
    heads = next(cells for number, cells in sheet.lines if number == head)
    several = not _heads_of(heads, THICKNESS)
    if several:
        columns = _several(heads, columns)
    while columns and not columns[-1] and not heads[len(columns) - 1].strip():
        columns = columns[:-1]
    surely = [next((one.name for one in MEANINGS if head_of(cell)[0] in one.heads), "") for cell in heads]
    doubtful = [
        cell
        for cell, known, taken in zip(heads, surely, columns, strict=False)
        if (taken and known != taken and not (taken == THICKNESS and several)) or (known and known != taken)
    ]
    sure = not doubtful and THICKNESS in columns
    return _Looked(sheet, replace(shape, head=head, columns=columns), sure, tuple(doubtful))


def _heads_of(heads: Sequence[str], name: str) -> int:
    known = next(one.heads for one in MEANINGS if one.name == name)
    return sum(head_of(cell)[0] in known for cell in heads)


def _several(heads: Sequence[str], columns: tuple[str, ...]) -> tuple[str, ...]:
    """A row for each spot: its readings stand in columns that are numbered from 1."""
    numbers = [NUMBERED.fullmatch(head_of(cell)[0]) for cell in heads]
    several = [place for place, found in enumerate(numbers) if found and columns[place] in ("", READING, THICKNESS)]
    if not _numbered(heads, several):
        return columns
    return tuple(THICKNESS if place in several else name for place, name in enumerate(columns))


def _numbered(heads: Sequence[str], thick: Sequence[int]) -> bool:
    found = [NUMBERED.fullmatch(head_of(heads[place])[0]) for place in thick]
    return [int(each[1]) if each else 0 for each in found] == list(range(1, len(thick) + 1))


def _by_content(sheet: Sheet) -> tuple[str, ...]:
    """Without a head: a proposal, which is always asked about."""
    width, lines = width_of(sheet), [cells for _, cells in sheet.lines[:200]]
    columns = [""] * width
    figures: dict[int, float] = {}
    for place in range(width):
        texts = [cells[place].strip() for cells in lines if place < len(cells) and cells[place].strip()]
        numbers = [number for number in map(_number, texts) if number is not None]
        if texts and 2 * len(numbers) > len(texts):
            figures[place] = sum(numbers) / len(numbers)
        elif any(written_times.CLOCK.search(text) for text in texts):
            columns[place] = TIME if TIME not in columns else ""
    if figures:
        thick = max(figures, key=lambda place: figures[place])
        columns[thick] = THICKNESS
        before = [place for place in figures if place < thick]
        columns = [SPOT if before and place == before[0] else name for place, name in enumerate(columns)]
    return tuple(columns)


def _number(text: str) -> float | None:
    found = WITH_UNIT.fullmatch(text)
    try:
        return float((found[1] if found and known_unit(found[2]) else text).replace(",", "."))
    except ValueError:
        return None


def known_unit(word: str) -> str | None:
    return UNIT_WORDS.get(word.casefold().replace("µ", "u").replace("\u03bc", "u").strip("."))


def _unit(sheet: Sheet, shape: Shape, heads: Sequence[str]) -> str | None:
    """From the head of the thickness, else from its cells where each of them names the same."""
    places = shape.places(THICKNESS)
    told = {unit for place in places if (unit := head_of(heads[place])[1])} if shape.head else set()
    if not told:
        cells = [text for name in (THICKNESS,) for text in _texts(sheet, shape, name)]
        found = [WITH_UNIT.fullmatch(text) for text in cells if _number(text) is not None]
        in_cells = {known_unit(each[2]) if each else None for each in found}
        return next(iter(in_cells)) if len(in_cells) == 1 else None
    return next(iter(told)) if len(told) == 1 else None


def _texts(sheet: Sheet, shape: Shape, name: str) -> list[str]:
    places = shape.places(name)
    return [
        cells[place].strip()
        for _, cells in rows_under(sheet, shape)
        for place in places
        if place < len(cells) and cells[place].strip()
    ]


def _first_of(texts: Sequence[str]) -> str:
    return next((text for text in texts if written_times.TWO_WAYS.match(text)), "")[:40]


def _without_day(texts: Sequence[str]) -> bool:
    for text in texts:
        try:
            day, at = written_times.written(text, "dmy")
        except ValueError:
            continue
        if at is not None and day is None:
            return True
    return False


def summaries(sheet: Sheet, shape: Shape) -> tuple[int, ...]:
    """Lines under the head that sum others up, by the word in one of their cells."""
    return tuple(
        number
        for number, cells in rows_under(sheet, replace(shape, skipped=()))
        if any(SUMMARY.fullmatch(cell.strip()) for cell in cells)
    )


def likely_noise(sheet: Sheet, shape: Shape) -> tuple[int, ...]:
    """Lines under the head that sum up, or whose thickness is no number: proposed to be passed over."""
    places = shape.places(THICKNESS)
    if not places:
        return ()
    summing = set(summaries(sheet, shape))
    return tuple(
        number
        for number, cells in rows_under(sheet, replace(shape, skipped=()))
        if number in summing
        or not any(_number(cells[place].strip()) is not None for place in places if place < len(cells))
    )
