"""IMO performance standard for protective coatings: the 90/10 rule."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import Check, Judged, Source, calculation, judged, result, thickness, thicknesses
from inspection.standards.thickness import each_at_least, each_at_most, refuse_crossed_limits

SHARE_AT_NOMINAL_PCT = 90
FLOOR_PCT = 90

RULE = Source("IMO MSC.215(82)", "2006", "table 1, 90/10 rule", "stored source")
MAXIMUM = Source("IMO MSC.215(82)", "2006", "table 1, maximum by the maker", "from memory")


@dataclass(frozen=True)
class Inputs:
    nominal_um: Fraction = thickness(
        "Nominal total dry film thickness", above=0, help="320 µm for epoxy by the standard (from memory)."
    )
    maximum_um: Fraction | None = thickness("Maximum by the maker", optional=True, above=0)
    readings_um: tuple[Fraction, ...] = thicknesses("Readings")

    def __post_init__(self) -> None:
        refuse_crossed_limits(self.nominal_um, self.maximum_um, "nominal_um", "maximum_um")


@dataclass(frozen=True, kw_only=True)
class Outputs(Judged):
    readings: int = result("Readings")
    below_nominal: int = result("Readings below nominal")
    below_nominal_indices: tuple[int, ...] = result("Which readings are below nominal")
    floor_um: Fraction = result("Lowest reading allowed")


@calculation(
    "dft-imo-pspc",
    title="Dry film thickness by the IMO 90/10 rule",
    group="Thickness",
    sources=(RULE, MAXIMUM),
    caution="For the total film after the last coat; each coat is also measured for control. No destructive tests.",
    example={"nominal_um": 320, "readings_um": [352, 338, 341, 329, 366, 347, 334, 358, 343, 312]},
)
def dft_imo_pspc(inputs: Inputs) -> Outputs:
    """At least 90 % of the readings reach nominal, and none lies below 0.9 × nominal; both limits included."""
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
    return Outputs(
        verdict=judged(checks),
        rule="IMO 90/10 rule",
        edition="MSC.215(82), 2006",
        checks=tuple(checks),
        readings=len(readings),
        below_nominal=len(below),
        below_nominal_indices=below,
        floor_um=floor,
    )
