"""What IMO MSC.215(82), annex 3, counts of an area by length or piece: declared by whoever sets it up.

The annex counts each boundary and stiffener by its own length, so a sum of lengths is not enough; and it leaves 2 to
3 m from one reading to the next. The plan wants the least number, with 3 m; the page tells both.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import transaction

from accounts import journal
from accounts.models import Person
from inspection.foundation.refusals import Fault, Refused
from inspection.projects.breakdown import hold
from inspection.projects.models import InspectionArea
from inspection.standards import InputFault, calculate

LISTS = ("boundaries_m", "stiffeners_m", "primary_members_m", "complex_m2")
COUNTS = ("openings", "sides_of_an_opening")
MOST_PIECES = 5_000


@transaction.atomic
def declare_tank_sizes(
    by: Person,
    *,
    area: InspectionArea,
    reason: str,
    boundaries_m: Sequence[Decimal] = (),
    stiffeners_m: Sequence[Decimal] = (),
    primary_members_m: Sequence[Decimal] = (),
    complex_m2: Sequence[Decimal] = (),
    openings: int | None = None,
    sides_of_an_opening: int | None = None,
) -> InspectionArea:
    """Declare the boundaries, stiffeners and primary members of an area, each by its length in m, its complex areas in
    m², and its openings. All replaces what was declared; nothing at all takes it away.

    Raises Refused naming the field for what the annex cannot count.
    """
    locked = hold(by, area, to="declare the lengths of an area", reason=reason)
    lists = dict(zip(LISTS, (boundaries_m, stiffeners_m, primary_members_m, complex_m2), strict=True))
    sizes: dict[str, Any] = {name: [float(size) for size in given] for name, given in lists.items() if given}
    sizes |= {
        name: count for name, count in zip(COUNTS, (openings, sides_of_an_opening), strict=True) if count is not None
    }
    if sizes:
        counted(locked, sizes)
    before, locked.tank_sizes = locked.tank_sizes, sizes
    if before == sizes:
        raise Refused("Nothing differs from what is stored.")
    locked.save(update_fields=["tank_sizes"])
    journal.record(
        "area.tank_sizes_declared", locked, by=by, project_id=locked.structure.project_id, before=before, after=sizes,
        reason=reason.strip(),
    )  # fmt: skip
    return locked


def counted(area: InspectionArea, sizes: dict[str, Any] | None = None) -> dict[str, Any]:
    """What annex 3 counts of the area: its surface as flat, and what is declared of it, or the sizes given instead."""
    declared = area.tank_sizes if sizes is None else sizes
    try:
        return calculate("dft-imo-counts", {"flat_m2": [float(area.area_m2)], **declared})
    except InputFault as wrong:
        raise Refused([Fault(fault.message, fault.field.split("[")[0]) for fault in wrong.faults]) from wrong


def read_pieces(text: str) -> list[Decimal]:
    """The sizes of pieces, typed as `12; 6.5; 24 × 2.6`: so many of one size. Raises Refused for what is no size."""
    found: list[Decimal] = []
    for piece in filter(None, (each.strip() for each in re.split(r"[;\n]+", text))):
        many = re.fullmatch(r"(?:(\d{1,4})\s*[x×*]\s*)?(\d{1,6}(?:[.,]\d{1,2})?)", piece, re.IGNORECASE)
        try:
            size = Decimal(many[2].replace(",", ".")) if many else Decimal(0)
        except InvalidOperation:
            size = Decimal(0)
        if not many or size <= 0 or many[1] == "0":
            raise Refused(f"“{piece[:20]}” is no size; write 12; 6.5; 24 × 2.6, parted by semicolons.")
        found += [size] * int(many[1] or 1)
        if len(found) > MOST_PIECES:
            raise Refused(f"These are more than {MOST_PIECES} pieces; divide the area.")
    return found


def told_pieces(sizes: Sequence[float]) -> str:
    """Sizes as they are typed, those alike together."""
    return "; ".join(f"{many} × {size:g}" if many > 1 else f"{size:g}" for size, many in Counter(sizes).items())
