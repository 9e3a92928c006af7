"""What every part of the report is made of: styles, marks, tables, and figures in the project's unit and time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from fractions import Fraction
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Spacer, Table

from accounts.charts import BOLD, INK, LIMIT, NOMINAL, QUIET, REGULAR, RULE
from accounts.units import Unit, in_unit
from inspection.standards.units import exact
from reports.facts import DayFacts, FailedCheck

BREADTH = 510.2
SIZE = 7.5
# One long table is laid out far more slowly than the same rows in pieces.
PIECE = 60
DOUBT, WASH = HexColor("#7a5a00"), HexColor("#f1f4f6")
TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=SIZE, leading=10, textColor=INK)
SOFT = ParagraphStyle("soft", TEXT, textColor=QUIET)
RIGHT = ParagraphStyle("right", TEXT, alignment=2)
BULLET = ParagraphStyle("bullet", TEXT, leftIndent=9)
TITLE = ParagraphStyle("title", TEXT, fontName=BOLD, fontSize=15, leading=19)
HEAD = ParagraphStyle("head", TEXT, fontName=BOLD, fontSize=10.5, leading=13, spaceBefore=12, spaceAfter=4)
SUB = ParagraphStyle("sub", TEXT, fontName=BOLD, fontSize=8, leading=11, spaceBefore=6, spaceAfter=2)

# Words with a shape before them, so that no status is told by colour alone.
MARKS: dict[str, tuple[str, Color]] = {
    "pass": ("✔ Pass", NOMINAL), "fail": ("✘ Fail", LIMIT), "incomplete": ("▲ Incomplete", DOUBT),
    "sound": ("✔ Sound", NOMINAL), "provisional": ("○ Provisional", DOUBT), "in_question": ("▲ In question", LIMIT),
    "": ("– Not known", QUIET), "released": ("✔ Released", NOMINAL), "refused": ("✘ Refused", LIMIT),
    "waiting": ("○ Waiting", DOUBT), "raised": ("▲ Raised", LIMIT), "closed": ("✔ Closed", NOMINAL),
    "raised and closed": ("✔ Raised and closed", NOMINAL), "open": ("▲ Open", DOUBT),
}  # fmt: skip
RULED: list[Any] = [
    ("FONT", (0, 0), (-1, -1), REGULAR, SIZE), ("FONT", (0, 0), (-1, 0), BOLD, 7),
    ("TEXTCOLOR", (0, 0), (-1, -1), INK), ("TEXTCOLOR", (0, 0), (-1, 0), QUIET),
    ("VALIGN", (0, 0), (-1, -1), "TOP"), ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
    ("LINEBELOW", (0, 0), (-1, 0), 0.8, QUIET), ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
    ("LEFTPADDING", (0, 0), (-1, -1), 2), ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
]  # fmt: skip
# Plain rows without rules, for facts in pairs.
PAIRS: list[Any] = [
    ("FONT", (0, 0), (-1, -1), REGULAR, SIZE), ("TEXTCOLOR", (0, 0), (-1, -1), INK),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]  # fmt: skip


class Heading(Paragraph):
    """A section's head; the document makes a bookmark of it."""

    def __init__(self, words: str) -> None:
        super().__init__(escape(words), HEAD)
        self.text = words


def cell(words: str, width: float, style: ParagraphStyle = TEXT) -> Any:
    """Plain text where it fits on one line, which is quick; a paragraph where it must wrap."""
    if "\n" not in words and stringWidth(words, style.fontName, style.fontSize) <= width - 6:
        return words
    return Paragraph(escape(words).replace("\n", "<br/>"), style)


