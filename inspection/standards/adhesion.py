"""Adhesion: pull-off strength with the places of failure, and cross-cut ratings on two scales that run apart."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Mapping, Sequence
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
from inspection.standards.thickness import counted
from inspection.standards.units import shown

STRESS = Source("ASTM D4541; ISO 4624", "strength is force over area", "", "from memory")
FAILURES = Source("ASTM D4541", "2017, share of each failure; glue failure", "8.3", "stored source")
CODES = Source("ISO 4624", "codes A, A/B, B, B/C, -/Y, Y, Y/Z", "", "from memory")
NUMBER = Source("ASTM D4541", "fixes no number of tests: it is agreed", "", "stored source")
NUMBER_BY_EDITION = Source("ISO 4624", "number of tests by edition: declare it", "", "from memory")
GLUE_RULE = Source("National guideline on concrete", "low value with glue failure above a share is no result", "",
                   "stored source")  # fmt: skip
NORSOK = Source("NORSOK M-501", "edition 6, at most 50 % below qualification", "Table", "from memory")
D3359 = Source("ASTM D3359", "2002 text: 4B less than 5 %, 3B 5 to 15, 2B 15 to 35, 1B 35 to 65, 0B over 65", "",
               "stored source")  # fmt: skip
D3359_REST = Source("ASTM D3359", "method A above 125 µm, job site", "", "stored source")
ISO_2409 = Source("ISO 2409", "2013 / 2020, films to 250 µm; 1 to 5 %, 2 to 15 %, 3 to 35 %, borders included", "",
                  "stored source")  # fmt: skip
ISO_2409_REST = Source("ISO 2409", "classes 4 and 5; spacing by thickness", "", "from memory")
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
    fewest_tests: int = number(
        "Tests asked for", help="By the contract: ASTM D4541 fixes none, ISO 4624 by edition.", minimum=1, maximum=1000
    )
    greatest_glue_share_pct: Fraction | None = number(
        "A low test is no result when its glue failure is above",
        help="By the contract. Needed where a low test failed in or at the glue.",
        minimum=0, maximum=100, optional=True,
    )  # fmt: skip
    qualification_mpa: Fraction | None = number("Strength at qualification", above=0, maximum=1000, optional=True)
    most_below_qualification_pct: Fraction = number("At most below qualification", minimum=0, maximum=100, default=50)

    def __post_init__(self) -> None:
        doubtful = any(self.is_low(test) and test.glue_share_pct for test in self.tests)
        if doubtful and self.greatest_glue_share_pct is None:
            raise InputFault.at(
                "greatest_glue_share_pct",
                "is needed: a test below the least strength failed partly in or at the glue. Declare above which share "
                "such a test is no result",
            )

    @property
    def least_mpa(self) -> Fraction:
        """The higher of the least strength and what the qualification allows."""
        return max(self.minimum_mpa, self.against_qualification_mpa or self.minimum_mpa)

    @property
    def against_qualification_mpa(self) -> Fraction | None:
        if self.qualification_mpa is None:
            return None
        return self.qualification_mpa * (1 - self.most_below_qualification_pct / WHOLE)

    def is_low(self, test: OneTest) -> bool:
        return test.stress_mpa < self.least_mpa

    def is_no_result(self, test: OneTest) -> bool:
        share = self.greatest_glue_share_pct
        return share is not None and self.is_low(test) and test.glue_share_pct > share


@dataclass(frozen=True, kw_only=True)
class PullOffSetOut(Judged):
    mean_mpa: Fraction | None = result("Mean strength", optional=True)
    lowest_mpa: Fraction | None = result("Lowest strength", optional=True)
    valid_tests: int = result("Tests that count")
    repeat_tests: tuple[int, ...] = result("Tests to repeat")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "adhesion-pull-off-set",
    title="Pull-off adhesion, a set of tests",
    group="Tests",
    sources=(NUMBER, NUMBER_BY_EDITION, GLUE_RULE, NORSOK),
    example={"tests": [{"stress_mpa": 7.2}, {"stress_mpa": 8.1}, {"stress_mpa": 6.4}], "minimum_mpa": 5,
             "fewest_tests": 3},
    caution="Results of different instruments and dolly sizes do not compare. Limits are the specification's.",
)  # fmt: skip
def adhesion_pull_off_set(inputs: PullOffSetIn) -> PullOffSetOut:
    """Judge a set of pull-off tests against the least strength and, if given, against the qualification value.

    A test below the limit that failed in the glue by more than the declared share shows a weak glue, not a weak
    coating: it is no result, stays out of mean and lowest, and is to be repeated. With fewer results than asked for the
    set is incomplete, unless one of them fails by itself.
    """
    repeat = tuple(i for i, test in enumerate(inputs.tests) if inputs.is_no_result(test))
    valid = tuple(i for i in range(len(inputs.tests)) if i not in repeat)
    strength = _strength_checks(inputs, valid)
    enough = len(valid) >= inputs.fewest_tests
    checks = [
        Check("number of valid tests", "as declared", "So many tests with a result are needed.", inputs.fewest_tests,
              len(valid), enough, counted_in="test"),
        *strength,
    ]  # fmt: skip
    stresses = [inputs.tests[i].stress_mpa for i in valid]
    return PullOffSetOut(
        verdict=judged(strength) if enough or judged(strength) == "fail" else "incomplete",
        rule="strength of the specification",
        edition="",
        checks=tuple(checks),
        mean_mpa=sum(stresses, Fraction(0)) / len(stresses) if stresses else None,
        lowest_mpa=min(stresses, default=None),
        valid_tests=len(valid),
        repeat_tests=repeat,
        notes=_set_notes(inputs, valid, repeat),
    )


def _set_notes(inputs: PullOffSetIn, valid: Sequence[int], repeat: Sequence[int]) -> tuple[str, ...]:
    notes = []
    if repeat:
        notes.append(f"{counted(len(repeat), 'low test')} failed in the glue and stayed out of mean and lowest.")
    if inputs.fewest_tests > len(valid):
        notes.append(f"{counted(inputs.fewest_tests - len(valid), 'test')} with a result still to make.")
    if any(inputs.tests[i].glue_share_pct for i in valid):
        notes.append(
            "Where a test failed in the glue the coating holds at least its strength, and the mean at least this."
        )
    return tuple(notes)


def _strength_checks(inputs: PullOffSetIn, valid: tuple[int, ...]) -> list[Check]:
    limits = [("least strength", "specification", "No test may be below the least strength.", inputs.minimum_mpa)]
    if inputs.against_qualification_mpa is not None:
        sentence = "No test may lie further below the qualification value than allowed."
        clause = "NORSOK M-501 (from memory)"
        limits.append(("against qualification", clause, sentence, inputs.against_qualification_mpa))
    checks = []
    for name, clause, sentence, limit in limits:
        low = tuple(i for i in valid if inputs.tests[i].stress_mpa < limit)
        lowest = min((inputs.tests[i].stress_mpa for i in valid), default=None)
        checks.append(Check(name, clause, sentence, limit, lowest, not low, low, "MPa", "test"))
    return checks


BOUNDS_PCT = (0, 5, 15, 35, 65)
ASTM_CLASSES = ("5B", "4B", "3B", "2B", "1B", "0B")
# At these shares ASTM D3359 names both classes ("5 to 15 %", "15 to 35 %"); 4B is "less than 5 %", 0B "over 65 %".
ASTM_SHARED_BOUNDS_PCT = (15, 35)
ISO_2409_UP_TO_UM = 250


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
    sources=(D3359, D3359_REST, ISO_2409, ISO_2409_REST, NOT_EQUIVALENT),
    example={"area_removed_pct": 3, "dry_film_um": 80},
    caution="The two scales run opposite ways: 5B is best, and 0 is best. Never record a bare digit. ISO 2409 is not "
    "for textured films.",
)
def adhesion_cross_cut(inputs: CrossCutIn) -> CrossCutOut:
    """Rating by the area removed from the lattice: ASTM D3359 method B and ISO 2409.

    A boundary belongs to the better class in ISO 2409. In ASTM D3359 exactly 5 % is 3B (4B is less than 5 %) and 65 %
    is 1B; at 15 and 35 % its text names both neighbours, and so does the answer: the inspector decides. ISO 2409 does
    not reach beyond a film of 250 µm, and is then not judged.
    """
    share, film = inputs.area_removed_pct, inputs.dry_film_um
    note = "Similar scales, not equivalent: state which standard was used."
    beyond = film is not None and film > ISO_2409_UP_TO_UM
    return CrossCutOut(
        astm_d3359=_astm_class(share),
        iso_2409="not judged" if beyond else bisect_left(BOUNDS_PCT, share),
        astm_method=_astm_method(film),
        iso_spacing_mm=iso_spacing_mm(film, inputs.substrate),
        note=f"{note} ISO 2409 ends at a film of 250 µm: an X-cut suits this one." if beyond else note,
    )


def _astm_class(share: Fraction) -> str:
    step = bisect_left(BOUNDS_PCT, share)
    if share in ASTM_SHARED_BOUNDS_PCT:
        return f"{ASTM_CLASSES[step]} or {ASTM_CLASSES[step + 1]} (boundary)"
    return ASTM_CLASSES[step + (share == BOUNDS_PCT[1])]


def _astm_method(film_um: Fraction | None) -> str | None:
    """Method A (X-cut) above 125 µm, B (lattice) up to 125 µm unless a wider spacing is agreed; ASTM D3359."""
    if film_um is None:
        return None
    return "B (lattice)" if film_um <= 125 else "A (X-cut), or B with a wider spacing if agreed"


def iso_spacing_mm(film_um: Fraction | None, substrate: str) -> int | None:
    """1 mm to 60 µm on hard substrates, 2 mm to 60 on soft and to 120 on both, 3 mm to 250 (from memory)."""
    if film_um is None or film_um > ISO_2409_UP_TO_UM:
        return None
    if film_um > 120:
        return 3
    return 1 if film_um <= 60 and substrate == "hard" else 2
