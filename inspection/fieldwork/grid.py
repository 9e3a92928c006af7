"""Cells of a thickness record that somebody changes: what differs, and what the readings are with the changes.

Nothing here touches the database; the pages and the correction itself both ask it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from operator import itemgetter
from statistics import median
from typing import NamedTuple

from inspection.fieldwork.judging import ReadingSent
from inspection.foundation.refusals import Fault
from inspection.foundation.units import Unit, in_unit

# More than anybody types; whoever has more to put right uploads a corrected file.
MOST_CHANGES = 1_000
# A reading that is so many times, or so small a part of, the middle one is rather a slip of the point or of the unit.
TIMES_APART = 10

Place = tuple[int, int]


class Cell(NamedTuple):
    """What a place shall hold: a reading as the gauge showed it and why it does not count; no value, no reading."""

    value_nm: int | None
    void_reason: str = ""


Changes = Mapping[Place, Cell]


class Difference(NamedTuple):
    """One place whose reading is another after the correction; None where there is none."""

    spot: int
    order: int
    before: ReadingSent | None
    after: ReadingSent | None


def cell_of(reading: ReadingSent | None) -> Cell:
    return Cell(reading.value_nm, reading.void_reason) if reading else Cell(None)


def by_place(readings: Iterable[ReadingSent]) -> dict[Place, ReadingSent]:
    return {(reading.spot, reading.order): reading for reading in readings}


def changed(readings: Sequence[ReadingSent], changes: Changes) -> list[ReadingSent]:
    """The readings with the changes, by spot and order; a reading keeps the time at which it was taken."""
    found = by_place(readings)
    for (spot, order), cell in changes.items():
        stored = found.pop((spot, order), None)
        if cell.value_nm is not None:
            at = stored.taken_at if stored else None
            found[spot, order] = ReadingSent(spot, order, cell.value_nm, at, cell.void_reason)
    return sorted(found.values(), key=itemgetter(0, 1))


def differences(readings: Sequence[ReadingSent], changes: Changes) -> list[Difference]:
    """What the changes really change, by spot and order."""
    before, after = by_place(readings), by_place(changed(readings, changes))
    told = [Difference(*place, before.get(place), after.get(place)) for place in sorted(changes)]
    return [one for one in told if one.before != one.after]


def against(stored: Sequence[ReadingSent], taken: Sequence[ReadingSent]) -> list[Difference]:
    """What readings that take the place of all stored ones change, by spot and order; their times are not compared."""
    changes: dict[Place, Cell] = dict.fromkeys(by_place(stored), Cell(None))
    return differences(stored, changes | {place: cell_of(reading) for place, reading in by_place(taken).items()})


def doubts(found: Sequence[Difference], readings: Sequence[ReadingSent], unit: Unit) -> list[Fault]:
    """What is asked before the changes are stored: readings far from all others, and readings left out."""
    counting = [reading.value_nm for reading in readings if not reading.void_reason]
    middle = median(counting) if counting else 0
    asked = [
        Fault(
            f"Spot {one.spot}, reading {one.order}: {in_unit(one.after.value_nm, unit)} {unit.label} is far from the "
            f"middle of all readings, {in_unit(middle, unit)} {unit.label}. Is the figure right?",
            "changes",
        )
        for one in found
        if one.after and _is_typed(one) and middle and not _is_near(one.after.value_nm, middle)
    ]
    left_out = [one for one in found if one.after is None]
    if left_out:
        first = left_out[0]
        asked.append(
            Fault(
                f"{len(left_out)} reading{'s are' if len(left_out) > 1 else ' is'} left out, such as reading "
                f"{first.order} of spot {first.spot}. A reading that was taken is voided with a reason and stays; "
                "leave out only what was never taken there.",
                "changes",
            )
        )
    return asked


def _is_typed(one: Difference) -> bool:
    """Whether the figure itself is new, in a reading that counts."""
    return bool(one.after and not one.after.void_reason) and cell_of(one.before).value_nm != cell_of(one.after).value_nm


def _is_near(nm: int, middle: float) -> bool:
    return middle / TIMES_APART < nm < middle * TIMES_APART


def as_typed(nm: int, unit: Unit) -> str:
    """The reading as it stands in its field: exact where the unit can say it, else rounded as pages show it."""
    exact = Decimal(nm) / unit.nm
    return f"{exact.normalize():f}" if exact == round(exact, 3 if unit is Unit.UM else 2) else in_unit(nm, unit)
