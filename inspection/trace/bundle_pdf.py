"""The readable part of an evidence bundle: what the thing is, and each thing under it with what it rests on in turn."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from itertools import groupby
from typing import Any
from uuid import UUID
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, SimpleDocTemplate, Spacer

from accounts.models import Person
from inspection.foundation.charts import BOLD, INK, QUIET, REGULAR, RULE, register_fonts
from inspection.foundation.ruled_table import Line, Rows
from inspection.trace.queries import Node

MARGIN, BREADTH = 42, 511
TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=8, leading=10.5, textColor=INK)
SOFT = ParagraphStyle("soft", TEXT, textColor=QUIET)
HEAD = ParagraphStyle("head", TEXT, fontName=BOLD, fontSize=10.5, leading=13, spaceBefore=12, spaceAfter=4)
BOLDER = ParagraphStyle("bolder", TEXT, fontName=BOLD)
TITLE = ParagraphStyle("title", TEXT, fontName=BOLD, fontSize=15, leading=19)
# A list longer than this, of what a thing rests on, says how many more the provenance names.
MOST_UNDER = 40
PADDED: list[Any] = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
]  # fmt: skip
RULED = ("LINEABOVE", 0, -1, 0.4, RULE)


def readable(
    nodes: Sequence[Node], facts: Sequence[tuple[str, str]], figures: Mapping[UUID, Sequence[str]],
    links: Iterable[tuple[UUID, UUID]], *, company: str, by: Person, at: datetime,
) -> bytes:  # fmt: skip
    """The PDF; the first node is the thing itself, the others what it rests on, kind by kind."""
    register_fonts()
    start = nodes[0]
    titles = {node.pk: node.row.title for node in nodes}
    below: dict[UUID, list[str]] = {}
    for above, under in sorted(links):
        below.setdefault(above, []).append(titles[under])
    story: list[Flowable] = [
        Paragraph(escape(f"Evidence for {start.kind.one.lower()} {start.row.title}"), TITLE),
        _paragraph(f"{company}, made {at:%Y-%m-%d %H:%M} UTC by {by.name}, {by.organisation}.", SOFT),
        Spacer(0, 8),
        Rows(
            [Line([_paragraph(label), _paragraph(value)], [RULED]) for label, value in [*_state(start), *facts]],
            (140, BREADTH - 140), PADDED,
        ),
        *(_paragraph(line) for line in figures[start.pk]),
        *([_paragraph(_under(below[start.pk]))] if start.pk in below else []),
    ]  # fmt: skip
    for _, of_kind in groupby(nodes[1:], key=lambda node: node.kind.name):
        group = list(of_kind)
        rows = Rows(
            [line for node in group for line in _lines(node, figures[node.pk], below.get(node.pk, ()))],
            (182, BREADTH - 182), PADDED,
        )  # fmt: skip
        story += [
            CondPageBreak(rows.room() + 30),
            Paragraph(escape(f"{group[0].kind.many} ({len(group)})"), HEAD),
            rows,
        ]
    story += [Spacer(0, 10), _paragraph(
        "Every record in full, the stored files, the links between them and the signature over all of it lie beside "
        "this page in the bundle; README.txt says how to check them.", SOFT,
    )]  # fmt: skip
    out = io.BytesIO()
    SimpleDocTemplate(
        out, pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN, bottomMargin=MARGIN,
        title=f"Evidence for {start.row.title}", author=company, lang="en", invariant=1,
    ).build(story, onFirstPage=_foot, onLaterPages=_foot)  # fmt: skip
    return out.getvalue()


def _state(node: Node) -> list[tuple[str, str]]:
    return [("State", node.row.words), ("Id", str(node.pk))] if node.row.words else [("Id", str(node.pk))]


def _paragraph(words: str, style: ParagraphStyle = TEXT) -> Paragraph:
    return Paragraph("<br/>".join(escape(line) for line in words.split("\n")), style)


def _lines(node: Node, figures: Sequence[str], under: Sequence[str]) -> list[Line]:
    """What a thing is beside its name; then a row for each of its figures, so that any number flows over pages."""
    told = [f"{node.row.detail}. {node.row.words}".strip(" ."), *figures, *([_under(under)] if under else [])]
    first = Line([_paragraph(node.row.title, BOLDER), _paragraph(told[0])], [RULED], leads=len(told) > 1)
    return [first, *(Line(["", _paragraph(words)]) for words in told[1:])]


def _under(titles: Sequence[str]) -> str:
    more = f" and {len(titles) - MOST_UNDER} more, all in the provenance" if len(titles) > MOST_UNDER else ""
    return f"Rests on {'; '.join(titles[:MOST_UNDER])}{more}"


def _foot(canvas: Any, document: Any) -> None:
    canvas.setFont(REGULAR, 7)
    canvas.setFillColor(QUIET)
    canvas.drawRightString(MARGIN + BREADTH, 24, f"Page {document.page}")
