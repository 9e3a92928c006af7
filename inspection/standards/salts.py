"""Soluble salts on steel: surface density by patch extraction, and how sure one result is against a limit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from statistics import NormalDist

from inspection.standards.registry import Check, InputFault, Judged, Source, calculation, judged, number, result

FORMULA = Source("ISO 8502-9", "5 V (γ - γ0) / A, with test values in a public program", "", "stored source")
CONSTANT = Source("ISO 8502-9", "constant 5 kg per m² and S", "", "from memory")
BLANK = Source("Article on the patch method", "blank water at most 5 µS/cm", "", "stored source")
SP0508 = Source("NACE SP0508", "2008, precision of one result ±8.2 mg/m² from 30 to 80 mg/m²", "1.1.3", "stored source")
NORMAL = Source("JCGM 106", "2012, normal model; ±8.2 taken as a 95 % interval", "7", "common practice, no source")

MG_M2_PER_UG_CM2 = 10
BLANK_AT_MOST_US_CM = 5
PRECISE_RANGE_MG_M2 = (30, 80)
_TWO_SIDED_95 = NormalDist().inv_cdf(0.975)


@dataclass(frozen=True, kw_only=True)
class BresleIn:
    conductivity_us_cm: Fraction = number("Conductivity of the extract", unit="µS/cm", minimum=0, maximum=100_000)
    blank_us_cm: Fraction = number("Conductivity of the blank", unit="µS/cm", minimum=0, maximum=1000, default=0)
    volume_ml: Fraction = number("Volume of water", unit="ml", above=0, maximum=1000, default=15)
    patch_cm2: Fraction = number("Area of the patch", unit="cm²", above=0, maximum=10_000, default=12.5)
    constant_kg_m2_s: Fraction = number(
        "Constant",
        unit="kg/(m²·S)",
        help="5 in the standard; another only if your specification names a salt and its factor.",
        above=0,
        maximum=100,
        default=5,
    )

    def __post_init__(self) -> None:
        if self.blank_us_cm > self.conductivity_us_cm:
            raise InputFault.at("blank_us_cm", "must not be above conductivity_us_cm: measure both again")


@dataclass(frozen=True, kw_only=True)
class BresleOut:
    density_mg_m2: Fraction = result("Surface density of salts", unit="mg/m²")
    density_ug_cm2: Fraction = result("Surface density of salts", unit="µg/cm²")
    factor_mg_m2_per_us_cm: Fraction = result("Factor", unit="mg/m² per µS/cm")
    blank_clean: bool = result("Blank conducts at most 5 µS/cm")


@calculation(
    "salts-bresle",
    title="Soluble salts by patch and conductivity",
    group="Surface",
    sources=(FORMULA, CONSTANT, BLANK),
    example={"conductivity_us_cm": 9.8, "blank_us_cm": 1.5},
    caution="Conductivity is not chloride: state the salt a limit speaks of. Any loss of liquid voids the test.",
)
def salts_bresle(inputs: BresleIn) -> BresleOut:
    """Surface density of water-soluble salts: 5 V (γ - γ0) / A in mg/m² (V in ml, γ in µS/cm, A in cm²); ISO 8502-9."""
    factor = inputs.constant_kg_m2_s * inputs.volume_ml / inputs.patch_cm2
    density = factor * (inputs.conductivity_us_cm - inputs.blank_us_cm)
    return BresleOut(
        density_mg_m2=density,
        density_ug_cm2=density / MG_M2_PER_UG_CM2,
        factor_mg_m2_per_us_cm=factor,
        blank_clean=inputs.blank_us_cm <= BLANK_AT_MOST_US_CM,
    )


@dataclass(frozen=True, kw_only=True)
class SaltsDecisionIn:
    observed_mg_m2: Fraction = number("Result", unit="mg/m²", minimum=0, maximum=100_000)
    limit_mg_m2: Fraction = number("Limit", unit="mg/m²", above=0, maximum=100_000)
    half_width_95_mg_m2: Fraction = number(
        "Precision of one result (95 %)", unit="mg/m²", above=0, maximum=10_000, default=8.2
    )
    accepted_risk_pct: Fraction = number("Accepted risk of being above", unit="%", above=0, maximum=50, default=5)


@dataclass(frozen=True, kw_only=True)
class SaltsDecisionOut(Judged):
    probability_above_limit: float = result("Probability of being above the limit")
    standard_uncertainty_mg_m2: float = result("Standard uncertainty of one result", unit="mg/m²")
    sure_below_mg_m2: float = result("Below this a result is within the accepted risk", unit="mg/m²")
    precision_known: bool = result("Precision is known for such a result (30 to 80 mg/m²)")
    advice: str = result("Advice")


@calculation(
    "salts-decision",
    title="Salts: how sure is the decision",
    group="Surface",
    sources=(SP0508, NORMAL),
    example={"observed_mg_m2": 46, "limit_mg_m2": 50},
    caution="The verdict compares the result as the specification does; the probability tells how much it is worth.",
)
def salts_decision(inputs: SaltsDecisionIn) -> SaltsDecisionOut:
    """Compare one result with its limit, and give the probability that the true density is above it.

    The precision of one result, ±8.2 mg/m² between 30 and 80 mg/m² (NACE SP0508), is taken as a 95 % interval of a
    normal distribution: our assumption.
    """
    uncertainty = float(inputs.half_width_95_mg_m2) / _TWO_SIDED_95
    above = NormalDist().cdf(float(inputs.observed_mg_m2 - inputs.limit_mg_m2) / uncertainty)
    risk = float(inputs.accepted_risk_pct) / 100
    passed = inputs.observed_mg_m2 <= inputs.limit_mg_m2
    sentence = "The surface density of salts must not be above the limit."
    check = Check("limit", "specification", sentence, inputs.limit_mg_m2, inputs.observed_mg_m2, passed, unit="mg/m²")
    return SaltsDecisionOut(
        verdict=judged([check]),
        rule="limit of the specification",
        edition="",
        checks=(check,),
        probability_above_limit=above,
        standard_uncertainty_mg_m2=uncertainty,
        sure_below_mg_m2=float(inputs.limit_mg_m2) + NormalDist().inv_cdf(risk) * uncertainty,
        precision_known=PRECISE_RANGE_MG_M2[0] <= inputs.observed_mg_m2 <= PRECISE_RANGE_MG_M2[1],
        advice=_advice(passed, above, risk),
    )


def _advice(passed: bool, above: float, risk: float) -> str:
    if not passed:
        return "Above the limit: clean again and repeat the test."
    if above > risk:
        return "Below the limit, but not surely: take more tests before relying on it."
    return "Below the limit within the accepted risk."
