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
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Spacer

from inspection.fieldwork.verdicts_shown import told as fieldwork_told
from inspection.foundation.charts import BOLD, INK, LIMIT, NOMINAL, QUIET, REGULAR, RULE
from inspection.foundation.ruled_table import Line, Rows
from inspection.foundation.units import Unit, in_unit
from inspection.standards.units import excluded
from reports.daily.facts import Climate, DayFacts, FailedCheck, Nonconforming, Observed, Thickness

BREADTH = 510.2
SIZE = 7.5
# A condition missed in more places than this says how many more there are.
MOST_PLACES = 12
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
    "not judged": ("– Not judged", QUIET),
    "sound": ("✔ Sound", NOMINAL), "provisional": ("○ Provisional", DOUBT), "in_question": ("▲ In question", LIMIT),
    "": ("– Not known", QUIET), "released": ("✔ Released", NOMINAL), "refused": ("✘ Refused", LIMIT),
    "waived": ("✔ Waived", NOMINAL), "not applicable": ("– Not applicable", QUIET),
    "passed": ("✔ Passed", NOMINAL), "passed over": ("▲ Passed over", LIMIT),
    "waiting": ("○ Waiting", DOUBT), "raised": ("▲ Raised", LIMIT), "closed": ("✔ Closed", NOMINAL),
    "raised and closed": ("✔ Raised and closed", NOMINAL), "open": ("▲ Open", DOUBT),
}  # fmt: skip


def of_point(state: str) -> str:
    """The mark of a hold point's state: of one that is not asked for there, what every page calls it."""
    return "not applicable" if state == "closed" else state


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
    room = width - 6
    if "\n" not in words and stringWidth(words, style.fontName, style.fontSize) <= room:
        return words
    # A name too long for the line is broken at its hyphen rather than anywhere.
    broken = " ".join(
        word.replace("-", "-\n") if stringWidth(word, style.fontName, style.fontSize) > room else word
        for word in words.split(" ")
    )
    return Paragraph(escape(broken).replace("\n", "<br/>"), style)


def table(
    heads: Sequence[str],
    widths: Sequence[float],
    rows: Sequence[Sequence[str]],
    *,
    numbers: Iterable[int] = (),
    marks: Iterable[int] = (),
) -> list[Flowable]:
    """A ruled table, nothing for no rows; `numbers` are columns set right, `marks` columns of status keys.

    A row of one cell is a banner across the table, for what the rows below it have in common.
    """
    if not rows:
        return []
    numbers, marks = tuple(numbers), tuple(marks)
    titles = [
        cell(words, widths[n] - (5 if n in numbers else 0), _head_style(right=n in numbers))
        for n, words in enumerate(heads)
    ]
    style = [
        *RULED,
        *(("ALIGN", (column, 0), (column, -1), "RIGHT") for column in numbers),
        *(("RIGHTPADDING", (column, 0), (column, -1), 9) for column in numbers),
    ]
    lines = [_line(row, widths, numbers, marks) for row in rows]
    return [Rows(lines, widths, style, titles)]


def _line(row: Sequence[str], widths: Sequence[float], numbers: Sequence[int], marks: Sequence[int]) -> Line:
    if len(row) == 1:
        banner = [cell(row[0], sum(widths)), *[""] * (len(widths) - 1)]
        return Line(banner, [("SPAN", 0, -1), ("BACKGROUND", 0, -1, WASH)], leads=True)
    cells = [_cell(words, n, widths[n], numbers, marks) for n, words in enumerate(row)]
    return Line(cells, [("TEXTCOLOR", n, n, MARKS[row[n]][1]) for n in marks])


def _cell(words: str, column: int, width: float, numbers: Sequence[int], marks: Sequence[int]) -> Any:
    if column in marks:
        return MARKS[words][0]
    return cell(words, width - 7, RIGHT) if column in numbers else cell(words, width)


def _head_style(*, right: bool) -> ParagraphStyle:
    return ParagraphStyle("column", SOFT, fontName=BOLD, fontSize=7, leading=8.5, alignment=2 if right else 0)


def section(words: str, content: Sequence[Flowable], *, room: float = 0) -> list[Flowable]:
    """A heading that is never left alone at the foot of a page: the first rows under it come along."""
    return [CondPageBreak(max(room, 32 + _room(content))), Heading(words), *content]


