"""SSPC-PA 17: conformance of surface profile by locations, how many there must be, and how far a bad one reaches."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.completeness import UNFINISHED, count_check, judged_with_counts
from inspection.standards.extent import (
    NO_PLACE,
    BoundaryPoint,
    ExtentSearch,
    NextSpot,
    Spot,
    dft_pa2_extent_search,
)
from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    flag,
    items,
    number,
    numbers,
    result,
    text,
    thickness,
    thicknesses,
)
from inspection.standards.thickness import counted, each_at_least, each_at_most, mean, refuse_crossed_limits

EDITION = "2012"
LOCATIONS = Source(
    "SSPC-PA 17", "2012, trade magazine 2018", "three locations for each apparatus and shift or 12 h", "stored source"
)
COMPLIANT = Source("SSPC-PA 17", "2012, partial text", "appendix B, compliant location averages", "stored source")
LIMITS = Source("SSPC-PA 17", "2012", "every location inside the limits, ends included", "from memory")
EXTENT = Source(
    "SSPC-PA 17", "2012, partial text", "appendix B4, four directions, two in a row, no room", "stored source"
)

FEWEST_LOCATIONS = 3
LONGEST_PERIOD_H = 12
DIRECTIONS = 4
MEAN, MAXIMUM = "mean", "maximum"
OF_A_LOCATION = "SSPC-PA 17 speaks of the location average; ASTM D4417 B of 2014 keeps the maximum of ten."


def location_value(readings: tuple[Fraction, ...], statistic: str) -> Fraction:
    """The value of a location in the unit of its readings: their mean, or the greatest of them."""
    return max(readings) if statistic == MAXIMUM else mean(readings)


@dataclass(frozen=True, kw_only=True)
class ProfileLimits:
    minimum_um: Fraction = thickness("Least profile specified", above=0)
    maximum_um: Fraction = thickness("Greatest profile specified", above=0)
    location_value: str = choice("Value of a location", (MEAN, MAXIMUM), help=OF_A_LOCATION)

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.minimum_um, self.maximum_um, "minimum_um", "maximum_um")


@dataclass(frozen=True, kw_only=True)
class ProfileLocation:
    readings_um: tuple[Fraction, ...] = thicknesses("Readings of the location", loose=True, most=1000)
    apparatus_and_shift: str | None = text("Blasting apparatus and shift", optional=True)


@dataclass(frozen=True, kw_only=True)
class LocationsIn:
    minimum_um: Fraction | None = thickness("Least profile specified", above=0, optional=True)
    maximum_um: Fraction | None = thickness(
        "Greatest profile specified", above=0, optional=True, help="Give both, or the one that is specified."
    )
    location_value: str = choice("Value of a location", (MEAN, MAXIMUM), help=OF_A_LOCATION)
    readings_per_location: int = number(
        "Readings asked for at each location", minimum=1, maximum=1000,
        help="By the method: 10 by depth micrometer; from memory 1 by comparator and 2 replica tapes.",
    )  # fmt: skip
    locations: tuple[ProfileLocation, ...] = items(
        "Locations, 15 × 15 cm each", ProfileLocation, most=5000,
        help="Three at least for each blasting apparatus in each shift or 12 h, whichever is shorter: "
        "write the same words for locations that belong together.",
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.minimum_um is None and self.maximum_um is None:
            raise InputFault.at("minimum_um", "give the least profile specified, the greatest, or both")
        refuse_crossed_limits(self.minimum_um, self.maximum_um, "minimum_um", "maximum_um")


@dataclass(frozen=True, kw_only=True)
class LocationOut:
    location: int
    readings: int
    value_um: Fraction | None
    complies: str


@dataclass(frozen=True, kw_only=True)
class LocationsOut(Judged):
    locations: tuple[LocationOut, ...] = result("Locations")
    mean_um: Fraction | None = result("Mean of the locations, judged by nothing", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "profile-pa17",
    title="Profile by locations (SSPC-PA 17)",
    group="Surface",
    sources=(LOCATIONS, COMPLIANT, LIMITS, UNFINISHED),
    caution="Locations are judged, never single readings, and no mean over locations excuses one of them. Different "
    "methods do not give the same number: one method for one set of locations. What to do with a bad one is the "
    "contract's: too low is usually blasted again, too high needs agreement.",
    example={
        "minimum_um": 50, "maximum_um": 75, "location_value": MEAN, "readings_per_location": 2,
        "locations": [
            {"readings_um": [55, 57], "apparatus_and_shift": "pot 1, day shift"},
            {"readings_um": [64, 62], "apparatus_and_shift": "pot 1, day shift"},
            {"readings_um": [71, 73], "apparatus_and_shift": "pot 1, day shift"},
        ],
    },
)  # fmt: skip
def profile_pa17(inputs: LocationsIn) -> LocationsOut:
    """Every location value lies inside the specified limits, ends included; three locations at least for each set.

    Heights in µm or mil, above 0. A location with too few readings has no value; while one is short, or a set has
    fewer than three, the sample is incomplete, unless a location outside the limits decides already.
    """
    short = tuple(i for i, at in enumerate(inputs.locations) if len(at.readings_um) < inputs.readings_per_location)
    every = [location_value(at.readings_um, inputs.location_value) for at in inputs.locations]
    values = {i: value for i, value in enumerate(every) if i not in set(short)}
    sets = Counter(at.apparatus_and_shift or "" for at in inputs.locations)
    counts = [_readings_check(inputs, short), *(_set_check(name, count) for name, count in sets.items())]
    verdict, checks = judged_with_counts(_limit_checks(inputs, every, frozenset(short)), counts)
    return LocationsOut(
        verdict=verdict,
        rule=f"SSPC-PA 17, {inputs.location_value} of a location",
        edition=EDITION,
        checks=checks,
        locations=tuple(
            LocationOut(location=i + 1, readings=len(at.readings_um), value_um=values.get(i),
                        complies=_complies(inputs, values.get(i)))
            for i, at in enumerate(inputs.locations)
        ),
        mean_um=mean(list(values.values())) if values else None,
        notes=_location_notes(sets, short),
    )  # fmt: skip


def _complies(limits: LocationsIn, value: Fraction | None) -> str:
    if value is None:
        return "no value yet"
    if limits.minimum_um is not None and value < limits.minimum_um:
        return "too low"
    return "too high" if limits.maximum_um is not None and value > limits.maximum_um else "yes"


def _limit_checks(limits: LocationsIn, heights: Sequence[Fraction], short: frozenset[int]) -> list[Check]:
    clause = "SSPC-PA 17 (from memory)"
    checks = []
    if limits.minimum_um is not None:
        checks.append(
            each_at_least(limits.minimum_um, heights, name="least profile", clause=clause, counted_in="location",
                          sentence="No location may be below the least profile specified.", unfinished=short)
        )  # fmt: skip
    if limits.maximum_um is not None:
        checks.append(
            each_at_most(limits.maximum_um, heights, name="greatest profile", clause=clause, counted_in="location",
                         sentence="No location may be above the greatest profile specified.", unfinished=short)
        )  # fmt: skip
    return checks


def _readings_check(inputs: LocationsIn, short: tuple[int, ...]) -> Check:
    fewest = min(len(at.readings_um) for at in inputs.locations)
    return count_check(inputs.readings_per_location, fewest, name="readings a location", clause="declared",
                       sentence="Every location has the readings asked for.", unit="readings", counted_in="location",
                       short=short)  # fmt: skip


def _set_check(name: str, count: int) -> Check:
    return count_check(FEWEST_LOCATIONS, count, name="number of locations", clause="SSPC-PA 17",
                       sentence="Each apparatus has three locations at least in each shift or 12 h.",
                       unit="locations", counted_in="location", where=name)  # fmt: skip


def _location_notes(sets: Counter[str], short: tuple[int, ...]) -> tuple[str, ...]:
    notes = [
        f"{counted(FEWEST_LOCATIONS - count, 'location')} still to measure{f' for {name}' if name else ''}."
        for name, count in sets.items()
        if count < FEWEST_LOCATIONS
    ]
    if short:
        notes.append(f"Too few readings at {counted(len(short), 'location')}: no value there yet.")
    return tuple(notes)


@dataclass(frozen=True, kw_only=True)
class LocationCountIn:
    hours_h: tuple[Fraction, ...] = numbers(
        "Hours each apparatus was used in each shift", unit="h", minimum=0, maximum=24, most=1000,
        help="One number for each apparatus and shift: two pots in one shift of 10 h are 10 10.",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class LocationCountOut:
    locations_required: int = result("Locations to measure")
    periods: int = result("Periods of one apparatus")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "profile-pa17-locations",
    title="Profile: how many locations (SSPC-PA 17)",
    group="Surface",
    sources=(LOCATIONS,),
    caution="A contract may set other numbers; it governs.",
    example={"hours_h": [10, 10, 8]},
)
def profile_pa17_locations(inputs: LocationCountIn) -> LocationCountOut:
    """Three locations for each apparatus in each work shift or 12 h, whichever is shorter; hours from 0 to 24.

    A shift longer than 12 h counts as two periods, one of 12 h and the rest (our reading); no use, no location.
    """
    periods = sum(math.ceil(hours / LONGEST_PERIOD_H) for hours in inputs.hours_h)
    long = any(hours > LONGEST_PERIOD_H for hours in inputs.hours_h)
    note = "A shift of more than 12 h is counted as two periods (our reading of “whichever is shorter”)."
    return LocationCountOut(
        locations_required=FEWEST_LOCATIONS * periods, periods=periods, notes=(note,) if long else ()
    )


@dataclass(frozen=True, kw_only=True)
class FurtherLocation:
    direction: int | None = number(
        "Direction", optional=True, minimum=1, maximum=DIRECTIONS,
        help="Clockwise from 1; left out: the one asked for.",
    )  # fmt: skip
    readings_um: tuple[Fraction, ...] | None = thicknesses(
        "Readings of the location", optional=True, loose=True, most=1000
    )
    ended: str | None = choice("Nothing to measure because", (NO_PLACE,), optional=True)

    def __post_init__(self) -> None:
        if (self.readings_um is None) == (self.ended is None):
            raise InputFault.at("readings_um", "give either the readings of the location or ended")


@dataclass(frozen=True, kw_only=True)
class ProfileExtentIn(ProfileLimits):
    step_m: Fraction | None = number(
        "Spacing of locations", unit="m", above=0, maximum=100, optional=True,
        help="The standard says “regular intervals” and no figure: declare yours. Leave out for repeating units.",
    )  # fmt: skip
    repeating_units: bool = flag(
        "One location for each repeating unit", default=False, help="Count units instead of metres."
    )
    locations: tuple[FurtherLocation, ...] | None = items(
        "Locations measured so far, in order", FurtherLocation, fewest=0, optional=True
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.repeating_units == (self.step_m is not None):
            need = "leave out where units are counted" if self.repeating_units else "is missing; declare the spacing"
            raise InputFault.at("step_m", need)
        self.search()

    def search(self) -> ExtentSearch:
        """The search by location values; raises InputFault in this calculation's own words."""
        spots = tuple(
            Spot(direction=at.direction, ended=at.ended,
                 readings_um=None if at.readings_um is None else (location_value(at.readings_um, self.location_value),))
            for at in self.locations or ()
        )  # fmt: skip
        try:
            return ExtentSearch(
                minimum_um=self.minimum_um, maximum_um=self.maximum_um, directions=DIRECTIONS,
                step_m=self.step_m or Fraction(1), repeating_units=self.repeating_units, spots=spots,
            )  # fmt: skip
        except InputFault as wrong:
            raise InputFault(
                Fault(fault.field.replace("spots[", "locations["), fault.message) for fault in wrong.faults
            ) from None


