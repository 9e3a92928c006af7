"""SSPC-PA 2: conformance of dry film thickness, judged on spot means and area means, never on single readings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from operator import or_
from typing import cast

import numpy as np

from inspection.standards.completeness import (
    LEFT_OUT,
    MOST_LEFT_OUT,
    REMAINDER,
    UNFINISHED,
    asked_of_the_rest,
    so_far,
)
from inspection.standards.fields import Bare
from inspection.standards.pa2_spots import (
    LEVELS,
    READINGS_PER_SPOT,
    SPOTS_PER_AREA,
    Limits,
    SpotsJudged,
    judge_areas,
    whole_units,
)
from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    items,
    number,
    result,
    text,
    thickness,
    thickness_lists,
    thicknesses,
)
from inspection.standards.thickness import counted, each_within, mean, refuse_crossed_limits

EDITION = "2012 to 2018 editions"
BASE_METAL_READINGS = 10
ODD_SHARE = Fraction(1, 2)
"""A reading is pointed out when it differs from the median of its spot by more than half of it; our own screen."""

FEWEST_REMAINING = 3
"""Spots of an area that are judged as its mean where others lie in a repaired part (common practice, no source)."""

MISSING, MOST_MISSING = "Discarded readings not repeated yet", 100_000

PA2_SPOTS = Source("SSPC-PA 2", "May 2012", "spot and area measurement, clause 8", "stored source")
PA2_LEVELS = Source("SSPC-PA 2", EDITION, "clause 9, restriction levels", "from memory")


@dataclass(frozen=True)
class Area:
    name: str | None = text("Name of the area", optional=True)
    spots_um: tuple[tuple[Fraction, ...], ...] = thickness_lists("Readings, spot by spot", loose=True)
    repeats_missing: int = number(MISSING, default=0, minimum=0, maximum=MOST_MISSING)
    left_out: int = number(f"Spots {LEFT_OUT[0].lower()}{LEFT_OUT[1:]}", default=0, minimum=0, maximum=MOST_LEFT_OUT)

    @property
    def spots_asked(self) -> int:
        """Five; fewer where some of them lie in a part that was repaired since and is measured by itself."""
        return asked_of_the_rest(SPOTS_PER_AREA, left_out=self.left_out, fewest=FEWEST_REMAINING)

    @property
    def spots_missing(self) -> int:
        return max(0, self.spots_asked - len(self.spots_um))

    @cached_property
    def short_spots(self) -> tuple[int, ...]:
        """Spots begun that have fewer readings than a spot measurement; one given as its mean is none of them."""
        return tuple(
            i for i, readings in enumerate(self.spots_um)
            if len(readings) < READINGS_PER_SPOT and not isinstance(readings, Bare)
        )  # fmt: skip

    @cached_property
    def still_to_measure(self) -> int:
        """Readings the area still wants to be a complete area measurement."""
        missing = self.spots_missing * READINGS_PER_SPOT
        short = sum(READINGS_PER_SPOT - len(self.spots_um[i]) for i in self.short_spots)
        return missing + short + self.repeats_missing


@dataclass(frozen=True)
class Inputs:
    level: int = choice("Restriction level", (1, 2, 3, 4, 5), default=3, help="3 when the contract names none.")
    minimum_um: Fraction | None = thickness("Specified minimum", optional=True, above=0)
    maximum_um: Fraction | None = thickness("Specified maximum", optional=True, above=0)
    target_um: Fraction | None = thickness(
        "Single specified thickness", optional=True, above=0,
        help="Where the contract gives one thickness only and the maker no range: minimum and maximum are 80 % and "
             "120 % of it.",
    )  # fmt: skip
    spots_um: tuple[tuple[Fraction, ...], ...] | None = thickness_lists(
        "Readings, spot by spot",
        optional=True,
        loose=True,
        help="Three or more of each spot; one number by itself is taken as a spot mean.",
    )
    areas: tuple[Area, ...] | None = items("Areas", Area, optional=True, help="Several areas instead of one.")
    areas_to_measure: int | None = number(
        "Areas to measure", optional=True, minimum=1, maximum=100_000,
        help="“How much to measure” tells it; left out, those given are all.",
    )  # fmt: skip
    repeats_missing: int = number(MISSING, default=0, minimum=0, maximum=MOST_MISSING)

    def __post_init__(self) -> None:
        if (self.spots_um is None) == (self.areas is None):
            raise InputFault.at("spots_um", "give either spots_um (one area) or areas (several)")
        if self.areas and self.repeats_missing:
            raise InputFault.at("repeats_missing", "belongs to one of the areas; give it there")
        if (self.minimum_um is None) == (self.target_um is None):
            raise InputFault.at(
                "minimum_um", "give either minimum_um or, if one thickness only is specified, target_um"
            )
        if self.target_um is not None and self.maximum_um is not None:
            raise InputFault.at("maximum_um", "leave out with target_um: the range is 80 % to 120 % of it")
        refuse_crossed_limits(self.minimum_um, self.maximum_um, "minimum_um", "maximum_um")

    @property
    def limits(self) -> tuple[Fraction, Fraction | None]:
        """Specified minimum and maximum."""
        if self.target_um is not None:
            return self.target_um * 80 / 100, self.target_um * 120 / 100
        return cast("Fraction", self.minimum_um), self.maximum_um

    @property
    def measured(self) -> tuple[Area, ...]:
        spots = cast("tuple[tuple[Fraction, ...], ...]", self.spots_um)
        return self.areas or (Area(name=None, spots_um=spots, repeats_missing=self.repeats_missing),)

    @property
    def areas_missing(self) -> int:
        return max(0, (self.areas_to_measure or 0) - len(self.measured))


@dataclass(frozen=True, kw_only=True)
class AreaVerdict:
    name: str
    verdict: str
    area_mean_um: Fraction
    spot_means_um: tuple[Fraction, ...]
    nonconforming_indices: tuple[int, ...]
    spots_missing: int
    short_spot_indices: tuple[int, ...]


@dataclass(frozen=True)
class OddReading:
    area: str
    spot_index: int
    reading_index: int
    value_um: Fraction


@dataclass(frozen=True, kw_only=True)
class Outputs(Judged):
    minimum_um: Fraction = result("Specified minimum")
    maximum_um: Fraction | None = result("Specified maximum", optional=True)
    spot_means_um: tuple[Fraction, ...] | None = result("Spot means", optional=True)
    area_mean_um: Fraction | None = result("Area mean", optional=True)
    areas: tuple[AreaVerdict, ...] = result("Areas")
    complete: bool = result("Enough spots and readings")
    still_to_measure: int = result("Readings still to take")
    odd_readings: tuple[OddReading, ...] = result("Readings to look at again")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-pa2",
    title="Dry film thickness by SSPC-PA 2",
    group="Thickness",
    sources=(
        PA2_SPOTS,
        PA2_LEVELS,
        UNFINISHED,
        REMAINDER,
        Source("SSPC-PA 2", EDITION, "one specified thickness only: ± 20 %", "from memory"),
        Source("screen for odd readings: more than half away from the spot's median",
               provenance="common practice, no source"),
    ),
    caution="The level table is from memory: check it against the project's own copy. PA 2 is not for thermal spray "
            "and not for failure investigations.",
    example={"level": 3, "minimum_um": 100, "maximum_um": 150,
             "spots_um": [[118, 121, 119], [96, 92, 95], [130, 128, 131], [111, 108, 110], [102, 99, 104]]},
)  # fmt: skip
def dft_pa2(inputs: Inputs) -> Outputs:
    """Judges each area by its spot means and its area mean; a single gauge reading is never judged by itself.

    Before all is measured, only a spot of three readings or more outside its limits decides (clause 9), and an area
    whose five spots are all measured; a spot begun and the mean of an area begun wait for the rest.
    """
    measured, held = _measured(inputs), _limits(inputs)
    minimum, maximum = inputs.limits
    checks: list[Check] = []
    verdicts = []
    for index, area in enumerate(inputs.measured):
        name = area.name or (f"area {index + 1}" if inputs.areas else "")
        found = _checks(measured, index, name, area, held)
        checks += so_far(found, complete=measured.complete[index])
        verdicts.append(_verdict(measured, index, name, area))
    only = verdicts[0] if inputs.areas is None else None
    odd = tuple(found for verdict, place in zip(verdicts, measured.places, strict=True)
                for found in _odd_readings(measured, verdict.name, place))  # fmt: skip
    wanted = inputs.areas_missing * SPOTS_PER_AREA * READINGS_PER_SPOT
    wanted += sum(area.still_to_measure for area in inputs.measured)
    return Outputs(
        verdict="fail" if any(measured.failed) else "incomplete" if wanted else "pass",
        rule=f"SSPC-PA 2, restriction level {inputs.level}",
        edition=EDITION,
        checks=tuple(checks),
        minimum_um=minimum,
        maximum_um=maximum,
        spot_means_um=only.spot_means_um if only else None,
        area_mean_um=only.area_mean_um if only else None,
        areas=tuple(verdicts),
        complete=not wanted,
        still_to_measure=wanted,
        odd_readings=odd,
        notes=_notes(inputs, verdicts, len(odd)),
    )


@dataclass(frozen=True)
class Measured:
    """The areas judged, in whole parts of a micrometre: ``parts`` of them are one."""

    parts: int
    readings: tuple[list[int], ...]
    places: tuple[slice, ...]
    found: SpotsJudged
    failed: list[bool]
    complete: list[bool]
    thin: list[bool]
    thick: list[bool]
    weighted: list[int]

    def mean_um(self, weighted: int) -> Fraction:
        """The mean of a spot from what ``weighted`` holds of it."""
        return Fraction(weighted, self.found.unit * self.parts)


def _measured(inputs: Inputs) -> Measured:
    areas, (minimum, maximum) = inputs.measured, inputs.limits
    spots = [readings for area in areas for readings in area.spots_um]
    values = [reading for readings in spots for reading in readings]
    parts = math.lcm(*{value.denominator for value in (*values, minimum, maximum or minimum)})
    whole = [value.numerator * (parts // value.denominator) for value in values]
    limits = Limits(LEVELS[inputs.level], int(minimum * parts), None if maximum is None else int(maximum * parts))
    counts = np.array([len(readings) for readings in spots])
    area_of_spot = np.repeat(np.arange(len(areas)), [len(area.spots_um) for area in areas])
    judged = judge_areas(
        whole_units(whole, max(*map(abs, whole), limits.minimum, limits.maximum or 0)),
        np.repeat(np.arange(len(counts)), counts), np.repeat(area_of_spot, counts), limits,
        spot_means=np.repeat([isinstance(readings, Bare) for readings in spots], counts),
        unfinished=np.array([index for index, area in enumerate(areas) if area.repeats_missing], dtype=np.int64),
        spots_asked=np.array([area.spots_asked for area in areas]),
    )  # fmt: skip
    starts = (np.cumsum(counts) - counts).tolist()
    return Measured(
        parts=parts,
        readings=tuple(whole[start : start + len(readings)] for start, readings in zip(starts, spots, strict=True)),
        places=tuple(slice(*ends) for ends in pairwise([*judged.first_spots.tolist(), len(spots)])),
        found=judged.spots,
        failed=judged.failed.tolist(),
        complete=judged.complete.tolist(),
        thin=judged.spots.thin.tolist(),
        thick=judged.spots.thick.tolist(),
        weighted=judged.spots.weighted.tolist(),
    )


@dataclass(frozen=True)
class _Held:
    """What spot means and area means are held to, µm, each with its sentence; a maximum only where one is judged."""

    spot_minimum: Fraction
    spot_minimum_words: str
    area_minimum: Fraction
    spot_maximum: Fraction | None
    spot_maximum_words: str
    area_maximum: Fraction | None


def _limits(inputs: Inputs) -> _Held:
    level, (minimum, maximum) = LEVELS[inputs.level], inputs.limits
    most = level.spot_maximum_pct
    return _Held(
        spot_minimum=minimum * level.spot_minimum_pct / 100,
        spot_minimum_words=f"Every spot mean is at least {level.spot_minimum_pct} % of the specified minimum.",
        area_minimum=minimum,
        spot_maximum=None if maximum is None or most is None else maximum * most / 100,
        spot_maximum_words=f"Every spot mean is at most {most} % of the specified maximum.",
        area_maximum=maximum if level.area_has_maximum else None,
    )


def _checks(measured: Measured, index: int, name: str, area: Area, held: _Held) -> list[Check]:
    place, found = measured.places[index], measured.found
    means, area_mean = measured.weighted[place], _area_mean(measured, index)
    short = frozenset(area.short_spots)
    checks = [
        each_within(held.spot_minimum, means, breaking=_where(measured.thin[place]), edge=min,
                    as_observed=measured.mean_um, name="spot_minimum", clause="clause 9", counted_in="spot",
                    where=name, unfinished=short, sentence=held.spot_minimum_words),
        Check("area_minimum", "clause 9", "The area mean is at least the specified minimum.", held.area_minimum,
              area_mean, not found.mean_thin[index], (), "um", "spot", name),
    ]  # fmt: skip
    if held.spot_maximum is not None:
        checks.append(each_within(held.spot_maximum, means, breaking=_where(measured.thick[place]), edge=max,
                                  as_observed=measured.mean_um, name="spot_maximum", clause="clause 9",
                                  counted_in="spot", where=name, unfinished=short,
                                  sentence=held.spot_maximum_words))  # fmt: skip
    if held.area_maximum is not None:
        sentence = "The area mean is at most the specified maximum."
        checks.append(Check("area_maximum", "clause 9", sentence, held.area_maximum, area_mean,
                            not found.mean_thick[index], (), "um", "spot", name))  # fmt: skip
    return checks


def _verdict(measured: Measured, index: int, name: str, area: Area) -> AreaVerdict:
    place, short = measured.places[index], area.short_spots
    outside = _where(map(or_, measured.thin[place], measured.thick[place]))
    return AreaVerdict(
        name=name,
        verdict="fail" if measured.failed[index] else "pass" if measured.complete[index] else "incomplete",
        area_mean_um=_area_mean(measured, index),
        spot_means_um=tuple(map(measured.mean_um, measured.weighted[place])),
        nonconforming_indices=tuple(spot for spot in outside if spot not in short),
        spots_missing=area.spots_missing,
        short_spot_indices=short,
    )


def _area_mean(measured: Measured, index: int) -> Fraction:
    return Fraction(int(measured.found.totals[index]), int(measured.found.wholes[index]) * measured.parts)


def _where(flags: Iterable[bool]) -> list[int]:
    return [place for place, flag in enumerate(flags) if flag]


def _odd_readings(measured: Measured, area: str, place: slice) -> list[OddReading]:
    """Readings far from their spot's median: asked about, never dropped."""
    odd = []
    for spot, readings in enumerate(measured.readings[place]):
        median = sorted(readings)[len(readings) // 2]
        far = median * ODD_SHARE.numerator // ODD_SHARE.denominator
        odd += [OddReading(area, spot, i, Fraction(value, measured.parts)) for i, value in enumerate(readings)
                if abs(value - median) > far]  # fmt: skip
    return odd


def _notes(inputs: Inputs, verdicts: Sequence[AreaVerdict], odd: int) -> tuple[str, ...]:
    notes = []
    for verdict in verdicts:
        name = verdict.name[:1].upper() + verdict.name[1:] or "The area"
        if verdict.spots_missing:
            notes.append(f"{name}: {counted(verdict.spots_missing, 'spot')} still to measure; an area has "
                         f"{SPOTS_PER_AREA} spots.")  # fmt: skip
        if verdict.short_spot_indices:
            notes.append(f"{name}: {counted(len(verdict.short_spot_indices), 'spot has', 'spots have')} fewer than "
                         f"{READINGS_PER_SPOT} gauge readings; not judged before it has them.")  # fmt: skip
    if inputs.areas_missing:
        notes.append(f"{counted(inputs.areas_missing, 'further area')} of {SPOTS_PER_AREA} spots still to measure.")
    if odd:
        notes.append(f"{counted(odd, 'reading lies', 'readings lie')} more than half away from the median of the spot: "
                     "repeat; an odd reading that does not repeat may be discarded with its reason.")  # fmt: skip
    if inputs.maximum_um is not None and not LEVELS[inputs.level].area_has_maximum:
        notes.append("Level 5 restricts no maximum; the specified maximum was not judged.")
    elif inputs.limits[1] is None and LEVELS[inputs.level].area_has_maximum:
        notes.append("No maximum is specified; only the minimum was judged.")
    return tuple(notes)


@dataclass(frozen=True)
class BaseMetalInputs:
    base_metal_readings_um: tuple[Fraction, ...] = thicknesses(
        "Readings on the bare prepared steel", minimum=-1000, help="About ten, spread over the surface."
    )
    spot_readings_um: tuple[Fraction, ...] = thicknesses("Readings of the spot on the coating")


@dataclass(frozen=True)
class BaseMetalOutputs:
    base_metal_reading_um: Fraction = result("Base metal reading")
    spot_mean_um: Fraction = result("Spot mean, base metal reading subtracted")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "base-metal-reading",
    title="Base metal reading subtracted",
    group="Thickness",
    sources=(
        Source("SSPC-PA 2", "May 2012", "type 1 gages: base metal reading subtracted", "stored source"),
        Source("SSPC-PA 2", EDITION, "at least ten base metal readings", "from memory"),
    ),
    caution="Use one correction only: a base metal reading, an adjustment on the blasted steel, or an ISO 19840 "
            "correction value. Two together subtract the profile twice.",
    example={"base_metal_readings_um": [12, 15, 13, 14, 11, 16, 12, 13, 14, 10], "spot_readings_um": [118, 121, 124]},
)  # fmt: skip
def base_metal_reading(inputs: BaseMetalInputs) -> BaseMetalOutputs:
    """Mean of the readings on bare prepared steel, and the spot mean with it subtracted."""
    base = mean(inputs.base_metal_readings_um)
    if base < 0:
        raise InputFault.at("base_metal_readings_um", "their mean lies below zero, and subtracting it would add to the "
                                                      "film: set the gauge to zero and read again")  # fmt: skip
    spot = mean(inputs.spot_readings_um) - base
    if spot < 0:
        raise InputFault.at("spot_readings_um", "their mean lies below the base metal reading; "
                                                "see which readings are which")  # fmt: skip
    return BaseMetalOutputs(
        base_metal_reading_um=base, spot_mean_um=spot, notes=tuple(_base_metal_notes(inputs.base_metal_readings_um))
    )


def _base_metal_notes(readings: Sequence[Fraction]) -> Iterator[str]:
    count, below = len(readings), sum(reading < 0 for reading in readings)
    if count < BASE_METAL_READINGS:
        yield f"{counted(count, 'base metal reading')}; the standard asks for at least {BASE_METAL_READINGS}."
    if below:
        yield f"{counted(below, 'base metal reading lies', 'base metal readings lie')} below zero: check the zero."
