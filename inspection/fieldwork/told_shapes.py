"""How the file of a gauge was told to be read before: found again by its head, and offered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from inspection.fieldwork.models import ToldShape
from inspection.fieldwork.reading_shape import MEANINGS, THICKNESS, completed, likely_noise, summaries
from inspection.fieldwork.reading_table import sheets_of
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.shaping import Shape, laid_on, told
from inspection.instruments.models import Gauge

MOST_TOLD = 100


@dataclass(frozen=True)
class Offered:
    """The answer of an earlier file of the same gauge, laid upon this one."""

    shape: Shape
    kept: ToldShape
    # What this file leaves to be asked all the same.
    asked: tuple[Fault, ...] = ()


def offered(gauge: Gauge, content: bytes) -> Offered | None:
    """What was told of a file of this gauge with the same head; None where none was. Raises Refused as `read_table`."""
    known = list(ToldShape.objects.filter(gauge=gauge).select_related("told_by").order_by("-told_at")[:MOST_TOLD])
    for separator in sorted({str(each.shape.get("separator", "")) for each in known}):
        sheets, _ = sheets_of(content, separator)
        for kept in known:
            if kept.shape.get("separator", "") == separator and (found := _laid(kept, sheets)):
                return Offered(found, kept, _asked(sheets[found.sheet], found))
    return None


def _asked(sheet: Sheet, shape: Shape) -> tuple[Fault, ...]:
    """Also where a line would be passed over that may be a reading badly written."""
    noise = set(shape.skipped) - set(summaries(sheet, shape))
    cells = dict(sheet.lines)
    thick = shape.places(THICKNESS)
    in_line = {number: "".join("".join(cells[number][place : place + 1]) for place in thick) for number in noise}
    odd = sorted(number for number, text in in_line.items() if any(char.isdigit() for char in text))
    faults = [Fault(f"Line {odd[0]} may be a reading; say whether it is passed over.", "skipped")] if odd else []
    return (*faults, *completed(sheet, shape).asked)


def _laid(kept: ToldShape, sheets: list[Sheet]) -> Shape | None:
    try:
        shape = told(_plain(kept.shape), MEANINGS)
    except Refused:
        # Told to another release, in words that this one has no more.
        return None
    here = laid_on(shape, kept.head_digest, sheets)
    return replace(here, skipped=likely_noise(sheets[here.sheet], here)) if here else None


def _plain(shape: Any) -> dict[str, Any]:
    return dict(shape) if isinstance(shape, dict) else {}
