"""Adhesion: pull-off strength with the places of failure, and cross-cut ratings on two scales that run apart."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    items,
    judged,
    number,
    result,
    shares,
    thickness,
)
from inspection.standards.units import shown

STRESS = Source("ASTM D4541; ISO 4624", "strength is force over area", "", "from memory")
FAILURES = Source("ASTM D4541", "2017, share of each failure; glue failure", "8.3", "stored source")
CODES = Source("ISO 4624", "codes A, A/B, B, B/C, -/Y, Y, Y/Z", "", "from memory")
THREE_TESTS = Source("ISO 4624", "at least three tests", "", "from memory")
NORSOK = Source("NORSOK M-501", "edition 6, at most 50 % below qualification", "Table", "from memory")
D3359 = Source("ASTM D3359", "method B: 5B and 4B", "", "stored source")
D3359_REST = Source("ASTM D3359", "method B: 3B to 0B", "", "from memory")
ISO_2409 = Source("ISO 2409", "classes 0 to 5; spacing by thickness", "", "from memory")
NOT_EQUIVALENT = Source("ASTM D3359", "similar to ISO 2409 but not equivalent", "", "stored source")

FAILURE_CODE = re.compile(r"[A-Z]|(?:[A-Z]|-)/[A-Z]")
WHOLE = 100


def glue_share_pct(failures: Mapping[str, Fraction]) -> Fraction:
    """Share of the area that failed in or at the glue: every code that names Y (the glue itself or its interfaces)."""
    return sum((share for code, share in failures.items() if "Y" in code), Fraction(0))


def refuse_bad_failures(failures: Mapping[str, Fraction], field: str) -> None:
    """Raise InputFault unless every code is a known form and the shares add to 100 %."""
    unknown = [code for code in failures if not FAILURE_CODE.fullmatch(code)]
    if unknown:
        raise InputFault(
            Fault(field, f"{code}: write A, B, C …, Y for a failure inside, A/B, -/Y, Y/Z for one between")
            for code in unknown
        )
    total = sum(failures.values(), Fraction(0))
    if total != WHOLE:
        raise InputFault.at(field, f"the shares add to {shown(total)} %; they must add to 100 %")


@dataclass(frozen=True, kw_only=True)
class PullOffIn:
    force_n: Fraction | None = number("Force at failure", above=0, maximum=1_000_000, optional=True)
    dolly_diameter_mm: Fraction | None = number("Diameter of the dolly", above=0, maximum=200, optional=True)
    failures_pct: dict[str, Fraction] | None = shares(
        "Share of each failure", unit="%",
        help="A substrate, B first coat, C next coat …, Y glue, Z dolly; A/B between two. They add to 100 %.",
        optional=True,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if (self.force_n is None) != (self.dolly_diameter_mm is None):
            missing = "force_n" if self.force_n is None else "dolly_diameter_mm"
            raise InputFault.at(missing, "force and diameter are needed together")
        if self.force_n is None and self.failures_pct is None:
            raise InputFault.at("force_n", "give force_n with dolly_diameter_mm, failures_pct or all of them")
        if self.failures_pct is not None:
            refuse_bad_failures(self.failures_pct, "failures_pct")


@dataclass(frozen=True, kw_only=True)
class PullOffOut:
    stress_mpa: float | None = result("Pull-off strength", optional=True)
    sum_pct: Fraction | None = result("Sum of the shares", optional=True)
    glue_share_pct: Fraction | None = result("Failed in or at the glue", optional=True)
    largest_failure: str | None = result("Largest failure", optional=True)


@calculation(
    "adhesion-pull-off",
    title="Pull-off adhesion, one test",
    group="Tests",
    sources=(STRESS, FAILURES, CODES),
    example={"force_n": 1570.8, "dolly_diameter_mm": 20, "failures_pct": {"B": 60, "B/C": 30, "Y": 10}},
    caution="Destructive: repair the place. A failure in the glue only says that the coating holds at least so much.",
)
def adhesion_pull_off(inputs: PullOffIn) -> PullOffOut:
    """Strength in MPa (force over the dolly's area) and the shares of the places where it failed (ASTM D4541, 8.3)."""
    stress = None
    if inputs.force_n is not None and inputs.dolly_diameter_mm is not None:
        stress = float(inputs.force_n) / (math.pi * float(inputs.dolly_diameter_mm) ** 2 / 4)
    failures = inputs.failures_pct
    if failures is None:
        return PullOffOut(stress_mpa=stress)
    return PullOffOut(
        stress_mpa=stress,
        sum_pct=sum(failures.values(), Fraction(0)),
        glue_share_pct=glue_share_pct(failures),
        largest_failure=max(failures, key=lambda code: failures[code]),
    )


@dataclass(frozen=True, kw_only=True)
class OneTest:
    stress_mpa: Fraction = number("Strength", above=0, maximum=1000)
    glue_share_pct: Fraction = number("Failed in or at the glue", minimum=0, maximum=100, default=0)


@dataclass(frozen=True, kw_only=True)
class PullOffSetIn:
    tests: tuple[OneTest, ...] = items("Tests", OneTest, most=1000)
    minimum_mpa: Fraction = number("Least strength", above=0, maximum=1000)
    qualification_mpa: Fraction | None = number("Strength at qualification", above=0, maximum=1000, optional=True)
    most_below_qualification_pct: Fraction = number("At most below qualification", minimum=0, maximum=100, default=50)
    fewest_tests: int = number("Tests asked for", minimum=1, maximum=1000, default=3)
    greatest_glue_share_pct: Fraction = number("Glue failure above this voids a low test", minimum=0, maximum=100,
                                               default=50)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PullOffSetOut(Judged):
    mean_mpa: Fraction = result("Mean strength")
    lowest_mpa: Fraction = result("Lowest strength")
    repeat_tests: tuple[int, ...] = result("Tests to repeat")


@calculation(
    "adhesion-pull-off-set",
    title="Pull-off adhesion, a set of tests",
    group="Tests",
    sources=(THREE_TESTS, NORSOK),
    example={"tests": [{"stress_mpa": 7.2}, {"stress_mpa": 8.1}, {"stress_mpa": 6.4}], "minimum_mpa": 5},
    caution="Results of different instruments and dolly sizes do not compare. Limits are the specification's.",
)
def adhesion_pull_off_set(inputs: PullOffSetIn) -> PullOffSetOut:
    """Judge a set of pull-off tests against the least strength and, if given, against the qualification value.

    A test below the limit that failed mostly in the glue shows a weak glue, not a weak coating: it neither passes nor
    fails and is to be repeated.
    """
    weak = [i for i, test in enumerate(inputs.tests) if test.stress_mpa < _least_mpa(inputs)]
    repeat = tuple(i for i in weak if inputs.tests[i].glue_share_pct > inputs.greatest_glue_share_pct)
    valid = [test.stress_mpa for i, test in enumerate(inputs.tests) if i not in repeat]
    checks = [
        Check("number of valid tests", "ISO 4624 (from memory)", "So many valid tests are needed.", inputs.fewest_tests,
              len(valid), len(valid) >= inputs.fewest_tests, counted_in="test"),
    ]  # fmt: skip
    checks += _strength_checks(inputs, tuple(i for i in range(len(inputs.tests)) if i not in repeat))
    stresses = [test.stress_mpa for test in inputs.tests]
    return PullOffSetOut(
        verdict=judged(checks),
        rule="strength of the specification",
        edition="",
        checks=tuple(checks),
        mean_mpa=sum(stresses, Fraction(0)) / len(stresses),
        lowest_mpa=min(stresses),
        repeat_tests=repeat,
    )


def _least_mpa(inputs: PullOffSetIn) -> Fraction:
    if inputs.qualification_mpa is None:
        return inputs.minimum_mpa
    return max(inputs.minimum_mpa, inputs.qualification_mpa * (1 - inputs.most_below_qualification_pct / WHOLE))


def _strength_checks(inputs: PullOffSetIn, valid: tuple[int, ...]) -> list[Check]:
    limits = [("least strength", "specification", "No test may be below the least strength.", inputs.minimum_mpa)]
    if inputs.qualification_mpa is not None:
        limit = inputs.qualification_mpa * (1 - inputs.most_below_qualification_pct / WHOLE)
        sentence = "No test may lie further below the qualification value than allowed."
        limits.append(("against qualification", "NORSOK M-501 (from memory)", sentence, limit))
    checks = []
    for name, clause, sentence, limit in limits:
        low = tuple(i for i in valid if inputs.tests[i].stress_mpa < limit)
        lowest = min((inputs.tests[i].stress_mpa for i in valid), default=None)
        checks.append(Check(name, clause, sentence, limit, lowest, not low, low, "MPa", "test"))
    return checks


BOUNDS_PCT = (0, 5, 15, 35, 65)
ASTM_CLASSES = ("5B", "4B", "3B", "2B", "1B", "0B")


@dataclass(frozen=True, kw_only=True)
class CrossCutIn:
    area_removed_pct: Fraction = number("Area removed", minimum=0, maximum=100)
    dry_film_um: Fraction | None = thickness("Dry film", above=0, optional=True)
    substrate: str = choice("Substrate", ("hard", "soft"), default="hard")


@dataclass(frozen=True, kw_only=True)
class CrossCutOut:
    astm_d3359: str = result("ASTM D3359 method B")
    iso_2409: int | str = result("ISO 2409")
    astm_method: str | None = result("ASTM D3359 method for this film", optional=True)
    iso_spacing_mm: int | None = result("ISO 2409 spacing of the cuts", optional=True)
    note: str = result("Note")


@calculation(
    "adhesion-cross-cut",
    title="Cross-cut adhesion",
    group="Tests",
    sources=(D3359, D3359_REST, ISO_2409, NOT_EQUIVALENT),
    example={"area_removed_pct": 3, "dry_film_um": 80},
    caution="The two scales run opposite ways: 5B is best, and 0 is best. Never record a bare digit.",
)
def adhesion_cross_cut(inputs: CrossCutIn) -> CrossCutOut:
    """Rating by the area removed from the lattice: ASTM D3359 method B and ISO 2409.

    On a boundary (5, 15, 35, 65 %) the two neighbouring classes are both named and the inspector decides; there are
    no ratings between.
    """
    step = bisect_left(BOUNDS_PCT, inputs.area_removed_pct)
    on_boundary = inputs.area_removed_pct in BOUNDS_PCT[1:]
    astm: str = ASTM_CLASSES[step]
    iso: int | str = step
    if on_boundary:
        astm, iso = f"{astm} or {ASTM_CLASSES[step + 1]} (boundary)", f"{step} or {step + 1} (boundary)"
    return CrossCutOut(
        astm_d3359=astm,
        iso_2409=iso,
        astm_method=_astm_method(inputs.dry_film_um),
        iso_spacing_mm=_iso_spacing_mm(inputs.dry_film_um, inputs.substrate),
        note="Similar scales, not equivalent: state which standard was used.",
    )


def _astm_method(film_um: Fraction | None) -> str | None:
    """Method A (X-cut) above 125 µm, B (lattice) up to 125 µm unless a wider spacing is agreed; ASTM D3359."""
    if film_um is None:
        return None
    return "B (lattice)" if film_um <= 125 else "A (X-cut), or B with a wider spacing if agreed"


def _iso_spacing_mm(film_um: Fraction | None, substrate: str) -> int | None:
    """1 mm to 60 µm on hard substrates, 2 mm to 60 on soft and to 120 on both, 3 mm to 250 (from memory)."""
    if film_um is None or film_um > 250:
        return None
    if film_um > 120:
        return 3
    return 1 if film_um <= 60 and substrate == "hard" else 2
