"""A rule the project declares itself, for contracts that hold another standard."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
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
    text,
    thickness,
    thickness_lists,
    thicknesses,
)
from inspection.standards.thickness import (
    counted,
    each_at_least,
    each_at_most,
    mean,
    refuse_crossed_limits,
)

Size = Fraction | Decimal

AT_MOST, FEWER_THAN = "at most", "fewer than"


def readings_asked(
    table: Sequence[tuple[Size, int]], further_m2: Size | None, further: int | None, area_m2: Size
) -> int | None:
    """Values a declared sampling table asks for on an area: rows of (up to so many m², values), in order.

    Beyond the table, so many further ones for each further m² begun; None without a table, or where it does not say.
    """
    for largest, readings in table:
        if area_m2 <= largest:
            return readings
    if not table or further_m2 is None or further is None:
        return None
    largest, readings = table[-1]
    return readings + further * math.ceil((Fraction(area_m2) - Fraction(largest)) / Fraction(further_m2))


@dataclass(frozen=True)
class PlanRow:
    up_to_m2: Fraction = number("Area up to and including", above=0)
    readings: int = number("Values at least", minimum=1, maximum=100_000)


@dataclass(frozen=True)
class Inputs:
    rule: str = text("Name of the rule")
    edition: str = text("Document, edition and clause it stands in", default="declared by the project")
    minimum_mean_um: Fraction | None = thickness("Mean at least", optional=True)
    maximum_mean_um: Fraction | None = thickness("Mean at most", optional=True)
    minimum_each_um: Fraction | None = thickness("Each value at least", optional=True)
    maximum_each_um: Fraction | None = thickness("Each value at most", optional=True)
    nominal_um: Fraction | None = thickness("Thickness the share is counted below", optional=True)
    share_below_pct: Fraction | None = number("Share of values allowed below it", optional=True, minimum=0, maximum=100)
    share_meaning: str = choice("The share is", (AT_MOST, FEWER_THAN), default=AT_MOST)
    plan: tuple[PlanRow, ...] | None = items("Sampling table", PlanRow, optional=True)
    further_m2: Fraction | None = number("Beyond the table: for each further", unit="m²", optional=True, above=0)
    further_readings: int | None = number("Beyond the table: further values", optional=True, minimum=1, maximum=10_000)
    area_m2: Fraction | None = number("Area", optional=True, above=0, maximum=10**7)
    readings_um: tuple[Fraction, ...] | None = thicknesses("Readings, each judged by itself", optional=True)
    spots_um: tuple[tuple[Fraction, ...], ...] | None = thickness_lists(
        "Readings, spot by spot; spot means are judged", optional=True, loose=True
    )
    repeats_missing: int = number("Discarded readings not repeated yet", default=0, minimum=0, maximum=100_000)
    left_out: int = number(LEFT_OUT, default=0, minimum=0, maximum=MOST_LEFT_OUT)

    def __post_init__(self) -> None:
        self._refuse_missing()
        refuse_crossed_limits(self.minimum_mean_um, self.maximum_mean_um, "minimum_mean_um", "maximum_mean_um")
        refuse_crossed_limits(self.minimum_each_um, self.maximum_each_um, "minimum_each_um", "maximum_each_um")
        refuse_crossed_limits(self.minimum_each_um, self.maximum_mean_um, "minimum_each_um", "maximum_mean_um")
        refuse_crossed_limits(self.minimum_mean_um, self.maximum_each_um, "minimum_mean_um", "maximum_each_um")
        if self.plan and any(b.up_to_m2 <= a.up_to_m2 for a, b in zip(self.plan, self.plan[1:], strict=False)):
            raise InputFault.at("plan", "each row must reach further than the row before")
        if self.required is None and self.plan and self.area_m2 is not None:
            raise InputFault.at("area_m2", "lies beyond the sampling table; declare further_m2 and further_readings")

    def _refuse_missing(self) -> None:
        limits = (
            self.minimum_mean_um,
            self.maximum_mean_um,
            self.minimum_each_um,
            self.maximum_each_um,
            self.nominal_um,
        )
        if all(limit is None for limit in limits):
            raise InputFault.at(
                "rule", "declares no limit; give at least one on the mean, each value or the share below"
            )
        if (self.readings_um is None) == (self.spots_um is None):
            raise InputFault.at("readings_um", "give either readings_um or spots_um")
        pairs = (("nominal_um", "share_below_pct"), ("further_m2", "further_readings"))
        for one, other in pairs:
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                missing = one if getattr(self, one) is None else other
                raise InputFault.at(missing, f"is missing; {one} and {other} belong together")
        if self.further_m2 is not None and not self.plan:
            raise InputFault.at("plan", "is missing; further_m2 continues a sampling table")

    @property
    def values(self) -> Sequence[Fraction]:
        if self.spots_um is not None:
            return [mean(readings) for readings in self.spots_um]
        return self.readings_um or ()

    @property
    def required(self) -> int | None:
        """Values the declared sampling table asks for on this area."""
        if self.area_m2 is None:
            return None
        table = [(row.up_to_m2, row.readings) for row in self.plan or ()]
        asked = readings_asked(table, self.further_m2, self.further_readings, self.area_m2)
        return None if asked is None else asked_of_the_rest(asked, left_out=self.left_out, fewest=1)


@dataclass(frozen=True, kw_only=True)
class Outputs(Judged):
    mean_um: Fraction = result("Mean of all values")
    lowest_um: Fraction = result("Lowest value")
    highest_um: Fraction = result("Highest value")
    values: int = result("Values judged")
    below_nominal: int | None = result("Values below nominal", optional=True)
    required_readings: int | None = result("Values required for the area", optional=True)
    complete: bool | None = result("Enough values", optional=True)
    still_to_measure: int = result("Values still to measure, at least")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-custom",
    title="Dry film thickness by a declared rule",
    group="Thickness",
    sources=(Source("declared by the project", provenance="common practice, no source"), UNFINISHED, REMAINDER),
    caution="The rule is the project's own: nothing here says that it agrees with any published standard.",
    example={"rule": "Yard rule 7", "edition": "Contract annex C", "minimum_mean_um": 200, "minimum_each_um": 160,
             "nominal_um": 200, "share_below_pct": 15, "maximum_each_um": 500,
             "plan": [{"up_to_m2": 10, "readings": 10}], "further_m2": 10, "further_readings": 5, "area_m2": 8,
             "readings_um": [214, 231, 208, 226, 219, 197, 240, 222, 215, 209]},
)  # fmt: skip
def dft_custom(inputs: Inputs) -> Outputs:
    """Judges readings (or spot means) by the project's declared limits, and counts them against its sampling table.

    With fewer values than the table asks for, only a value beyond a limit on each value decides; mean and share wait.
    Without a table the project asks for no number, and what is given is judged as the whole.
    """
    values = inputs.values
    counted_in = "reading" if inputs.spots_um is None else "spot"
    average, required = mean(values), inputs.required
    below = None if inputs.nominal_um is None else tuple(i for i, v in enumerate(values) if v < inputs.nominal_um)
    checks = [*_mean_checks(inputs, average), *_each_checks(inputs, values, counted_in)]
    if below is not None and inputs.share_below_pct is not None:
        checks.append(_share_check(inputs, inputs.share_below_pct, below, len(values), counted_in))
    fewest = required if required is not None else min((row.readings for row in inputs.plan or ()), default=0)
    missing = max(fewest - len(values), inputs.repeats_missing, 0)
    found = so_far(checks, complete=not missing)
    return Outputs(
        verdict=verdict_of(found, complete=not missing),
        rule=inputs.rule,
        edition=inputs.edition,
        checks=found,
        mean_um=average,
        lowest_um=min(values),
        highest_um=max(values),
        values=len(values),
        below_nominal=None if below is None else len(below),
        required_readings=required,
        complete=None if required is None else not missing,
        still_to_measure=missing,
        notes=_notes(required, missing, table=bool(inputs.plan)),
    )


def _notes(required: int | None, missing: int, *, table: bool) -> tuple[str, ...]:
    if not missing:
        return ()
    if required is None and not table:
        return (f"{counted(missing, 'value')} still to measure: each that was discarded is repeated.",)
    if required is None:
        return (f"{counted(missing, 'value')} still to measure at least; how many, the area decides: give it.",)
    return (f"{counted(missing, 'value')} still to measure; this area asks for {required}.",)


def _mean_checks(inputs: Inputs, average: Fraction) -> list[Check]:
    checks = []
    low, high = inputs.minimum_mean_um, inputs.maximum_mean_um
    if low is not None:
        checks.append(Check("mean_minimum", inputs.edition, "The mean is at least the declared minimum.", low, average,
                            average >= low, (), "um"))  # fmt: skip
    if high is not None:
        checks.append(Check("mean_maximum", inputs.edition, "The mean is at most the declared maximum.", high, average,
                            average <= high, (), "um"))  # fmt: skip
    return checks


def _each_checks(inputs: Inputs, values: Sequence[Fraction], counted_in: str) -> list[Check]:
    checks = []
    if inputs.minimum_each_um is not None:
        checks.append(each_at_least(inputs.minimum_each_um, values, name="each_minimum", clause=inputs.edition,
                                    sentence="Every value is at least the declared minimum.",
                                    counted_in=counted_in))  # fmt: skip
    if inputs.maximum_each_um is not None:
        checks.append(each_at_most(inputs.maximum_each_um, values, name="each_maximum", clause=inputs.edition,
                                   sentence="Every value is at most the declared maximum.",
                                   counted_in=counted_in))  # fmt: skip
    return checks


def _share_check(inputs: Inputs, limit: Fraction, below: tuple[int, ...], count: int, counted_in: str) -> Check:
    share = Fraction(100 * len(below), count)
    passed = share < limit if inputs.share_meaning == FEWER_THAN else share <= limit
    sentence = f"The share of values below the nominal thickness is {inputs.share_meaning} the declared share."
    return Check("share_below", inputs.edition, sentence, limit, share, passed, below, "%", counted_in)
