"""Pull-off tests on a structure by ISO 16276-1: how many by area, and acceptance as the contract declares it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    flag,
    items,
    judged,
    number,
    result,
    text,
)
from inspection.standards.units import shown

SCOPE = Source(
    "ISO 16276-1", "2007, steel from 10 mm; strength, kind and maker of instrument in the contract", "abstract",
    "stored source",
)  # fmt: skip
NUMBERS = Source("ISO 16276-1", "number of tests by area: uncertain, shown only in the example", "", "from memory")
GLUE_RULE = Source("Guideline for repair of concrete", "glue failure below the requirement does not count in the mean",
                   "", "stored source")  # fmt: skip
CONTRACT = Source("Contract", "least mean, least single value, glue share", "", "common practice, no source")

LOADING = Source("ISO 4624", "2016, at most 1 MPa/s, failure within 90 s", "", "stored source")

METHODS = ("ISO 16276-1", "ISO 4624", "ASTM D4541")
KPA_PER_PSI = Fraction(6_894_757_293_168, 10**12)
THINNEST_STEEL_MM = 10
FASTEST_MPA_PER_S, LONGEST_S = 1, 90
DESTRUCTIVE = (
    "Each test is destructive: the place is repaired and inspected again. A gauge under pressure or a falling dolly "
    "hurts: eye protection, and nothing and nobody below."
)


@dataclass(frozen=True, kw_only=True)
class PlanIn:
    area_m2: Fraction = number("Inspection area", above=0, maximum=10_000_000)
    tests_per_part: int = number("Tests for each part of the area", minimum=1, maximum=1000)
    part_m2: Fraction = number("A part is", unit="m²", above=0, maximum=1_000_000)
    up_to_m2: Fraction | None = number(
        "This holds up to", unit="m²", help="Empty: for areas of any size.", above=0, maximum=10_000_000, optional=True
    )
    further_tests: int | None = number(
        "Tests for each further part", minimum=1, maximum=1000, help="Above that area.", optional=True
    )
    further_part_m2: Fraction | None = number("A further part is", unit="m²", above=0, maximum=1_000_000, optional=True)
    difficult_areas: int = number(
        "Difficult areas", help="Counted apart, each with the tests of one part.", minimum=0, maximum=10_000, default=0
    )

    def __post_init__(self) -> None:
        together = (self.up_to_m2, self.further_tests, self.further_part_m2)
        if any(part is None for part in together) and any(part is not None for part in together):
            raise InputFault.at("further_tests", "give up_to_m2, further_tests and further_part_m2 together, or none")


@dataclass(frozen=True, kw_only=True)
class PlanOut:
    tests: int = result("Tests")
    of_them_in_difficult_areas: int = result("Of them in difficult areas")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "pull-off-plan",
    title="Number of pull-off tests by area",
    group="Tests",
    sources=(SCOPE, NUMBERS),
    example={"area_m2": 3500, "tests_per_part": 3, "part_m2": 250, "up_to_m2": 1000, "further_tests": 1,
             "further_part_m2": 1000},
    caution="The numbers are yours to declare. Those of the example (3 for each 250 m² to 1000 m², then 1 for each "
    "further 1000 m²) are remembered for ISO 16276-1 and not verified: take them from your own copy. " + DESTRUCTIVE,
)  # fmt: skip
def pull_off_plan(inputs: PlanIn) -> PlanOut:
    """Pull-off tests that a declared plan asks for on an inspection area: so many for each part begun.

    Areas to 10 000 000 m². Above ``up_to_m2`` the tests of that area stand, and so many are added for each further
    part begun. Every difficult area is counted apart with the tests of one part (our own reading of "separately").
    """
    area = inputs.area_m2
    if inputs.up_to_m2 is None or inputs.further_part_m2 is None or area <= inputs.up_to_m2:
        tests = inputs.tests_per_part * math.ceil(area / inputs.part_m2)
    else:
        tests = inputs.tests_per_part * math.ceil(inputs.up_to_m2 / inputs.part_m2)
        tests += (inputs.further_tests or 0) * math.ceil((area - inputs.up_to_m2) / inputs.further_part_m2)
    difficult = inputs.difficult_areas * inputs.tests_per_part
    return PlanOut(
        tests=tests + difficult,
        of_them_in_difficult_areas=difficult,
        notes=("A declared plan: this page knows no verified number of tests.",),
    )


def remembered_number(area_m2: Fraction) -> int:
    """Tests that ISO 16276-1 is remembered to ask for on so many m²: uncertain, to ask with and never to judge by."""
    plan = PlanIn(area_m2=area_m2, tests_per_part=3, part_m2=Fraction(250), up_to_m2=Fraction(1000), further_tests=1,
                  further_part_m2=Fraction(1000))  # fmt: skip
    return pull_off_plan(plan).tests


def loading_doubt(strength_mpa: Fraction, seconds: Fraction) -> str:
    """Why a test was loaded otherwise than ISO 4624:2016 has it, as a sentence; empty where it was not.

    The stress rises by at most 1 MPa/s and the film fails within 90 s (stored source). Seconds must be above 0.
    """
    if seconds <= 0:
        return "The time of loading lies above 0 s."
    rate = strength_mpa / seconds
    if rate > FASTEST_MPA_PER_S:
        return f"Loaded at {shown(rate, 2)} MPa/s; ISO 4624:2016 allows at most {FASTEST_MPA_PER_S} MPa/s."
    if seconds > LONGEST_S:
        return f"Broke after {shown(seconds)} s; ISO 4624:2016 asks for failure within {LONGEST_S} s."
    return ""


@dataclass(frozen=True, kw_only=True)
class FieldTest:
    strength_mpa: Fraction = number("Strength", above=0, maximum=1000)
    glue_share_pct: Fraction = number("Failed in or at the glue", minimum=0, maximum=100, default=0)


@dataclass(frozen=True, kw_only=True)
class AcceptanceIn:
    method: str = choice("Standard", METHODS, default=METHODS[0])
    tests: tuple[FieldTest, ...] = items("Tests", FieldTest, most=1000)
    tests_wanted: int = number("Tests the plan asks for", minimum=1, maximum=100_000)
    minimum_mean_mpa: Fraction | None = number("Least mean strength", above=0, maximum=1000, optional=True)
    minimum_single_mpa: Fraction | None = number("Least single strength", above=0, maximum=1000, optional=True)
    greatest_glue_share_pct: Fraction = number(
        "Glue failure above this voids a low test", minimum=0, maximum=100, help="As the contract declares it."
    )
    contract_instrument: str = text("Instrument of the contract", help="Kind and maker.")
    used_instrument: str = text("Instrument used", help="Kind and maker.")
    steel_mm: Fraction = number("Thickness of the steel", above=0, maximum=1000)
    steel_stiffened: bool = flag(
        "Thin steel was stiffened", help="Sandwich method, stiff by its shape, or plates coated alongside.",
        default=False,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.minimum_mean_mpa is None and self.minimum_single_mpa is None:
            raise InputFault.at("minimum_mean_mpa", "give minimum_mean_mpa, minimum_single_mpa or both")


@dataclass(frozen=True, kw_only=True)
class AcceptanceOut(Judged):
    valid_tests: int = result("Valid tests")
    mean_mpa: Fraction | None = result("Mean strength of the valid tests", optional=True)
    lowest_mpa: Fraction | None = result("Lowest strength of the valid tests", optional=True)
    repeat_tests: tuple[int, ...] = result("No result, to repeat: tests")
    at_least_tests: tuple[int, ...] = result("The coating holds at least so much: tests")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "pull-off-acceptance",
    title="Pull-off tests of an area against the contract",
    group="Tests",
    sources=(SCOPE, GLUE_RULE, CONTRACT, LOADING),
    example={
        "tests": [{"strength_mpa": 7.2}, {"strength_mpa": 8.1}, {"strength_mpa": 6.4}], "tests_wanted": 3,
        "minimum_mean_mpa": 6, "minimum_single_mpa": 5, "greatest_glue_share_pct": 25,
        "contract_instrument": "hydraulic, 20 mm", "used_instrument": "hydraulic, 20 mm", "steel_mm": 12,
    },
    caution="Results of different kinds of instrument must not be compared. ISO 16276-1 names no strength: least mean, "
    "least single value and the glue's share are the contract's. " + DESTRUCTIVE,
)  # fmt: skip
def pull_off_acceptance(inputs: AcceptanceIn) -> AcceptanceOut:
    """Judge the pull-off tests of an inspection area by the strengths that the contract declares (ISO 16276-1).

    A test that failed in the glue by more than the declared share and below a limit is no result: it enters neither
    mean nor lowest value and is repeated. Above the limits it says "at least so much" and counts. Tests are numbered
    from 1. The set is not judged with another instrument than the contract's, or on steel under 10 mm (2007 edition)
    that was not stiffened; with too few valid tests it is incomplete unless a single value fails.
    """
    glued = [test.glue_share_pct > inputs.greatest_glue_share_pct for test in inputs.tests]
    floor = max(inputs.minimum_mean_mpa or 0, inputs.minimum_single_mpa or 0)
    void = [glue and test.strength_mpa < floor for glue, test in zip(glued, inputs.tests, strict=True)]
    valid = [(place, test.strength_mpa) for place, test in enumerate(inputs.tests) if not void[place]]
    strengths = [strength for _, strength in valid]
    mean = sum(strengths, Fraction(0)) / len(strengths) if strengths else None
    checks = _strength_checks(inputs, valid, mean)
    reasons = _reasons_against(inputs)
    return AcceptanceOut(
        verdict=_verdict(inputs, checks, reasons, len(valid)),
        rule=f"strengths of the contract, {inputs.method}",
        edition="",
        checks=tuple(checks),
        valid_tests=len(valid),
        mean_mpa=mean,
        lowest_mpa=min(strengths, default=None),
        repeat_tests=tuple(place + 1 for place, is_void in enumerate(void) if is_void),
        at_least_tests=tuple(p + 1 for p, glue in enumerate(glued) if glue and not void[p]),
        notes=(*reasons, *_too_few(inputs, len(valid))),
    )


def _strength_checks(
    inputs: AcceptanceIn, valid: list[tuple[int, Fraction]], mean: Fraction | None
) -> list[Check]:  # fmt: skip
    checks: list[Check] = []
    if inputs.minimum_single_mpa is not None and valid:
        least = inputs.minimum_single_mpa
        low = tuple(place for place, strength in valid if strength < least)
        checks.append(Check("least single strength", "contract", "No valid test may be below the least single value.",
                            least, min(strength for _, strength in valid), not low, low, "MPa", "test"))  # fmt: skip
    if inputs.minimum_mean_mpa is not None and mean is not None and len(valid) >= inputs.tests_wanted:
        least_mean, sentence = inputs.minimum_mean_mpa, "The mean of the valid tests must reach the least mean."
        checks.append(Check("least mean strength", "contract", sentence, least_mean, mean, mean >= least_mean, (),
                            "MPa", "set"))  # fmt: skip
    return checks


def _reasons_against(inputs: AcceptanceIn) -> list[str]:
    """Why ISO 16276-1 does not let the set be judged at all; the other standards leave both to the parties."""
    if inputs.method != METHODS[0]:
        return []
    reasons = []
    if " ".join(inputs.contract_instrument.split()).lower() != " ".join(inputs.used_instrument.split()).lower():
        reasons.append("Not judged: the instrument is not the contract's, and results of two kinds do not compare.")
    if inputs.steel_mm < THINNEST_STEEL_MM and not inputs.steel_stiffened:
        reasons.append("Not judged: steel under 10 mm bends under the test and must be stiffened (2007 edition).")
    return reasons


def _verdict(inputs: AcceptanceIn, checks: list[Check], reasons: list[str], valid: int) -> str:
    if reasons:
        return "not judged"
    verdict = judged(checks)
    return "incomplete" if verdict == "pass" and valid < inputs.tests_wanted else verdict


def _too_few(inputs: AcceptanceIn, valid: int) -> list[str]:
    if valid >= inputs.tests_wanted:
        return []
    return [f"{valid} valid tests of {inputs.tests_wanted}: the mean is not judged yet."]
