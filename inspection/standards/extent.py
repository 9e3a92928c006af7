"""SSPC-PA 2: how far a nonconforming area reaches, found by spots outward from the nonconforming one.

Spots are taken at equal steps in each direction until two in a row conform, or there is no further place to measure.
Here a spot conforms only inside the specified minimum and maximum; the allowance of the restriction levels does not
apply. The search keeps no state but its own input: measure the spot it names next, add it, and ask again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from inspection.standards.fields import Reader
from inspection.standards.registry import (
    InputFault,
    Source,
    calculation,
    choice,
    exact,
    flag,
    items,
    number,
    result,
    thickness,
    thickness_lists,
    thicknesses,
)
from inspection.standards.thickness import mean, refuse_crossed_limits
from inspection.standards.units import plain

Bearings = npt.NDArray[np.float64]
IN_A_ROW = 2
SLICES = 5040
"""Of a full turn, to add up an area by; every number of directions divides it."""
NO_PLACE, END_OF_SHIFT = "no further place", "end of the shift's work"
EXTENT = Source("SSPC-PA 2", "May 2012", "clause 8, step of 1.5 m, two conforming spots in a row", "stored source")
EIGHT = Source(
    "SSPC-PA 2", "2012 to 2018 editions", "eight equally spaced directions; mark out and record", "from memory"
)
CAUTION = "Limits are the specified minimum and maximum themselves, without the 80 % and 120 % of a restriction level."


def conforms(spot_mean: Fraction, minimum: Fraction, maximum: Fraction | None) -> bool:
    """Inside the specified limits, limits included."""
    return spot_mean >= minimum and (maximum is None or spot_mean <= maximum)


def stops_after(conforming: Sequence[bool]) -> int | None:
    """Index of the spot after which a direction is finished: the second of two conforming in a row."""
    for index in range(IN_A_ROW - 1, len(conforming)):
        if all(conforming[index - IN_A_ROW + 1 : index + 1]):
            return index
    return None


@dataclass(frozen=True)
class DirectionInputs:
    minimum_um: Fraction = thickness("Specified minimum", above=0)
    maximum_um: Fraction | None = thickness("Specified maximum", optional=True, above=0)
    level: int = choice("Restriction level", (1, 2, 3, 4, 5), default=3, help="Makes no difference here.")
    direction_spots_um: tuple[tuple[Fraction, ...], ...] = thickness_lists(
        "Spots outward in one direction", loose=True, help="Spot means, or the readings of each spot."
    )

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.minimum_um, self.maximum_um, "minimum_um", "maximum_um")


@dataclass(frozen=True)
class DirectionOutputs:
    spots_taken: int = result("Spots needed")
    nonconforming_indices: tuple[int, ...] = result("Spots that do not conform")
    stops_after_index: int | None = result("The direction is finished after spot", optional=True)
    finished: bool = result("Finished")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-pa2-extent",
    title="Extent of a nonconforming area, one direction",
    group="Thickness",
    sources=(EXTENT,),
    caution=CAUTION,
    example={"minimum_um": 100, "maximum_um": 150, "direction_spots_um": [85, 92, 104, 97, 101, 110]},
)
def dft_pa2_extent(inputs: DirectionInputs) -> DirectionOutputs:
    """Walks one direction outward and says where it may stop: after two conforming spots in a row."""
    means = [mean(readings) for readings in inputs.direction_spots_um]
    conforming = [conforms(value, inputs.minimum_um, inputs.maximum_um) for value in means]
    stop = stops_after(conforming)
    taken = len(means) if stop is None else stop + 1
    notes = []
    if stop is None:
        notes.append("Measure a further spot, unless there is no further place in this direction.")
    elif taken < len(means):
        notes.append("Spots beyond the stop were not needed and are not counted.")
    return DirectionOutputs(
        spots_taken=taken,
        nonconforming_indices=tuple(i for i in range(taken) if not conforming[i]),
        stops_after_index=stop,
        finished=stop is not None,
        notes=tuple(notes),
    )


@dataclass(frozen=True)
class Spot:
    direction: int | None = number(
        "Direction", optional=True, minimum=1, maximum=8, help="Counted clockwise from 1; left out: the one asked for."
    )
    readings_um: tuple[Fraction, ...] | None = thicknesses("Readings of the spot", optional=True, loose=True)
    ended: str | None = choice("Nothing to measure because", (NO_PLACE, END_OF_SHIFT), optional=True)

    def __post_init__(self) -> None:
        if (self.readings_um is None) == (self.ended is None):
            raise InputFault.at("readings_um", "give either the readings of the spot or ended")


@dataclass(frozen=True)
class Arm:
    """One direction, outward: what was measured there, and whether it is finished."""

    means: tuple[Fraction, ...] = ()
    conforming: tuple[bool, ...] = ()
    ended: str = ""

    @property
    def finished(self) -> bool:
        return bool(self.ended) or stops_after(self.conforming) is not None

    @property
    def last_nonconforming(self) -> int:
        """Step of the outermost nonconforming spot; 0 is the spot the search began from."""
        return max((step for step, fits in enumerate(self.conforming, start=1) if not fits), default=0)


@dataclass(frozen=True)
class ExtentSearch:
    """A search under way. Immutable: each measured spot gives the next search."""

    minimum_um: Fraction = thickness("Specified minimum", above=0)
    maximum_um: Fraction | None = thickness("Specified maximum", optional=True, above=0)
    directions: int = number("Directions, equally spaced", default=8, minimum=2, maximum=8)
    step_m: Fraction = number("Step", unit="m", default=1.5, above=0, maximum=100)
    repeating_units: bool = flag(
        "One spot per repeating unit", default=False,
        help="For complex structures and units under 3 m: count units instead of metres.",
    )  # fmt: skip
    spots: tuple[Spot, ...] = items("Spots measured so far, in order", Spot, fewest=0, optional=True)
    arms: tuple[Arm, ...] = field(default=(), init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.minimum_um, self.maximum_um, "minimum_um", "maximum_um")
        object.__setattr__(self, "spots", tuple(self.spots or ()))
        arms = [Arm()] * self.directions
        for index, spot in enumerate(self.spots):
            at = self._direction_of(spot, arms, f"spots[{index}].direction")
            arms[at] = self._extended(arms[at], spot)
        object.__setattr__(self, "arms", tuple(arms))

    def _direction_of(self, spot: Spot, arms: Sequence[Arm], name: str) -> int:
        if spot.direction is None:
            open_arms = [at for at, arm in enumerate(arms) if not arm.finished]
            if not open_arms:
                raise InputFault.at(name, "every direction is finished already; nothing further is to be measured")
            return open_arms[0]
        if spot.direction > len(arms):
            raise InputFault.at(name, f"must be at most {len(arms)}")
        if arms[spot.direction - 1].finished:
            raise InputFault.at(name, f"direction {spot.direction} is finished already")
        return spot.direction - 1

    def _extended(self, arm: Arm, spot: Spot) -> Arm:
        if spot.readings_um is None:
            return replace(arm, ended=spot.ended or NO_PLACE)
        value = mean(spot.readings_um)
        fits = conforms(value, self.minimum_um, self.maximum_um)
        return replace(arm, means=(*arm.means, value), conforming=(*arm.conforming, fits))

    @property
    def next_direction(self) -> int | None:
        """The direction to measure in next (counted from 1), or None when the search has ended."""
        return next((at for at, arm in enumerate(self.arms, start=1) if not arm.finished), None)

    def measured(self, *readings_um: Fraction | float, direction: int | None = None) -> ExtentSearch:
        """The search after one more spot; in the direction asked for unless another is named."""
        readings = tuple(exact(reading) for reading in readings_um)
        return replace(self, spots=(*self.spots, Spot(direction=direction, readings_um=readings)))

    def nothing_to_measure(self, why: str = NO_PLACE, direction: int | None = None) -> ExtentSearch:
        """The search after a direction came to its end without a spot."""
        return replace(self, spots=(*self.spots, Spot(direction=direction, ended=why)))

    def state(self) -> dict[str, Any]:
        """The search as JSON values; also the input of the calculation ``dft-pa2-extent-search``."""
        spots = []
        for spot in self.spots:
            kept: dict[str, Any] = {} if spot.direction is None else {"direction": spot.direction}
            if spot.readings_um is None:
                kept["ended"] = spot.ended
            else:
                kept["readings_um"] = [plain(reading) for reading in spot.readings_um]
            spots.append(kept)
        return {
            "minimum_um": plain(self.minimum_um),
            "maximum_um": None if self.maximum_um is None else plain(self.maximum_um),
            "directions": self.directions,
            "step_m": plain(self.step_m),
            "repeating_units": self.repeating_units,
            "spots": spots,
        }

    @classmethod
    def from_state(cls, state: Mapping[str, Any]) -> ExtentSearch:
        """The search as it was kept by :meth:`state`; raises InputFault."""
        return cast("ExtentSearch", Reader().read(cls, state))


@dataclass(frozen=True)
class NextSpot:
    direction: int
    step: int
    clockwise_deg: float
    distance_m: Fraction | None = None
    x_m: float | None = None
    y_m: float | None = None


@dataclass(frozen=True)
class Direction:
    direction: int
    clockwise_deg: float
    spot_means_um: tuple[Fraction, ...]
    nonconforming_indices: tuple[int, ...]
    finished: bool
    ended: str


@dataclass(frozen=True)
class BoundaryPoint:
    """The nonconforming area ends before this point."""

    direction: int
    step: int
    closed_by: str
    distance_m: Fraction | None = None
    x_m: float | None = None
    y_m: float | None = None


@dataclass(frozen=True)
class SearchOutputs:
    finished: bool = result("Search finished")
    next: NextSpot | None = result("Measure next", optional=True)
    directions: tuple[Direction, ...] = result("Directions")
    boundary: tuple[BoundaryPoint, ...] | None = result("Boundary to mark out", optional=True)
    area_m2: float | None = result("Area inside the boundary, at most", optional=True)
    spots_taken: int = result("Spots measured")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-pa2-extent-search",
    title="Extent of a nonconforming area, all directions",
    group="Thickness",
    sources=(EXTENT, EIGHT),
    caution=f"{CAUTION} The search need not go beyond the surface coated in that work shift.",
    example={"minimum_um": 100, "maximum_um": 150,
             "spots": [{"readings_um": [85, 92, 88]}, {"readings_um": [104, 108, 103]},
                       {"readings_um": [110, 107, 112]}, {"ended": "no further place"}]},
)  # fmt: skip
def dft_pa2_extent_search(search: ExtentSearch) -> SearchOutputs:
    """Says which spot to measure next, and ends in the boundary of the nonconforming area."""
    at = search.next_direction
    boundary = tuple(_boundary_point(search, n) for n in range(1, search.directions + 1)) if at is None else None
    return SearchOutputs(
        finished=at is None,
        next=None if at is None else _next_spot(search, at),
        directions=tuple(
            Direction(
                direction=n,
                clockwise_deg=_bearing(search, n),
                spot_means_um=arm.means,
                nonconforming_indices=tuple(i for i, fits in enumerate(arm.conforming) if not fits),
                finished=arm.finished,
                ended=arm.ended,
            )
            for n, arm in enumerate(search.arms, start=1)
        ),
        boundary=boundary,
        area_m2=_enclosed(search, boundary),
        spots_taken=sum(len(arm.means) for arm in search.arms),
        notes=_notes(search, at),
    )


def _bearing(search: ExtentSearch, direction: int) -> float:
    return 360 * (direction - 1) / search.directions


def _place(search: ExtentSearch, direction: int, step: int) -> dict[str, Any]:
    """Where a step lies: x to the right and y upward from the first spot, seen from outside; nothing for units."""
    if search.repeating_units:
        return {}
    distance, angle = search.step_m * step, math.radians(_bearing(search, direction))
    x, y = (round(float(distance) * part, 3) + 0.0 for part in (math.sin(angle), math.cos(angle)))
    return {"distance_m": distance, "x_m": x, "y_m": y}


def _next_spot(search: ExtentSearch, direction: int) -> NextSpot:
    step = len(search.arms[direction - 1].means) + 1
    return NextSpot(direction, step, _bearing(search, direction), **_place(search, direction, step))


def _boundary_point(search: ExtentSearch, direction: int) -> BoundaryPoint:
    arm = search.arms[direction - 1]
    step = arm.last_nonconforming + 1
    closed_by = "conforming spot" if step <= len(arm.conforming) else arm.ended
    return BoundaryPoint(direction, step, closed_by, **_place(search, direction, step))


def _enclosed(search: ExtentSearch, boundary: Sequence[BoundaryPoint] | None) -> float | None:
    """Area in m² that the nonconforming film covers at most, rounded up to 0.001.

    What lies within one step of a nonconforming spot or of the line that leads to it, and what lies inside the polygon
    through the boundary points: seen from the first spot both reach out without a gap, so the area is that of the
    farther one in each bearing.
    """
    if boundary is None or search.repeating_units or search.directions < 3:
        return None
    step = float(search.step_m)
    return _area(step, tuple(step * point.step for point in boundary))


@lru_cache(maxsize=256)
def _area(step: float, reaches: tuple[float, ...]) -> float:
    sector = math.tau / len(reaches)
    slices = SLICES // len(reaches)
    bearings = (np.arange(slices) + 0.5) * sector / slices
    total = 0.0
    for at, (near, far) in enumerate(zip(reaches, reaches[1:] + reaches[:1], strict=True)):
        edge = near * far * math.sin(sector) / (near * np.sin(bearings) + far * np.sin(sector - bearings))
        for n, reach in enumerate(reaches):
            edge = np.maximum(edge, _strip(step, reach - step, bearings - (n - at) * sector))
        total += float(np.sum(edge**2))
    area = total / 2 * sector / slices
    return math.ceil(round(area * 1000, 6)) / 1000


def _strip(step: float, length: float, angles: Bearings) -> Bearings:
    """How far what lies within a step of a line of this length reaches, at each angle to the line, from its start."""
    along, across = np.cos(angles), np.abs(np.sin(angles))
    round_its_end = length * along + np.sqrt(np.maximum(0.0, step**2 - (length * across) ** 2))
    beside_it = step / np.where(along > 0, across, 1.0)
    return np.where(length * across < step * along, round_its_end, beside_it)


def _notes(search: ExtentSearch, at: int | None) -> tuple[str, ...]:
    if at is not None:
        return ("Direction 1 points up the surface; the others follow clockwise.",)
    notes = ["Mark the boundary on the surface and record it."]
    if any(arm.ended for arm in search.arms):
        notes.append("Where a direction ended early, the surface or the shift's work ends before the boundary point.")
    return tuple(notes)
