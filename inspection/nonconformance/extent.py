"""How far a nonconforming film reaches: the search of SSPC-PA 2 over the spots that are kept, and what comes next."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from inspection.foundation.units import in_unit
from inspection.nonconformance.models import ExtentSpot, Nonconformance
from inspection.standards.extent import (
    END_OF_SHIFT,
    NO_PLACE,
    ExtentSearch,
    NextSpot,
    SearchOutputs,
    Spot,
    dft_pa2_extent_search,
)

ENDED = {ExtentSpot.Ended.NO_PLACE: NO_PLACE, ExtentSpot.Ended.SHIFT: END_OF_SHIFT}
BEARINGS = ("up", "up and right", "right", "down and right", "down", "down and left", "left", "up and left")
STEP_M = Fraction(3, 2)
NM = 1000


@dataclass(frozen=True)
class Found:
    """The spots in force, the search they make, and its outcome."""

    spots: list[ExtentSpot]
    search: ExtentSearch
    outcome: SearchOutputs

    @property
    def by_units(self) -> bool:
        return self.search.repeating_units

    def outermost(self) -> set[ExtentSpot]:
        """Of each direction the spot entered last, which alone may be taken back."""
        return set({spot.direction: spot for spot in self.spots}.values())

    def open_directions(self) -> list[int]:
        return [each.direction for each in self.outcome.directions if not each.finished]


def found(row: Nonconformance) -> Found | None:
    """The search as it stands; None where no film with a specified minimum is concerned."""
    if row.coat is None or row.coat.minimum_nm is None:
        return None
    return searched(row, ExtentSpot.objects.filter(nonconformance=row).that_count().select_related("measured_by"))


def searched(row: Nonconformance, rows: Iterable[ExtentSpot]) -> Found:
    if row.coat is None or row.coat.minimum_nm is None:
        raise ValueError("only a film with a specified minimum has an extent by this search")
    spots = list(rows)
    maximum = row.coat.maximum_nm
    search = ExtentSearch(
        minimum_um=Fraction(row.coat.minimum_nm, NM),
        maximum_um=None if maximum is None else Fraction(maximum, NM),
        directions=len(BEARINGS),
        step_m=STEP_M,
        repeating_units=bool(spots) and spots[0].by_units,
        spots=tuple(_spot(spot) for spot in spots),
    )
    return Found(spots, search, dft_pa2_extent_search(search))


def _spot(spot: ExtentSpot) -> Spot:
    if spot.ended:
        return Spot(direction=spot.direction, ended=ENDED[ExtentSpot.Ended(spot.ended)])
    return Spot(direction=spot.direction, readings_um=tuple(Fraction(nm, NM) for nm in spot.readings_nm))


def where(direction: int, step: int, *, by_units: bool) -> str:
    """In words: which direction, and how far from the spot that the search began from."""
    far = f"unit {step}" if by_units else f"{float(STEP_M * step):g} m"
    return f"Direction {direction} ({BEARINGS[direction - 1]}), {far}"


def next_told(spot: NextSpot | None, *, by_units: bool) -> str:
    return where(spot.direction, spot.step, by_units=by_units) if spot else ""


@dataclass(frozen=True)
class Line:
    """One kept spot as a page shows it; `conforms` is None where the direction ended there."""

    spot: ExtentSpot
    where: str
    mean: str
    conforms: bool | None
    may_go: bool


def lines(told: Found, unit: str) -> list[Line]:
    """The spots in the order in which they were measured, each with its place and what was found."""
    shown, steps = [], dict.fromkeys(range(1, 9), 0)
    last = told.outermost()
    for spot in told.spots:
        steps[spot.direction] += 1
        step = steps[spot.direction]
        arm = told.search.arms[spot.direction - 1]
        mean = "" if spot.ended else in_unit(arm.means[step - 1] * NM, unit)
        conforms = None if spot.ended else arm.conforming[step - 1]
        shown.append(Line(spot, where(spot.direction, step, by_units=told.by_units), mean, conforms, spot in last))
    return shown
