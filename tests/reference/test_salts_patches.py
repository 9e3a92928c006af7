"""Salts of several patches."""

import pytest

from tests.reference.table import COMMON, COMPUTED, STORED, Check, holds

MIXED, SODIUM_CHLORIDE, CHLORIDE = "mixed salts", "sodium chloride", "chloride, if all salt is sodium chloride"
SHEET = "Method sheet on the patch (ISO 8502-9): 1.2 mg/m² per µS/cm for 3 ml on 12.5 cm², 1.1 as sodium chloride"
FORUM = "Forum answer: chloride 0.275 mg/l per µS/cm"
HANDBOOK = "Instrument handbook: γ25 = γt/(1 + α(t - 25)), standard of 84.00 µS/cm"
UFGS = "UFGS 09972: salts 3 to 100 m², one for each further 200 m² or part"
NAVY = "US Navy white paper: five tests for 1000 ft² (90 m²), less area also five"
LOSS = "ISO 8502-6, quoted notes: loss of solution voids the test"
DECIDES = "A patch above a limit on each decides before the set is whole"


def patches(source, provenance, conductivities, expected, **given):
    inputs = {"limit_mg_m2": 50, "judged_by": "each patch", "species": MIXED, "volume_ml": 3, "patch_cm2": 12.5,
              "blank_us_cm": 3, "reference_c": 25, "plan": "a declared number", "tests": 1,
              "patches": [one if isinstance(one, dict) else {"conductivity_us_cm": one} for one in conductivities],
              **given}  # fmt: skip
    return Check("salts-patches", source, provenance, inputs, expected,
                 {"mean_mg_m2": 0.005, "highest_mg_m2": 0.005})  # fmt: skip


def at(temperature, conductivity, coefficient):
    """A bare factor of one: 2.5 ml as mixed salts give 1.0 mg/m² per µS/cm."""
    patch = {"conductivity_us_cm": conductivity, "solution_c": temperature}
    return patches(HANDBOOK, STORED, [patch], {"mean_mg_m2": 84.0}, volume_ml=2.5, blank_us_cm=0,
                   coefficient_pct_per_k=coefficient)  # fmt: skip


CHECKS = [
    patches(SHEET, STORED, [48], {"verdict": "fail", "mean_mg_m2": 54.0}),
    patches(SHEET, STORED, [48], {"verdict": "pass", "mean_mg_m2": 49.5}, species=SODIUM_CHLORIDE),
    patches(FORUM, STORED, [28], {"mean_mg_m2": 16.5}, species=CHLORIDE),
    patches("ISO 8502-9 formula at 10 ml: 4.0 mg/m² per µS/cm", COMPUTED, [23], {"mean_mg_m2": 80.0}, volume_ml=10),
    patches("Mean and highest by hand: 12, 24 and 54 mg/m²", COMPUTED, [13, 23, 48],
            {"verdict": "fail", "mean_mg_m2": 30, "highest_mg_m2": 54}),
    patches("A limit on the mean, by hand: 12, 24 and 54 mg/m²", COMPUTED, [13, 23, 48],
            {"verdict": "pass", "mean_mg_m2": 30}, judged_by="mean of the patches", tests=3),
    patches(LOSS, STORED, [13, {"conductivity_us_cm": 500, "liquid_lost": "yes"}],
            {"verdict": "incomplete", "highest_mg_m2": 12, "tests_valid": 1}, tests=2),
    patches(DECIDES, COMMON, [48], {"verdict": "fail"}, tests=3),
    patches("A limit on the mean waits for the whole set", COMMON, [48], {"verdict": "incomplete"}, tests=3,
            judged_by="mean of the patches"),
    patches(UFGS, STORED, [13, 13, 13], {"verdict": "incomplete", "tests_required": 4}, plan="UFGS 09972", tests=None,
            area_m2=101),
    patches(NAVY, STORED, [13] * 5, {"verdict": "pass", "tests_required": 5}, plan="US Navy", tests=None, area_m2=90),
    # The handbook's own readings of one standard solution come back as 83.99 to 84.03.
    *(Check(row.calculation, row.source, row.provenance, row.inputs, row.expected, {"mean_mg_m2": 0.035})
      for row in (at(15, 67.61, 1.95), at(20, 75.80, 1.95), at(30, 92.19, 1.95), at(35, 100.92, 2.01))),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
