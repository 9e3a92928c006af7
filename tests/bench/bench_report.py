"""A daily report of 100 areas, from rows to PDF: against bare reportlab making the same pages from finished text.

The bare side is what somebody would write by hand who already had every word and every bar: the same paragraphs, tables
and drawings, constructed anew each time and laid out by the same platypus; no query, no formatting, no arithmetic.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from typing import Any
from unittest import mock

from django.db import transaction
from pypdf import PdfReader
from reportlab.graphics.shapes import Drawing, Line, Rect, String

from inspection.foundation import ruled_table
from inspection.projects.models import Project
from reports.daily.facts import DayFacts
from reports.daily.gathering import gather
from reports.daily.pdf import document, draw, evidence_part, pieces, site_part, thickness_part
from tests import cast as casting
from tests.bench import Row, best_of
from tests.cast import DAY
from tests.reports.day import long_day

AREAS = 100
FLOWABLES = ("Paragraph", "Table", "Rows", "Spacer", "CondPageBreak", "KeepTogether", "Heading")
POSITIONAL = {
    Rect: ("x", "y", "width", "height"), Line: ("x1", "y1", "x2", "y2"), String: ("x", "y", "text"),
}  # fmt: skip


class Later:
    """A constructor with its arguments, to be called when the clock runs."""

    def __init__(self, make: Callable[..., Any], *args: Any, **kwargs: Any) -> None:
        self.make, self.args, self.kwargs = make, args, kwargs


def made(value: Any) -> Any:
    if isinstance(value, Later):
        return value.make(*map(made, value.args), **value.kwargs)
    if isinstance(value, list | tuple):
        return [made(part) for part in value]
    if isinstance(value, ruled_table.Line):
        return replace(value, cells=made(value.cells))
    return value


def _finished(drawing: Drawing) -> Later:
    shapes = [Later(_shape, type(shape), shape.getProperties()) for shape in drawing.contents]
    return Later(_drawing, drawing.width, drawing.height, shapes)


def _shape(kind: type, properties: dict[str, Any]) -> Any:
    names = POSITIONAL[kind]
    return kind(*(properties[name] for name in names), **{k: v for k, v in properties.items() if k not in names})


def _drawing(width: float, height: float, shapes: list[Any]) -> Drawing:
    drawing = Drawing(width, height)
    for shape in shapes:
        drawing.add(shape)
    return drawing


def finished_text(facts: DayFacts) -> list[Later]:
    """The report's flowables as constructors with literal arguments."""
    histogram, rooms = thickness_part.histogram, iter(_rooms(facts))
    with ExitStack() as patches:
        patches.enter_context(mock.patch.object(pieces, "_room", side_effect=rooms))
        for module in (evidence_part, thickness_part, pieces, site_part):
            for name in FLOWABLES:
                if hasattr(module, name):
                    make = getattr(module, name)
                    later = mock.patch.object(module, name, lambda *a, _make=make, **k: Later(_make, *a, **k))
                    patches.enter_context(later)
        patches.enter_context(
            mock.patch.object(thickness_part, "histogram", lambda *a, **k: _finished(histogram(*a, **k)))
        )
        return document.story(facts, None)


def _rooms(facts: DayFacts) -> list[float]:
    """The heights that the pieces ask for, in order: whoever writes by hand has them as numbers too."""
    found: list[float] = []
    room = pieces._room

    def noted(content: Any) -> float:
        found.append(room(content))
        return found[-1]

    with mock.patch.object(pieces, "_room", noted):
        document.story(facts, None)
    return found


def bare(facts: DayFacts, text: list[Later]) -> bytes:
    out = io.BytesIO()
    document._Document(out, facts, None).build(made(text))
    return out.getvalue()


def run() -> list[Row]:
    with transaction.atomic():
        cast = casting.cast()
        long_day(cast, AREAS)
        project = Project.objects.select_related("client").get(pk=cast.site.project.pk)
        facts = gather(project, DAY)
        ours = draw(facts)
        text = finished_text(facts)
        _same_pages(ours, bare(facts, text))
        best = best_of({
            "ours": lambda: draw(gather(project, DAY)),
            "drawing": lambda: draw(facts),
            "bare": lambda: bare(facts, text),
        })  # fmt: skip
        transaction.set_rollback(True)
    against = "against bare reportlab making the same pages"
    return [
        (f"daily report of {AREAS} areas, rows to PDF, {against}", best["ours"] / best["bare"], "≤ 2"),
        (f"daily report of {AREAS} areas, facts to PDF, {against}", best["drawing"] / best["bare"], ""),
    ]


def _same_pages(one: bytes, other: bytes) -> None:
    """The comparison means something only if both sides make the same pages."""
    if one != other:
        texts = [[page.extract_text() for page in PdfReader(io.BytesIO(content)).pages] for content in (one, other)]
        raise AssertionError("different pages" if texts[0] != texts[1] else "same text, different bytes")
