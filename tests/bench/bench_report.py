"""A daily report of 100 areas, and one of twelve kinds with photos, from rows to PDF: against bare reportlab.

The bare side is what somebody would write by hand who already had every word and every bar: the same paragraphs, tables
and drawings, constructed anew each time and laid out by the same platypus; no query, no formatting, no arithmetic.
"""

from __future__ import annotations

import io
import random
import re
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest import mock

from django.db import transaction
from PIL import Image
from pypdf import PdfReader
from reportlab.graphics.shapes import Drawing, Line, Rect, String

from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import Record
from inspection.foundation import ruled_table
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.photos.actions import add_photo, change_photo
from inspection.photos.shown import print_of
from inspection.projects.models import Project
from reports.daily.facts import DayFacts
from reports.daily.gathering import gather
from reports.daily.pdf import (
    annex_part,
    diary_part,
    document,
    draw,
    evidence_part,
    multiples,
    photo_part,
    pieces,
    site_part,
    thickness_part,
    works_part,
)
from tests import cast as casting
from tests.bench import Row, best_of
from tests.cast import DAY, MORNING
from tests.fieldwork.samples import SAMPLES
from tests.reports.day import long_day

AREAS = 100
AGAINST = "against bare reportlab making the same pages"
OF_STEEL = [(name, SAMPLES[name]) for name in ("steelwork", "cleanliness", "salts", "dust", "look")]
OF_FILM: list[tuple[str, dict[str, Any]]] = [
    ("wetfilm", {"readings": [{"place": "Web", "um": 150}]}),
    ("wetsponge", {"standard": "ASTM D5162", "dry_film_um": 200, "voltage_v": 67, "tested_m2": 5, "holidays": []}),
    ("cuttest", {"scale": "ISO 2409", "dry_film_um": 180, "spacing_mm": 3, "worst_rating": "1",
                 "cuts": [{"place": "Web", "rating": "1"}]}),
    ("cure", {"method": "ASTM D5402", "solvent": "MEK", "places": [{"place": "Web", "as_agreed": True}]}),
    ("defects", {"defects": [{"kind": "runs", "extent": "1", "place": "Web", "acceptable": True}]}),
]  # fmt: skip
EACH, PHOTOS = 18, 60
KINDS, RECORDS = 2 + len(OF_STEEL) + len(OF_FILM), AREAS + AREAS // 5 + EACH * (len(OF_STEEL) + len(OF_FILM))
FLOWABLES = ("Paragraph", "Table", "Rows", "Spacer", "CondPageBreak", "KeepTogether", "Heading", "Strip", "_Row")
PARTS = (
    annex_part, diary_part, evidence_part, multiples, photo_part, pieces, site_part, thickness_part, works_part,
)  # fmt: skip
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
        for module in PARTS:
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


def bare(facts: DayFacts, text: list[Later], photos: dict[str, bytes | None]) -> bytes:
    out = io.BytesIO()
    with mock.patch.object(photo_part, "print_of", photos.get):
        document._Document(out, facts, None).build(made(text))
    return out.getvalue()


def run() -> list[Row]:
    return [*_of_areas(), *_of_a_full_day()]


def _of_areas() -> list[Row]:
    with transaction.atomic():
        cast = casting.cast()
        long_day(cast, AREAS)
        best, _ = _timed(cast)
        transaction.set_rollback(True)
    return [
        (f"daily report of {AREAS} areas, rows to PDF, {AGAINST}", best["ours"] / best["bare"], "≤ 2"),
        (f"daily report of {AREAS} areas, facts to PDF, {AGAINST}", best["drawing"] / best["bare"], ""),
    ]


def _of_a_full_day() -> list[Row]:
    with transaction.atomic():
        cast = casting.cast()
        full_day(cast)
        best, peak_mib = _timed(cast)
        transaction.set_rollback(True)
    day = f"daily report of {KINDS} kinds, {RECORDS} records, {PHOTOS} photos"
    return [
        (f"{day}, rows to PDF, {AGAINST}", best["ours"] / best["bare"], "≤ 2"),
        (f"{day}, memory of the process at its height, MiB", peak_mib, "≤ 400"),
    ]


def _timed(cast: casting.Cast) -> tuple[dict[str, float], float]:
    """Seconds of each way, and the memory in MiB that the process took at most while it went from rows to PDF."""
    project = Project.objects.select_related("client").get(pk=cast.site.project.pk)
    facts = gather(project, DAY)
    # Once before, so that fonts are there and all is loaded.
    draw(facts)
    text = finished_text(facts)
    photos = {photo.digest: print_of(photo.digest) for photo in facts.photos}
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    ours = draw(gather(project, DAY))
    status = Path("/proc/self/status").read_text(encoding="ascii")
    peak_mib = int(re.search(r"VmHWM:\s*(\d+) kB", status)[1]) / 1024  # type: ignore[index]  # Linux says it
    _same_pages(ours, bare(facts, text, photos))
    best = best_of({
        "ours": lambda: draw(gather(project, DAY)),
        "drawing": lambda: draw(facts),
        "bare": lambda: bare(facts, text, photos),
    })  # fmt: skip
    return best, peak_mib


def full_day(cast: casting.Cast) -> None:
    """Thickness and climate of a long day, ten more kinds beside them, and a photo of 1600 by 1200 at every fifth."""
    long_day(cast, AREAS)
    site = cast.site
    for name, sent in [*OF_STEEL, *OF_FILM]:
        taken: Any = BY_NAME[name].taken
        coat = {"coat": site.coats[0]} if (name, sent) in OF_FILM else {}
        for number in range(EACH):
            taken.record(
                cast.ines, id=new_id(), project=site.project, area=site.area, note="Behind the ladder",
                taken_at=MORNING + timedelta(hours=1, minutes=number), **coat, **sent,
            )  # fmt: skip
    hand = random.Random(1)
    records = list(Record.objects.filter(project=site.project).order_by("pk"))
    for record in records[:: len(records) // PHOTOS][:PHOTOS]:
        photo, _ = add_photo(cast.ines, id=new_id(), of=record, file=_picture(hand), caption="As it was found")
        change_photo(cast.ines, photo=photo, caption=photo.caption, shown=True, in_report=True)


def _picture(hand: random.Random) -> UploadedContent:
    """As rough as a photo: noise over a gradient, magnified, so that a JPEG of it has some 200 kB."""
    noise = Image.frombytes("RGB", (400, 300), hand.randbytes(400 * 300 * 3))
    mixed = Image.blend(Image.linear_gradient("L").resize((400, 300)).convert("RGB"), noise, 0.3).resize((1600, 1200))
    out = io.BytesIO()
    mixed.save(out, "JPEG", quality=85)
    return UploadedContent("found.jpg", out.getvalue())


def _same_pages(one: bytes, other: bytes) -> None:
    """The comparison means something only if both sides make the same pages."""
    if one != other:
        texts = [[page.extract_text() for page in PdfReader(io.BytesIO(content)).pages] for content in (one, other)]
        raise AssertionError("different pages" if texts[0] != texts[1] else "same text, different bytes")
