"""Water jetting grades and flash rust."""

import pytest

from tests.reference.table import MEMORY, STORED, Check, holds

GRADES = "SSPC-SP WJ-1 to WJ-4 (study cards): none, 5 %, 33 % of each unit area; loose matter removed"
FLASH = "SSPC water jetting (society press release, shipyard page): flash rust none, L, M, H"
CLOTH = FLASH + "; marks on the cloth"


def jetted(source, grade, most, areas, verdict, provenance=STORED, **expected):
    rows = [{"remaining_pct": pct, "loose_matter": loose, "flash_rust": rust} for pct, loose, rust in areas]
    inputs = {"grade": grade, "most_flash_rust": most, "unit_areas": rows}
    return Check("water-jetting-grade", source, provenance, inputs, {"verdict": verdict, **expected})


CHECKS = [
    jetted(GRADES, "WJ-2", "M moderate", [(5, "no", "none")], "pass", grade_reached="WJ-2"),
    jetted(GRADES + "; 6 % in one though the mean is 2 %", "WJ-2", "M moderate",
           [(6, "no", "none"), *[(1, "no", "none")] * 4], "fail", grade_reached="WJ-3"),
    jetted(GRADES, "WJ-3", "H heavy", [(33, "no", "H heavy")], "pass"),
    jetted(GRADES, "WJ-3", "H heavy", [(33.1, "no", "H heavy")], "fail", grade_reached="WJ-4"),
    jetted(GRADES, "WJ-1", "none", [(0, "no", "none")], "pass", grade_reached="WJ-1"),
    jetted(GRADES, "WJ-1", "none", [(0.1, "no", "none")], "fail"),
    jetted(GRADES, "WJ-4", "none", [(90, "no", "none")], "pass"),
    jetted(GRADES, "WJ-4", "none", [(1, "yes", "none")], "fail", grade_reached="none"),
    jetted(FLASH, "WJ-2", "M moderate", [(2, "no", "H heavy")], "fail", grade_reached="WJ-2"),
    jetted(CLOTH, "WJ-2", "L light", [(2, "no", "L light")], "pass", MEMORY, worst_flash_rust="L light"),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
