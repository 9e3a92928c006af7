"""How many salt tests a surface needs."""

import pytest

from tests.reference.table import COMMON, STORED, Check, holds

UFGS = "UFGS 09972: salts 3 to 100 m², one for each further 200 m² or part"
NAVY = "US Navy white paper: five tests for 1000 ft² (90 m²), less area also five"


def plan(source, standard, size, tests, provenance=STORED):
    return Check("sampling-plan", source, provenance, {"standard": standard, **size}, {"tests_required": tests})


CHECKS = [
    *(plan(UFGS, "UFGS salt tests", {"area_m2": area}, tests)
      for area, tests in ((100, 3), (101, 4), (300, 4), (301, 5), (1000, 8))),
    plan(UFGS, "UFGS salt tests", {"area_ft2": 1001}, 4),
    *(plan(NAVY, "US Navy salt tests", {"area_ft2": area}, tests) for area, tests in ((400, 5), (1000, 5), (3000, 15))),
    plan(NAVY + "; a part counted whole", "US Navy salt tests", {"area_ft2": 2500}, 15, COMMON),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
