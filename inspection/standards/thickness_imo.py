"""IMO performance standard for protective coatings: the 90/10 rule."""

from __future__ import annotations

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
    Judged,
    Source,
    calculation,
    number,
    result,
    thickness,
    thicknesses,
)
from inspection.standards.thickness import (
    counted,
    each_at_least,
    each_at_most,
    refuse_crossed_limits,
)

SHARE_AT_NOMINAL_PCT = 90
FLOOR_PCT = 90
FEWEST_READINGS = 3
"""Annex 3 asks for no fewer in a complex area; taken as the least where nobody says how many the place asks for."""

RULE = Source("IMO MSC.215(82)", "2006", "definition 2.8 and table 1, 90/10 rule", "stored source")
PLAN = Source("IMO MSC.215(82)", "2006", "annex 3, number of readings", "stored source")
MAXIMUM = Source("IMO MSC.215(82)", "2006", "table 1, maximum by the maker", "from memory")


@dataclass(frozen=True)
class Inputs:
    nominal_um: Fraction = thickness(
        "Nominal total dry film thickness", above=0, help="320 µm for epoxy by the standard (from memory)."
    )
    maximum_um: Fraction | None = thickness("Maximum by the maker", optional=True, above=0)
    readings_um: tuple[Fraction, ...] = thicknesses("Readings")
    readings_required: int | None = number(
        "Readings the place asks for", optional=True, minimum=1, maximum=10**6,
        help="By annex 3; “How much to measure” tells it.",
    )  # fmt: skip
    repeats_missing: int = number("Discarded readings not repeated yet", default=0, minimum=0, maximum=100_000)
    left_out: int = number(LEFT_OUT, default=0, minimum=0, maximum=MOST_LEFT_OUT)

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.nominal_um, self.maximum_um, "nominal_um", "maximum_um")


@dataclass(frozen=True, kw_only=True)
class Outputs(Judged):
    readings: int = result("Readings")
    below_nominal: int = result("Readings below nominal")
    below_nominal_indices: tuple[int, ...] = result("Which readings are below nominal")
    floor_um: Fraction = result("Lowest reading allowed")
    complete: bool = result("Enough readings")
    still_to_measure: int = result("Readings still to take, at least")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-imo-pspc",
    title="Dry film thickness by the IMO 90/10 rule",
    group="Thickness",
    sources=(RULE, PLAN, MAXIMUM, UNFINISHED, REMAINDER),
    caution="For the total film after the last coat; each coat is also measured for control. No destructive tests.",
    example={"nominal_um": 320, "readings_um": [352, 338, 341, 329, 366, 347, 334, 358, 343, 312]},
)
def dft_imo_pspc(inputs: Inputs) -> Outputs:
    """At least 90 % of the readings reach nominal, and none lies below 0.9 × nominal; both limits included.

    Before all readings are taken, only one below 0.9 × nominal or above the maximum decides: each remaining point must
    keep the floor (definition 2.8), while the share may still turn.
    """
    nominal, readings = inputs.nominal_um, inputs.readings_um
    below = tuple(i for i, reading in enumerate(readings) if reading < nominal)
    reached = Fraction(100 * (len(readings) - len(below)), len(readings))
    floor = nominal * FLOOR_PCT / 100
    clause = "table 1"
    checks = [
        Check("share_at_nominal", clause, "At least 90 % of the readings reach the nominal thickness.",
              SHARE_AT_NOMINAL_PCT, reached, reached >= SHARE_AT_NOMINAL_PCT, below, "%"),
        each_at_least(floor, readings, name="floor", clause=clause, counted_in="reading",
                      sentence="No reading lies below 90 % of the nominal thickness."),
    ]  # fmt: skip
    if inputs.maximum_um is not None:
        checks.append(each_at_most(inputs.maximum_um, readings, name="maximum", clause=clause, counted_in="reading",
                                   sentence="No reading lies above the maker's maximum."))  # fmt: skip
    required = inputs.readings_required or FEWEST_READINGS
    required = asked_of_the_rest(required, left_out=inputs.left_out, fewest=FEWEST_READINGS)
    wanted = max(required - len(readings), inputs.repeats_missing, 0)
    found = so_far(checks, complete=not wanted)
    return Outputs(
        verdict=verdict_of(found, complete=not wanted),
        rule="IMO 90/10 rule",
        edition="MSC.215(82), 2006",
        checks=found,
        readings=len(readings),
        below_nominal=len(below),
        below_nominal_indices=below,
        floor_um=floor,
        complete=not wanted,
        still_to_measure=wanted,
        notes=_notes(inputs.readings_required and required, wanted),
    )


def _notes(required: int | None, wanted: int) -> tuple[str, ...]:
    if required is None:
        asked = "How many readings the place asks for was not given, so their number was not judged"
        fewest = f"; fewer than {FEWEST_READINGS} are not judged as a whole" if wanted else ""
        return (f"{asked}{fewest}.",)
    return (f"{counted(wanted, 'reading')} still to take; this place asks for {required}.",) if wanted else ()
