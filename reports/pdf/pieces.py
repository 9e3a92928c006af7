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
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Table

from accounts.charts import BOLD, INK, LIMIT, NOMINAL, QUIET, REGULAR, RULE
from accounts.units import Unit, in_unit
from reports.facts import DayFacts, FailedCheck

BREADTH = 510.2
SIZE = 7.5
# One long table is laid out far more slowly than the same rows in pieces.
PIECE = 60
DOUBT, WASH = HexColor("#7a5a00"), HexColor("#f1f4f6")
TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=SIZE, leading=10, textColor=INK)
SOFT = ParagraphStyle("soft", TEXT, textColor=QUIET)
RIGHT = ParagraphStyle("right", TEXT, alignment=2)
TITLE = ParagraphStyle("title", TEXT, fontName=BOLD, fontSize=15, leading=19)
HEAD = ParagraphStyle("head", TEXT, fontName=BOLD, fontSize=10.5, leading=13, spaceBefore=12, spaceAfter=4)
SUB = ParagraphStyle("sub", TEXT, fontName=BOLD, fontSize=8, leading=11, spaceBefore=5, spaceAfter=2)

# Words with a shape before them, so that no status is told by colour alone.
MARKS: dict[str, tuple[str, Color]] = {
    "pass": ("✔ Pass", NOMINAL), "fail": ("✘ Fail", LIMIT), "incomplete": ("▲ More wanted", DOUBT),
    "sound": ("✔ Sound", NOMINAL), "provisional": ("○ Provisional", DOUBT), "in_question": ("▲ In question", LIMIT),
    "": ("– Not known", QUIET), "released": ("✔ Released", NOMINAL), "refused": ("✘ Refused", LIMIT),
    "waiting": ("○ Waiting", DOUBT), "raised": ("▲ Raised", LIMIT), "closed": ("✔ Closed", NOMINAL),
    "raised and closed": ("✔ Raised and closed", NOMINAL), "open": ("▲ Open", DOUBT),
}  # fmt: skip
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
    """A ruled table in pieces; `numbers` are columns set right, `marks` are columns of status keys."""
    numbers, marks = tuple(numbers), tuple(marks)
    pieces: list[Flowable] = []
    for start in range(0, len(rows), PIECE):
        style: list[Any] = [
            ("FONT", (0, 0), (-1, -1), REGULAR, SIZE), ("FONT", (0, 0), (-1, 0), BOLD, 7),
            ("TEXTCOLOR", (0, 0), (-1, -1), INK), ("TEXTCOLOR", (0, 0), (-1, 0), QUIET),
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
            ("LINEBELOW", (0, 0), (-1, 0), 0.8, QUIET), ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
            ("LEFTPADDING", (0, 0), (-1, -1), 2), ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            *(("ALIGN", (column, 0), (column, -1), "RIGHT") for column in numbers),
        ]  # fmt: skip
        cells: list[list[Any]] = [
            [cell(words, widths[n] + 2, _head_style(n in numbers)) for n, words in enumerate(heads)]
        ]
        for line, row in enumerate(rows[start : start + PIECE], 1):
            cells.append(
                [
                    MARKS[words][0] if n in marks else cell(words, widths[n], RIGHT if n in numbers else TEXT)
                    for n, words in enumerate(row)
                ]
            )
            style += [("TEXTCOLOR", (n, line), (n, line), MARKS[row[n]][1]) for n in marks]
        pieces.append(Table(cells, widths, repeatRows=1, style=style, hAlign="LEFT"))
    return pieces


def _head_style(right: bool) -> ParagraphStyle:
    return ParagraphStyle("column", SOFT, fontName=BOLD, fontSize=7, leading=8.5, alignment=2 if right else 0)


def section(words: str, content: Sequence[Flowable]) -> list[Flowable]:
    """A heading that is never left alone at the foot of a page."""
    return [CondPageBreak(90), Heading(words), *content]


def nothing(words: str) -> list[Flowable]:
    return [Paragraph(escape(words), SOFT)]


def clock(facts: DayFacts, at: datetime | None) -> str:
    """The project's local time; with the date where it is not the day's own."""
    if at is None:
        return "–"
    local = facts.local(at)
    return f"{local:%H:%M}" if local.date() == facts.day else f"{local:%Y-%m-%d %H:%M}"


def film(nm: float | Fraction | None, unit: str) -> str:
    return "–" if nm is None else in_unit(Fraction(nm), unit).replace("-", "−")


def label(unit: str) -> str:
    return str(Unit(unit).label)


def signed(nm: float, unit: str) -> str:
    words = in_unit(Fraction(nm), unit)
    return f"+{words}" if nm > 0 else words.replace("-", "−")


def degrees(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}".replace("-", "−")


def listed(names: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(names))


def lines_under(words: str, lines: Sequence[str]) -> list[Flowable]:
    if not lines:
        return []
    return [Paragraph(escape(words), SUB), *(Paragraph(escape(line), TEXT, bulletText="–") for line in lines)]


def explained(facts: DayFacts, what: str, failed: Sequence[FailedCheck]) -> str:
    return f"{what}: " + " ".join(_check(check, facts.unit) for check in failed)


def _check(check: FailedCheck, unit: str) -> str:
    """One failed check as a sentence: what is asked, the limit, what was found, and where."""
    limit, observed = _figure(check.limit, check.unit, unit), _figure(check.observed, check.unit, unit)
    found = ", ".join(
        part for part in (f"limit {limit}" if limit else "", f"found {observed}" if observed else "") if part
    )
    places = [str(place + 1) for place in check.decided_by]
    shown = ", ".join(places[:12]) + (f" and {len(places) - 12} more" if len(places) > 12 else "")
    where = f"{check.counted_in} {shown}" if places else ""
    told = "; ".join(part for part in (found, where, check.clause) if part)
    return f"not met: “{check.sentence}” ({told})." if told else f"not met: “{check.sentence}”"


def _figure(value: float | str | None, given: str, unit: str) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if given in ("µm", "mil"):
        of_one = Unit.UM.nm if given == "µm" else Unit.MIL.nm
        return f"{film(Fraction(value) * of_one, unit)} {label(unit)}"
    return f"{value:.4g} {given}".strip()
