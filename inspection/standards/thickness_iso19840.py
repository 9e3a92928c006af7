"""ISO 19840: acceptance of dry film thickness on rough surfaces, value by value and by the mean."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.completeness import (
    LEFT_OUT,
    MOST_LEFT_OUT,
    REMAINDER,
    UNFINISHED,
    asked_of_the_rest,
    so_far,
    verdict_of,
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
    thickness,
    thicknesses,
)
from inspection.standards.thickness import (
    counted,
    each_at_least,
    each_at_most,
    mean,
    refuse_crossed_limits,
)

EDITION = "2012"
SMALLEST_NOMINAL_UM = 40
LARGEST_AREA_M2 = 1000
THIN_UM = 60
CUSTOMARY_MAXIMUM_THIN, CUSTOMARY_MAXIMUM = 3, 2
"""Times nominal: up to THIN_UM, and above."""
FLOOR_PCT = 80
SHARE_BELOW_PCT = 20
ACCEPTED = "clause 9"
NOT_JUDGED = "not judged"

PLAN_READINGS = Source("ISO 19840", EDITION, "clause 6.1, number of readings", "stored source")
PLAN_REPEATS = Source("ISO 19840", EDITION, "clause 6.1, repeats, first row and rule above 100 m²", "from memory")
ACCEPTANCE = Source("ISO 19840", EDITION, "clause 9, as restated by a national paint quality body", "stored source")
SCOPE = Source("ISO 19840", EDITION, "scope, not under 40 µm nominal", "stored source")
REPEATED = Source("each repeat counts, also several at one point", provenance="common practice, no source")
HIGHEST = Source("ISO 12944-5", "2018", "highest value advised: 3 × nominal up to 60 µm, 2 × above", "from memory")
CORRECTION = Source("ISO 19840", EDITION, "clause 7, corrected values are judged", "from memory")

PLAN = ((1, 5, 1), (3, 10, 2), (10, 15, 3), (30, 20, 4), (100, 30, 6))
"""Up to so many m² (or metres of length): readings at least, readings that may be repeated."""


def sampling(area_m2: Fraction) -> tuple[int, int]:
    """Readings required and repeats allowed for an inspection area (ISO 19840, 6.1); m², or m for long narrow parts."""
    for largest, readings, repeats in PLAN:
        if area_m2 <= largest:
            return readings, repeats
    readings = 30 + 10 * math.ceil((area_m2 - 100) / 100)
    return readings, readings // 5


@dataclass(frozen=True)
class Repeat:
    index: int = number("Which reading (counted from 0)", minimum=0)
    first_um: Fraction = thickness("The first reading, which the repeat replaced")


@dataclass(frozen=True)
class Inputs:
    nominal_um: Fraction = thickness("Nominal dry film thickness", above=0)
    maximum_um: Fraction | None = thickness("Agreed maximum", optional=True, above=0)
    readings_um: tuple[Fraction, ...] = thicknesses("Individual readings as shown by the gauge")
    correction_um: Fraction = thickness("Correction value for the profile", default=0, maximum=1000)
    gauge_adjusted_on: str | None = choice(
        "Gauge adjusted on", ("smooth steel", "the rough surface"), optional=True,
        help="After adjusting on the rough surface (Annex A) the correction value is 0.",
    )  # fmt: skip
    area_m2: Fraction | None = number("Inspection area", optional=True, above=0, maximum=10**7)
    repeats: tuple[Repeat, ...] | None = items(
        "Repeated readings", Repeat, optional=True, help="One for each reading that was replaced by a later one."
    )
    repeats_missing: int = number("Discarded readings not repeated yet", default=0, minimum=0, maximum=100_000)
    left_out: int = number(LEFT_OUT, default=0, minimum=0, maximum=MOST_LEFT_OUT)

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.nominal_um, self.maximum_um, "nominal_um", "maximum_um")
        if self.gauge_adjusted_on == "the rough surface" and self.correction_um:
            raise InputFault.at("correction_um", "must be 0 when the gauge was adjusted on the rough surface, "
                                                 "or the profile is subtracted twice")  # fmt: skip
        if self.correction_um > min(self.readings_um):
            thinnest = self.readings_um.index(min(self.readings_um))
            raise InputFault.at(f"readings_um[{thinnest}]", "is less than correction_um, which is subtracted from it: "
                                                            "see reading and correction")  # fmt: skip
        for position, repeat in enumerate(self.repeats or ()):
            if repeat.index >= len(self.readings_um):
                raise InputFault.at(f"repeats[{position}].index", "there is no such reading; they are counted from 0")


@dataclass(frozen=True, kw_only=True)
class Outputs(Judged):
    mean_um: Fraction = result("Mean of all values, corrected")
    lowest_um: Fraction = result("Lowest value, corrected")
    highest_um: Fraction = result("Highest value, corrected")
    readings: int = result("Readings")
    below_nominal: int = result("Values below nominal")
    below_nominal_indices: tuple[int, ...] = result("Which values are below nominal")
    required_readings: int | None = result("Readings required for the area", optional=True)
    repeats_allowed: int | None = result("Readings that may be repeated", optional=True)
    complete: bool | None = result("Enough readings", optional=True)
    still_to_measure: int = result("Readings still to take, at least")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-iso19840",
    title="Dry film thickness by ISO 19840",
    group="Thickness",
    sources=(ACCEPTANCE, PLAN_READINGS, PLAN_REPEATS, REPEATED, CORRECTION, SCOPE, HIGHEST, UNFINISHED, REMAINDER),
    caution="Applies to the whole system unless otherwise agreed. Correction values are for a gauge adjusted on smooth "
            "steel. How far a repeat may lie from the first point is not known here: follow the project's own copy.",
    example={"nominal_um": 200, "maximum_um": 600, "correction_um": 25, "area_m2": 3,
             "readings_um": [231, 246, 238, 219, 252, 240, 261, 229, 244, 235]},
)  # fmt: skip
def dft_iso19840(inputs: Inputs) -> Outputs:
    """Judges corrected values: their mean, the lowest, the share below nominal (fewer than 20 %) and the highest.

    With fewer readings than the area asks for, only a value below 80 % or above the agreed maximum decides, or more
    repeats than are allowed; the mean and the share wait for the rest. Under 40 µm nominal nothing is judged.
    """
    values = [reading - inputs.correction_um for reading in inputs.readings_um]
    below = tuple(i for i, value in enumerate(values) if value < inputs.nominal_um)
    required, allowed = sampling(inputs.area_m2) if inputs.area_m2 is not None else (None, None)
    if required is not None:
        required = asked_of_the_rest(required, left_out=inputs.left_out, fewest=PLAN[0][1])
    average = mean(values)
    wanted = max((required or PLAN[0][1]) - len(values), inputs.repeats_missing, 0)
    reaches = inputs.nominal_um >= SMALLEST_NOMINAL_UM
    checks: tuple[Check, ...] = ()
    if reaches:
        checks = so_far([*_checks(inputs, values, average, below), *_repeats(inputs, allowed)], complete=not wanted)
    return Outputs(
        verdict=verdict_of(checks, complete=not wanted) if reaches else NOT_JUDGED,
        rule="ISO 19840",
        edition=EDITION,
        checks=checks,
        mean_um=average,
        lowest_um=min(values),
        highest_um=max(values),
        readings=len(values),
        below_nominal=len(below),
        below_nominal_indices=below,
        required_readings=required,
        repeats_allowed=allowed,
        complete=None if required is None else not wanted,
        still_to_measure=wanted,
        notes=_notes(inputs, values, required, wanted),
    )


def _repeats(inputs: Inputs, allowed: int | None) -> list[Check]:
    """Each repeat counts, so that no point is measured again until a value fits."""
    if allowed is None:
        return []
    taken = inputs.repeats or ()
    places = tuple(sorted({repeat.index for repeat in taken}))
    sentence = "No more readings were repeated than the sampling plan allows."
    return [Check("repeats", "clause 6.1", sentence, allowed, len(taken), len(taken) <= allowed, places, "readings",
                  decides_alone=True)]  # fmt: skip


def _checks(inputs: Inputs, values: Sequence[Fraction], average: Fraction, below: tuple[int, ...]) -> list[Check]:
    nominal, maximum = inputs.nominal_um, inputs.maximum_um
    share = Fraction(100 * len(below), len(values))
    checks = [
        Check("mean", ACCEPTED, "The mean of all values is at least the nominal thickness.", nominal, average,
              average >= nominal, (), "um"),
        each_at_least(nominal * FLOOR_PCT / 100, values, name="each_at_least_80_pct", clause=ACCEPTED,
                      counted_in="reading", sentence="Every value is at least 80 % of the nominal thickness."),
        Check("fewer_than_20_pct_below_nominal", ACCEPTED,
              "Fewer than 20 % of all values lie below the nominal thickness.",
              SHARE_BELOW_PCT, share, share < SHARE_BELOW_PCT, below, "%"),
    ]  # fmt: skip
    if maximum is None:
        checks.append(Check("maximum", ACCEPTED, "No maximum was agreed.", None, None, passed=True))
    else:
        checks.append(each_at_most(maximum, values, name="maximum", clause=ACCEPTED, counted_in="reading",
                                   sentence="Every value is at most the agreed maximum."))  # fmt: skip
    return checks


def _notes(inputs: Inputs, values: Sequence[Fraction], required: int | None, wanted: int) -> tuple[str, ...]:
    if inputs.nominal_um < SMALLEST_NOMINAL_UM:
        return ("ISO 19840 is not meant for a nominal thickness under 40 µm: nothing was judged.",)
    notes = []
    if wanted and required is not None:
        notes.append(f"{counted(wanted, 'reading')} still to take; this area asks for {required}.")
    elif wanted:
        notes.append(f"{counted(wanted, 'reading')} still to take at least; how many, the area decides: give it.")
    elif required is None:
        notes.append("The area was not given, so the number of readings was not judged.")
    if inputs.area_m2 is not None and inputs.area_m2 > LARGEST_AREA_M2:
        notes.append("Divide an inspection area of more than 1000 m² into smaller ones (from memory).")
    times = CUSTOMARY_MAXIMUM_THIN if inputs.nominal_um <= THIN_UM else CUSTOMARY_MAXIMUM
    if inputs.maximum_um is None and max(values) > times * inputs.nominal_um:
        notes.append(
            f"A value exceeds {times} × nominal, the highest that ISO 12944-5 advises for this thickness (from "
            "memory); no maximum was agreed, so it was not judged."
        )
    if inputs.repeats:
        notes.append("A repeat is taken close to the first point; both readings stay on record.")
    return tuple(notes)
