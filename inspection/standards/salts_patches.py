"""Soluble salts of several patches: each result, their mean and highest, and whether enough patches were tested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards import salts_plan
from inspection.standards.completeness import UNFINISHED, count_check, judged_with_counts
from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    items,
    number,
    result,
    text,
)
from inspection.standards.salts import (
    AS_CHLORIDE,
    AS_SODIUM_CHLORIDE,
    BLANK_AT_MOST_US_CM,
    CONSTANT,
    CONSTANTS,
    DECLARED_SALT,
    FORMULA,
    SODIUM_CHLORIDE,
    TEMPERATURE,
    BresleIn,
    BresleOut,
    salts_bresle,
)
from inspection.standards.thickness import counted

LOSS = Source("ISO 8502-6", "notes quoted on a public page: loss of solution voids the test", "", "stored source")

EACH, MEAN = "each patch", "mean of the patches"
DECLARED, UFGS, NAVY = "a declared number", "UFGS 09972", "US Navy"
NAVY_UNIT_M2 = 90


@dataclass(frozen=True, kw_only=True)
class Patch:
    place: str | None = text("Place", optional=True)
    conductivity_us_cm: Fraction = number("Conductivity of the extract", unit="µS/cm", minimum=0, maximum=100_000)
    solution_c: Fraction | None = number(
        "Temperature of the solution", minimum=0, maximum=60, optional=True,
        help="Only where the meter does not compensate.",
    )  # fmt: skip
    liquid_lost: str = choice("Liquid lost", ("no", "yes"), default="no")


@dataclass(frozen=True, kw_only=True)
class PatchesIn:
    limit_mg_m2: Fraction = number("Limit", unit="mg/m²", above=0, maximum=100_000)
    judged_by: str = choice("The limit holds for", (EACH, MEAN), help="By the specification.")
    species: str = choice(
        "Expressed as", (*CONSTANTS, DECLARED_SALT), help="The salt that the limit speaks of. IMO: sodium chloride."
    )
    constant_kg_m2_s: Fraction | None = number(
        "Constant", unit="kg/(m²·S)", above=0, maximum=100, optional=True,
        help="Only for another salt, with the factor your specification names.",
    )  # fmt: skip
    volume_ml: Fraction = number("Volume of water", above=0, maximum=1000)
    patch_cm2: Fraction = number("Area of a patch", above=0, maximum=10_000)
    blank_us_cm: Fraction = number("Conductivity of the blank", unit="µS/cm", minimum=0, maximum=1000)
    reference_c: int = choice(
        "Reference temperature of the conductivity", (20, 25), help="The temperature your meter refers to."
    )
    coefficient_pct_per_k: Fraction | None = number(
        "Temperature coefficient", unit="%/K", above=0, maximum=5, optional=True,
        help="Only with temperatures of solutions; met: 1.9 to 2.1 for dilute salts.",
    )  # fmt: skip
    plan: str = choice("Number of tests by", (DECLARED, UFGS, NAVY))
    tests: int | None = number("Declared number of tests", minimum=1, maximum=100_000, optional=True)
    area_m2: Fraction | None = number(
        "Area", above=0, maximum=10**7, optional=True, help="For the plans of UFGS and the US Navy."
    )
    patches: tuple[Patch, ...] = items("Patches", Patch, most=5000)

    def __post_init__(self) -> None:
        faults = []
        needed, left_out = ("tests", "area_m2") if self.plan == DECLARED else ("area_m2", "tests")
        if getattr(self, needed) is None:
            faults.append(Fault(needed, f"is needed for the number by {self.plan}"))
        if getattr(self, left_out) is not None:
            faults.append(Fault(left_out, f"leave out for the number by {self.plan}"))
        if (self.species == DECLARED_SALT) != (self.constant_kg_m2_s is not None):
            need = "is needed for" if self.species == DECLARED_SALT else "belongs only to"
            faults.append(Fault("constant_kg_m2_s", f"{need} {DECLARED_SALT}"))
        by_temperature = any(patch.solution_c is not None for patch in self.patches)
        if by_temperature != (self.coefficient_pct_per_k is not None):
            need = "is needed with" if by_temperature else "belongs only to"
            faults.append(Fault("coefficient_pct_per_k", f"{need} temperatures of solutions"))
        faults += [
            Fault(f"patches[{index}].conductivity_us_cm", "is below the blank: measure both again")
            for index, patch in enumerate(self.patches)
            if patch.conductivity_us_cm < self.blank_us_cm and patch.liquid_lost == "no"
        ]
        if faults:
            raise InputFault(faults)

    def tests_required(self) -> int:
        """By the declared number or by a plan for the area."""
        if self.area_m2 is None:
            return self.tests or 1
        if self.plan == UFGS:
            return salts_plan.ufgs_tests(self.area_m2, 10)
        return salts_plan.navy_tests(self.area_m2, NAVY_UNIT_M2)

    def of(self, patch: Patch) -> BresleOut:
        """The result of one patch, by the one formula there is for it."""
        return salts_bresle(
            BresleIn(
                conductivity_us_cm=patch.conductivity_us_cm, blank_us_cm=self.blank_us_cm, species=self.species,
                constant_kg_m2_s=self.constant_kg_m2_s, volume_ml=self.volume_ml, patch_cm2=self.patch_cm2,
                reference_c=self.reference_c, solution_c=patch.solution_c,
                coefficient_pct_per_k=None if patch.solution_c is None else self.coefficient_pct_per_k,
            )
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PatchOut:
    place: str
    mg_per_square_metre: Fraction | None
    verdict: str


@dataclass(frozen=True, kw_only=True)
class PatchesOut(Judged):
    mean_mg_m2: Fraction | None = result("Mean", unit="mg/m²", optional=True)
    highest_mg_m2: Fraction | None = result("Highest", unit="mg/m²", optional=True)
    species: str = result("Expressed as")
    factor_mg_m2_per_us_cm: Fraction | None = result("Factor", unit="mg/m² per µS/cm", optional=True)
    tests_required: int = result("Tests asked for")
    tests_valid: int = result("Tests that count")
    patches: tuple[PatchOut, ...] = result("Patches")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "salts-patches",
    title="Soluble salts of several patches",
    group="Surface",
    sources=(FORMULA, CONSTANT, AS_SODIUM_CHLORIDE, AS_CHLORIDE, TEMPERATURE, LOSS, salts_plan.UFGS, salts_plan.NAVY,
             UNFINISHED),
    caution="Volume, patch, salt and reference temperature belong to every figure: 54.0 or 49.5 mg/m² can be the same "
    "reading. One result is good to some ±8 mg/m²: near the limit see how sure the decision is. Any loss of liquid "
    "voids a test. The limit in µS/cm of the US Navy is not converted here.",
    example={
        "limit_mg_m2": 50, "judged_by": EACH, "species": SODIUM_CHLORIDE, "volume_ml": 3, "patch_cm2": 12.5,
        "blank_us_cm": 3, "reference_c": 25, "plan": UFGS, "area_m2": 100,
        "patches": [{"place": "frame 3", "conductivity_us_cm": 48}, {"place": "frame 4", "conductivity_us_cm": 22},
                    {"place": "weld 12", "conductivity_us_cm": 31}],
    },
)  # fmt: skip
def salts_patches(inputs: PatchesIn) -> PatchesOut:
    """Density of every patch in mg/m², their mean and highest, against a limit for each or for the mean; equal passes.

    Conductivities in µS/cm, water in ml, patch in cm², temperatures in °C. A patch that lost liquid has no result. With
    fewer results than asked for the set is incomplete, unless the limit holds for each and one is above it.
    """
    lost = tuple(index for index, patch in enumerate(inputs.patches) if patch.liquid_lost == "yes")
    found = {index: inputs.of(patch) for index, patch in enumerate(inputs.patches) if index not in set(lost)}
    densities = {index: answer.density_mg_m2 for index, answer in found.items()}
    required = inputs.tests_required()
    enough = count_check(required, len(found), name="number of tests", clause=inputs.plan, unit="tests",
                         counted_in="patch", sentence="As many tests count as are asked for.")  # fmt: skip
    verdict, checks = judged_with_counts(_limit_checks(inputs, densities), [enough])
    return PatchesOut(
        verdict=verdict,
        rule=f"limit for {inputs.judged_by}, as {inputs.species}",
        edition="",
        checks=checks,
        mean_mg_m2=_mean(list(densities.values())) if densities else None,
        highest_mg_m2=max(densities.values(), default=None),
        species=inputs.species,
        factor_mg_m2_per_us_cm=next((answer.factor_mg_m2_per_us_cm for answer in found.values()), None),
        tests_required=required,
        tests_valid=len(found),
        patches=tuple(
            PatchOut(place=patch.place or str(index + 1), mg_per_square_metre=densities.get(index),
                     verdict=_verdict(densities.get(index), inputs.limit_mg_m2))
            for index, patch in enumerate(inputs.patches)
        ),
        notes=_notes(inputs, lost, required - len(found), required),
    )  # fmt: skip


def _mean(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def _verdict(density: Fraction | None, limit: Fraction) -> str:
    if density is None:
        return "no result"
    return "within the limit" if density <= limit else "above the limit"


def _limit_checks(inputs: PatchesIn, densities: dict[int, Fraction]) -> list[Check]:
    if not densities:
        return []
    limit, clause, unit = inputs.limit_mg_m2, "specification", "mg/m²"
    if inputs.judged_by == MEAN:
        average = _mean(list(densities.values()))
        sentence = "The mean of the patches is not above the limit."
        return [Check("mean", clause, sentence, limit, average, average <= limit, (), unit, "patch")]
    highest = max(densities.values())
    above = tuple(index for index, density in densities.items() if density > limit)
    nearest = tuple(index for index, density in densities.items() if density == highest)
    sentence = "No patch is above the limit."
    return [Check("each patch", clause, sentence, limit, highest, not above, above or nearest, unit, "patch",
                  decides_alone=True)]  # fmt: skip


def _notes(inputs: PatchesIn, lost: Sequence[int], missing: int, required: int) -> tuple[str, ...]:
    notes = []
    if lost:
        notes.append(f"{counted(len(lost), 'test')} lost liquid and has no result: repeat close by." if len(lost) == 1
                     else f"{len(lost)} tests lost liquid and have no result: repeat close by.")  # fmt: skip
    if missing > 0:
        notes.append(f"{counted(missing, 'test')} still to make.")
    if inputs.blank_us_cm > BLANK_AT_MOST_US_CM:
        notes.append(f"The blank conducts more than {BLANK_AT_MOST_US_CM} µS/cm: use cleaner water.")
    if inputs.plan == UFGS:
        notes.append(f"{salts_plan.at_welds(required)} of the tests at welds (30 %).")
    return tuple(notes)