@dataclass(frozen=True, kw_only=True)
class ProfileDirection:
    direction: int
    clockwise_deg: float
    location_values_um: tuple[Fraction, ...]
    nonconforming_steps: tuple[int, ...]
    finished: bool
    ended: str


@dataclass(frozen=True, kw_only=True)
class ProfileExtentOut:
    finished: bool = result("Search finished")
    next: NextSpot | None = result("Measure next", optional=True)
    directions: tuple[ProfileDirection, ...] = result("Directions")
    boundary: tuple[BoundaryPoint, ...] | None = result("Boundary to mark out", optional=True)
    locations_taken: int = result("Locations measured")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "profile-pa17-extent",
    title="Profile: extent of a nonconforming location (SSPC-PA 17)",
    group="Surface",
    sources=(EXTENT,),
    caution="Four directions here, eight in SSPC-PA 2. Appendix B counts where the contract names it: whether it does "
    "by itself is not known here.",
    example={
        "minimum_um": 50, "maximum_um": 75, "location_value": MEAN, "step_m": 2,
        "locations": [{"readings_um": [44, 47, 46]}, {"readings_um": [55, 58, 61]}, {"readings_um": [60, 57, 62]},
                      {"ended": NO_PLACE}],
    },
)  # fmt: skip
def profile_pa17_extent(inputs: ProfileExtentIn) -> ProfileExtentOut:
    """Names the next location to measure, outward in four directions, until two in a row comply or no room is left.

    Limits in µm or mil, spacing in metres (declared, above 0, at most 100). The search keeps no state but its input.
    """
    found = dft_pa2_extent_search(inputs.search())
    return ProfileExtentOut(
        finished=found.finished,
        next=found.next,
        directions=tuple(
            ProfileDirection(direction=at.direction, clockwise_deg=at.clockwise_deg,
                             location_values_um=at.spot_means_um,
                             nonconforming_steps=tuple(index + 1 for index in at.nonconforming_indices),
                             finished=at.finished, ended=at.ended)
            for at in found.directions
        ),
        boundary=found.boundary,
        locations_taken=found.spots_taken,
        notes=found.notes,
    )  # fmt: skip