def subheading(words: str, content: Sequence[Flowable]) -> list[Flowable]:
    heading = Paragraph(escape(words), SUB)
    return [CondPageBreak(_room([heading, *content])), heading, *content]


def _room(content: Sequence[Flowable]) -> float:
    """The height in points of what begins the content: headings, and the first lines under them."""
    tall = 0.0
    for flowable in content:
        if isinstance(flowable, Rows):
            return tall + flowable.room()
        height = flowable.wrap(BREADTH, 1e6)[1]
        tall += float(height + flowable.getSpaceBefore() + flowable.getSpaceAfter())
        if isinstance(flowable, Paragraph) and flowable.style not in (SUB, HEAD):
            return tall
    return tall


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
    return subheading(words, [Paragraph(escape(line), BULLET, bulletText="•") for line in lines])


def came_late(facts: DayFacts, rows: Iterable[Climate | Observed | Thickness]) -> list[Flowable]:
    """The records that came in after the day had ended, by the minute in which they did."""
    came: dict[str, list[str]] = {}
    for row in rows:
        if row.late:
            came.setdefault(clock(facts, row.late), []).append(f"{row.area}, {row.coat}" if row.coat else row.area)
    lines = [f"{at}: {'; '.join(dict.fromkeys(which))}" for at, which in sorted(came.items())]
    return lines_under("Came in late, after the day had ended", lines)


def numbered(row: Nonconforming) -> str:
    return f"NC-{row.number:03d}"


def raised_on(facts: DayFacts, rows: Iterable[Observed | Thickness]) -> list[Flowable]:
    """The nonconformances that were raised on these records, told beside them."""
    on = {each.of_record: each for each in facts.nonconformances if each.of_record}
    lines = [
        f"{row.area}{f', {row.coat}' if row.coat else ''}: {numbered(on[row.id])} {on[row.id].title}"
        for row in rows
        if row.id in on
    ]
    return lines_under("Nonconformances raised on these records", lines)


def not_met(rows: Sequence[tuple[str, str, Sequence[FailedCheck]]], unit: str, what: str, which: str) -> list[Flowable]:
    """A table of the conditions that were not met: of what and which, the condition, its limit, what was found where.

    A condition that was judged in many places and missed in several of them is one row.
    """
    told = []
    for first, second, failed in rows:
        conditions: dict[tuple[str, str, Any], list[FailedCheck]] = {}
        for check in failed:
            conditions.setdefault((check.sentence, check.clause, check.limit), []).append(check)
        for (sentence, clause, _), checks in conditions.items():
            words = f"{sentence} ({clause})" if clause else sentence
            told.append((first, second, words, *_figures(checks, unit), _where(checks)))
    content = table((what, which, "Condition not met", "Limit", "Found", "Where"), (50, 78, 184, 54, 70, 74), told,
                    numbers=(3, 4))  # fmt: skip
    return [Spacer(0, 6), *content] if content else []


def _figures(checks: Sequence[FailedCheck], unit: str) -> tuple[str, str]:
    """The limit, and what was found: of several places the lowest and the highest; as exactly as tells them apart."""
    found = [check.observed for check in checks]
    numbers = [value for value in found if isinstance(value, int | float)]
    ends = sorted({min(numbers), max(numbers)}) if len(numbers) == len(found) and found else found[:1]
    pairs = [fieldwork_told(checks[0].limit, value, checks[0].unit, Unit(unit)) for value in ends]
    limit = max((limit for limit, _ in pairs), key=len)
    first = checks[0]
    barred = excluded({"limit": first.limit, "observed": first.observed, "passed": False}) if len(checks) == 1 else ""
    return _minus(limit) + barred, _minus(" to ".join(observed for _, observed in pairs))


def _where(checks: Sequence[FailedCheck]) -> str:
    if len(checks) == 1:
        return _places(checks[0])
    more = f" and {len(checks) - MOST_PLACES} more" if len(checks) > MOST_PLACES else ""
    return f"{len(checks)} places: {'; '.join(_places(check) for check in checks[:MOST_PLACES])}{more}"


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
    named = [f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs[:MOST_PLACES]]
    more = f" and {len(runs) - MOST_PLACES} runs more" if len(runs) > MOST_PLACES else ""
    told = f"{check.counted_in}{'s' if len(places) > 1 else ''} {', '.join(named)}{more}"
    return f"{check.where}, {told}" if check.where else told
