"""Soluble salts on steel: surface density by patch extraction, and how sure one result is against a limit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from statistics import NormalDist

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    judged,
    number,
    result,
)

FORMULA = Source("ISO 8502-9", "5 V (γ - γ0) / A, with test values in a public program", "", "stored source")
CONSTANT = Source("ISO 8502-9", "constant 5 kg per m² and S: mixed salts of 0.5 mg/l per µS/cm", "", "from memory")
AS_SODIUM_CHLORIDE = Source("Method sheet on the patch", "1.1 mg/m² per µS/cm as sodium chloride, 3 ml on 12.5 cm²", "",
                            "stored source")  # fmt: skip
AS_CHLORIDE = Source("Forum answer", "chloride 0.275 mg/l per µS/cm, if all salt were sodium chloride", "",
                     "stored source")  # fmt: skip
TEMPERATURE = Source("Instrument handbook", "γ at the reference = γ / (1 + α (t - reference))", "", "stored source")
BLANK = Source("Article on the patch method", "blank water at most 5 µS/cm", "", "stored source")
SP0508 = Source("NACE SP0508", "2008, precision of one result ±8.2 mg/m² from 30 to 80 mg/m²", "1.1.3", "stored source")
NORMAL = Source("JCGM 106", "2012, normal model; ±8.2 taken as a 95 % interval", "7", "common practice, no source")

MG_M2_PER_UG_CM2 = 10
BLANK_AT_MOST_US_CM = 5
PRECISE_RANGE_MG_M2 = (30, 80)
_TWO_SIDED_95 = NormalDist().inv_cdf(0.975)
MIXED, SODIUM_CHLORIDE, CHLORIDE = "mixed salts", "sodium chloride", "chloride, if all salt is sodium chloride"
DECLARED_SALT = "another, by a declared constant"
# kg/(m²·S): mg/m² of one litre on one square metre per µS/cm, ten times the mg/l per µS/cm of the salt.
CONSTANTS = {
    MIXED: Fraction(5),
    SODIUM_CHLORIDE: Fraction(11, 10) * Fraction(125, 10) / 3,
    CHLORIDE: Fraction(275, 100),
}


@dataclass(frozen=True, kw_only=True)
class BresleIn:
    conductivity_us_cm: Fraction = number("Conductivity of the extract", unit="µS/cm", minimum=0, maximum=100_000)
    blank_us_cm: Fraction = number("Conductivity of the blank", unit="µS/cm", minimum=0, maximum=1000, default=0)
    species: str = choice(
        "Expressed as", (*CONSTANTS, DECLARED_SALT), help="The salt that the limit speaks of. IMO: sodium chloride.",
        default=MIXED,
    )  # fmt: skip
    volume_ml: Fraction = number("Volume of water", unit="ml", above=0, maximum=1000, default=15)
    patch_cm2: Fraction = number("Area of the patch", unit="cm²", above=0, maximum=10_000, default=12.5)
    constant_kg_m2_s: Fraction | None = number(
        "Constant", unit="kg/(m²·S)", help="Only for another salt, with the factor your specification names.",
        above=0, maximum=100, optional=True,
    )  # fmt: skip
    reference_c: int | None = choice(
        "Reference temperature of the conductivity", (20, 25),
        help="The temperature your meter refers to. That of ISO 8502-9 is not known here.", optional=True,
    )  # fmt: skip
    solution_c: Fraction | None = number(
        "Temperature of the solution", help="Only where the meter does not compensate.", minimum=0, maximum=60,
        optional=True,
    )  # fmt: skip
    coefficient_pct_per_k: Fraction | None = number(
        "Temperature coefficient", unit="%/K", help="Met: 1.9 to 2.1 for dilute salts. Needed with the temperature.",
        above=0, maximum=5, optional=True,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.blank_us_cm > self.conductivity_us_cm:
            raise InputFault.at("blank_us_cm", "must not be above conductivity_us_cm: measure both again")
        if (self.species == DECLARED_SALT) != (self.constant_kg_m2_s is not None):
            need = "is needed for" if self.species == DECLARED_SALT else "belongs only to"
            raise InputFault.at("constant_kg_m2_s", f"{need} {DECLARED_SALT}")
        uncompensated = {"reference_c": self.reference_c, "coefficient_pct_per_k": self.coefficient_pct_per_k}
        if self.solution_c is not None:
            for name, value in uncompensated.items():
                if value is None:
                    raise InputFault.at(name, "is needed to bring the conductivity from solution_c to the reference")
        elif self.coefficient_pct_per_k is not None:
            raise InputFault.at("solution_c", "is needed with coefficient_pct_per_k; leave both out for a meter that "
                                              "compensates")  # fmt: skip
        if self.to_reference <= 0:
            raise InputFault.at("coefficient_pct_per_k", "leaves no conductivity at this temperature: check both")

    @property
    def to_reference(self) -> Fraction:
        """What a conductivity is divided by to become that at the reference temperature."""
        if self.solution_c is None or self.coefficient_pct_per_k is None or self.reference_c is None:
            return Fraction(1)
        return 1 + self.coefficient_pct_per_k / 100 * (self.solution_c - self.reference_c)


@dataclass(frozen=True, kw_only=True)
class BresleOut:
    density_mg_m2: Fraction = result("Surface density of salts", unit="mg/m²")
    density_ug_cm2: Fraction = result("Surface density of salts", unit="µg/cm²")
    species: str = result("Expressed as")
    factor_mg_m2_per_us_cm: Fraction = result("Factor", unit="mg/m² per µS/cm")
    volume_ml: Fraction = result("Volume of water")
    patch_cm2: Fraction = result("Area of the patch")
    conductivity_at_reference_us_cm: Fraction = result("Conductivity at the reference, less the blank", unit="µS/cm")
    reference_c: int | None = result("Reference temperature", optional=True)
    blank_clean: bool = result("Blank conducts at most 5 µS/cm")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "salts-bresle",
    title="Soluble salts by patch and conductivity",
    group="Surface",
    sources=(FORMULA, CONSTANT, AS_SODIUM_CHLORIDE, AS_CHLORIDE, TEMPERATURE, BLANK),
    example={"conductivity_us_cm": 48, "blank_us_cm": 3, "species": SODIUM_CHLORIDE, "volume_ml": 3,
             "patch_cm2": 12.5, "reference_c": 25},
    caution="Conductivity is not chloride: near a limit the salt it is expressed as decides, so keep it with volume, "
    "patch and reference temperature. Any loss of liquid voids the test.",
)  # fmt: skip
def salts_bresle(inputs: BresleIn) -> BresleOut:
    """Surface density of water-soluble salts: 5 V (γ - γ0) / A in mg/m² (V in ml, γ in µS/cm, A in cm²); ISO 8502-9.

    5 is the constant of mixed salts; as sodium chloride it is 4.583 (1.1 mg/m² per µS/cm for 3 ml on 12.5 cm²), as
    chloride 2.75. Extract and blank are brought to the reference temperature where the meter did not. What decided the
    figure is part of the answer.
    """
    constant = CONSTANTS.get(inputs.species, inputs.constant_kg_m2_s or Fraction(0))
    factor = constant * inputs.volume_ml / inputs.patch_cm2
    conductivity = (inputs.conductivity_us_cm - inputs.blank_us_cm) / inputs.to_reference
    density = factor * conductivity
    return BresleOut(
        density_mg_m2=density,
        density_ug_cm2=density / MG_M2_PER_UG_CM2,
        species=inputs.species,
        factor_mg_m2_per_us_cm=factor,
        volume_ml=inputs.volume_ml,
        patch_cm2=inputs.patch_cm2,
        conductivity_at_reference_us_cm=conductivity,
        reference_c=inputs.reference_c,
        blank_clean=inputs.blank_us_cm <= BLANK_AT_MOST_US_CM,
        notes=() if inputs.reference_c is not None else (NO_REFERENCE,),
    )


NO_REFERENCE = (
    "The reference temperature of the conductivity was not given: 20 or 25 °C make some 10 % of the result. "
    "Write down which your meter refers to."
)


@dataclass(frozen=True, kw_only=True)
class SaltsDecisionIn:
    observed_mg_m2: Fraction = number("Result", unit="mg/m²", minimum=0, maximum=100_000)
    observed_as: str = choice("Result expressed as", (*CONSTANTS, DECLARED_SALT))
    limit_mg_m2: Fraction = number("Limit", unit="mg/m²", above=0, maximum=100_000)
    limit_as: str = choice(
        "Limit expressed as", (*CONSTANTS, DECLARED_SALT), help="By the specification. IMO: sodium chloride."
    )
    half_width_95_mg_m2: Fraction = number(
        "Precision of one result (95 %)", unit="mg/m²", above=0, maximum=10_000, default=8.2
    )
    accepted_risk_pct: Fraction = number("Accepted risk of being above", unit="%", above=0, maximum=50, default=5)

    def __post_init__(self) -> None:
        if (self.observed_as == DECLARED_SALT) != (self.limit_as == DECLARED_SALT):
            raise InputFault.at(
                "limit_as",
                f"a result and a limit of which only one is {DECLARED_SALT} cannot be compared: "
                "compute the result again, as the limit is expressed",
            )

    @property
    def to_limit(self) -> Fraction:
        """What the result is multiplied by to be expressed as the limit is: the same conductivity, another constant."""
        if self.observed_as == self.limit_as:
            return Fraction(1)
        return CONSTANTS[self.limit_as] / CONSTANTS[self.observed_as]


@dataclass(frozen=True, kw_only=True)
class SaltsDecisionOut(Judged):
    compared_mg_m2: Fraction = result("Result, expressed as the limit is", unit="mg/m²")
    probability_above_limit: float = result("Probability of being above the limit")
    standard_uncertainty_mg_m2: float = result("Standard uncertainty of one result", unit="mg/m²")
    sure_below_mg_m2: float = result("Below this a result is within the accepted risk", unit="mg/m²")
    precision_known: bool = result("Precision is known for such a result (30 to 80 mg/m²)")
    advice: str = result("Advice")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "salts-decision",
    title="Salts: how sure is the decision",
    group="Surface",
    sources=(SP0508, NORMAL, CONSTANT, AS_SODIUM_CHLORIDE, AS_CHLORIDE),
    example={"observed_mg_m2": 46, "observed_as": SODIUM_CHLORIDE, "limit_mg_m2": 50, "limit_as": SODIUM_CHLORIDE},
    caution="The verdict compares the result as the specification does; the probability tells how much it is worth.",
)
def salts_decision(inputs: SaltsDecisionIn) -> SaltsDecisionOut:
    """Compare one result with its limit, and give the probability that the true density is above it.

    The precision of one result, ±8.2 mg/m² between 30 and 80 mg/m² (NACE SP0508), is taken as a 95 % interval of a
    normal distribution: our assumption. A result expressed as another salt than the limit is brought to the limit's by
    the constants of `salts-bresle`, and its precision with it.
    """
    observed = inputs.observed_mg_m2 * inputs.to_limit
    uncertainty = float(inputs.half_width_95_mg_m2 * inputs.to_limit) / _TWO_SIDED_95
    above = NormalDist().cdf(float(observed - inputs.limit_mg_m2) / uncertainty)
    risk = float(inputs.accepted_risk_pct) / 100
    passed = observed <= inputs.limit_mg_m2
    known = PRECISE_RANGE_MG_M2[0] <= inputs.observed_mg_m2 <= PRECISE_RANGE_MG_M2[1]
    sentence = "The surface density of salts must not be above the limit."
    check = Check("limit", "specification", sentence, inputs.limit_mg_m2, observed, passed, unit="mg/m²")
    return SaltsDecisionOut(
        verdict=judged([check]),
        rule=f"limit of the specification, as {inputs.limit_as}",
        edition="",
        checks=(check,),
        compared_mg_m2=observed,
        probability_above_limit=above,
        standard_uncertainty_mg_m2=uncertainty,
        sure_below_mg_m2=float(inputs.limit_mg_m2) + NormalDist().inv_cdf(risk) * uncertainty,
        precision_known=known,
        advice=_advice(passed, above, risk, known=known),
        notes=_brought(inputs),
    )


def _brought(inputs: SaltsDecisionIn) -> tuple[str, ...]:
    if inputs.observed_as == DECLARED_SALT:
        return ("Whether result and limit are of the same declared constant is not known here: see to it.",)
    if inputs.observed_as == inputs.limit_as:
        return ()
    words = f"The result was given as {inputs.observed_as} and brought to {inputs.limit_as}, as the limit is expressed"
    return (f"{words}, by a factor of {float(inputs.to_limit):.3f}. This holds for results by conductivity only.",)


def _advice(passed: bool, above: float, risk: float, *, known: bool) -> str:
    if not passed:
        return "Above the limit: clean again and repeat the test."
    if not known:
        return "Not above the limit; how sure is not known here, since the precision is stated for 30 to 80 mg/m² only."
    if above > risk:
        return "Below the limit, but not surely: take more tests before relying on it."
    return "Below the limit within the accepted risk."