def table(
    heads: Sequence[str],
    widths: Sequence[float],
    rows: Sequence[Sequence[str]],
    *,
    numbers: Iterable[int] = (),
    marks: Iterable[int] = (),
) -> list[Flowable]:
    """A ruled table in pieces; `numbers` are columns set right, `marks` columns of status keys.

    A row of one cell is a banner across the table, for what the rows below it have in common.
    """
    numbers, marks = tuple(numbers), tuple(marks)
    titles = [
        cell(words, widths[n] - (5 if n in numbers else 0), _head_style(right=n in numbers))
        for n, words in enumerate(heads)
    ]
    pieces: list[Flowable] = []
    for start in range(0, len(rows), PIECE):
        cells, style = [titles], [*RULED, *(("ALIGN", (column, 0), (column, -1), "RIGHT") for column in numbers)]
        style += [("RIGHTPADDING", (column, 0), (column, -1), 9) for column in numbers]
        for line, row in enumerate(rows[start : start + PIECE], 1):
            if len(row) == 1:
                cells.append([cell(row[0], sum(widths)), *[""] * (len(heads) - 1)])
                style += [("SPAN", (0, line), (-1, line)), ("BACKGROUND", (0, line), (-1, line), WASH)]
                continue
            cells.append([_cell(words, n, widths[n], numbers, marks) for n, words in enumerate(row)])
            style += [("TEXTCOLOR", (n, line), (n, line), MARKS[row[n]][1]) for n in marks]
        pieces.append(Table(cells, widths, repeatRows=1, style=style, hAlign="LEFT"))
    return pieces


def _cell(words: str, column: int, width: float, numbers: Sequence[int], marks: Sequence[int]) -> Any:
    if column in marks:
        return MARKS[words][0]
    return cell(words, width - 7, RIGHT) if column in numbers else cell(words, width)


def _head_style(*, right: bool) -> ParagraphStyle:
    return ParagraphStyle("column", SOFT, fontName=BOLD, fontSize=7, leading=8.5, alignment=2 if right else 0)


def section(words: str, content: Sequence[Flowable], *, room: float = 90) -> list[Flowable]:
    """A heading that is never left alone at the foot of a page: it wants so much room (points) for what follows."""
    return [CondPageBreak(room), Heading(words), *content]


def subheading(words: str) -> list[Flowable]:
    return [CondPageBreak(55), Paragraph(escape(words), SUB)]


def nothing(words: str) -> list[Flowable]:
    return [Paragraph(escape(words), SOFT)]


def clock(facts: DayFacts, at: datetime | None) -> str:
    """The project's local time; with the date where it is not the day's own."""
    if at is None:
        return "–"
    local = facts.local(at)
    return f"{local:%H:%M}" if local.date() == facts.day else f"{local:%Y-%m-%d %H:%M}"


def film(nm: float | Fraction | None, unit: str) -> str:
    return "–" if nm is None else _minus(in_unit(Fraction(nm), unit))


def label(unit: str) -> str:
    return str(Unit(unit).label)


def signed(nm: float, unit: str) -> str:
    words = _minus(in_unit(Fraction(nm), unit))
    return f"+{words}" if words.strip("0.") and nm > 0 else words


def _minus(words: str) -> str:
    """A real minus sign, and none before what was rounded to nought."""
    return words.replace("-", "−" if words.strip("-0.") else "")


def degrees(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}".replace("-", "−")


def listed(names: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(names))


def lines_under(words: str, lines: Sequence[str]) -> list[Flowable]:
    if not lines:
        return []
    return [*subheading(words), *(Paragraph(escape(line), BULLET, bulletText="•") for line in lines)]


def not_met(rows: Sequence[tuple[str, str, Sequence[FailedCheck]]], unit: str, what: str, which: str) -> list[Flowable]:
    """A table of the conditions that were not met: of what and which, the condition, its limit, what was found."""
    told = [
        (first, second, f"{check.sentence} ({check.clause})" if check.clause else check.sentence,
         _figure(check.limit, check.unit, unit), _figure(check.observed, check.unit, unit), _places(check))
        for first, second, failed in rows
        for check in failed
    ]  # fmt: skip
    content = table((what, which, "Condition not met", "Limit", "Found", "Where"), (44, 70, 200, 58, 62, 76), told,
                    numbers=(3, 4))  # fmt: skip
    return [Spacer(0, 6), *content] if content else []


def _places(check: FailedCheck) -> str:
    """Where the condition was not met, counted from 1, runs drawn together: area 2, spots 1–3, 5."""
    places = [place + 1 for place in check.decided_by]
    if not places:
        return check.where or "–"
    runs: list[list[int]] = []
    for place in places:
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    words = ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)
    told = f"{check.counted_in}{'s' if len(places) > 1 else ''} {words}"
    return f"{check.where}, {told}" if check.where else told


def _figure(value: float | str | None, given: str, unit: str) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if given in ("µm", "mil"):
        of_one = Unit.UM.nm if given == "µm" else Unit.MIL.nm
        return f"{film(exact(value) * of_one, unit)} {label(unit)}"
    return f"{value:.4g} {given}".strip().replace("-", "−")
