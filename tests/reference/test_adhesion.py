"""Adhesion and cure tests against standards."""

import pytest

from inspection.standards import calculate
from tests.reference.table import COMMON, COMPUTED, MEMORY, STORED, Check, from_vectors, holds

D3359 = "ASTM D3359: method A over 125 µm, B to 125 µm"
ISO_2409 = "ISO 2409: 1 mm to 60 µm (hard), 2 mm to 60 (soft) and to 120, 3 mm to 250"
NORSOK = "NORSOK M-501 edition 6: at least 5 MPa and at most 50 % below qualification"
GLUE_25 = "National guideline on concrete: a low value with more than 25 % in the glue is not used in the mean"
GLUE_LIMIT = {"minimum_mpa": 5, "fewest_tests": 3, "greatest_glue_share_pct": 25}
D4752 = "ASTM D4752: ratings 5 to 0 after 50 double rubs"


def cross_cut(source, provenance, given, expected):
    return Check("adhesion-cross-cut", source, provenance, {"area_removed_pct": 0, **given}, expected)


def pulls(source, provenance, stresses, given, verdict):
    tests = [{"stress_mpa": stress} for stress in stresses]
    inputs = {"tests": tests, "minimum_mpa": 5, "fewest_tests": 3, **given}
    return Check("adhesion-pull-off-set", source, provenance, inputs, {"verdict": verdict})


def strength(force_n, diameter_mm, stress_mpa):
    return Check("adhesion-pull-off", "Force over area, 4 F / (pi d²)", COMPUTED,
                 {"force_n": force_n, "dolly_diameter_mm": diameter_mm}, {"stress_mpa": stress_mpa},
                 {"stress_mpa": 5e-4})  # fmt: skip


CHECKS = [
    *from_vectors("adhesion-pull-off"),
    *from_vectors("adhesion-cross-cut"),
    Check("adhesion-pull-off", "Force over area: 20 mm dolly has 314.16 mm²", COMPUTED,
          {"force_n": 3141.5927, "dolly_diameter_mm": 20}, {"stress_mpa": 10}, {"stress_mpa": 1e-6}),
    Check("adhesion-pull-off", "ISO 4624 codes: failures at the glue are -/Y, Y and Y/Z", MEMORY,
          {"failures_pct": {"A/B": 20, "-/Y": 30, "Y": 25, "Y/Z": 25}}, {"glue_share_pct": 80}),
    cross_cut("ASTM D3359 method B: 5B none removed", STORED, {}, {"astm_d3359": "5B", "iso_2409": 0}),
    cross_cut("ASTM D3359 method B: 4B under 5 %", STORED, {"area_removed_pct": 0.1}, {"astm_d3359": "4B"}),
    cross_cut(D3359, STORED, {"dry_film_um": 125}, {"astm_method": "B (lattice)"}),
    cross_cut(D3359, STORED, {"dry_film_um": 125.1}, {"astm_method": "A (X-cut), or B with a wider spacing if agreed"}),
    cross_cut(ISO_2409, MEMORY, {"dry_film_um": 60}, {"iso_spacing_mm": 1}),
    cross_cut(ISO_2409, MEMORY, {"dry_film_um": 60, "substrate": "soft"}, {"iso_spacing_mm": 2}),
    cross_cut(ISO_2409, MEMORY, {"dry_film_um": 120}, {"iso_spacing_mm": 2}),
    cross_cut(ISO_2409, MEMORY, {"dry_film_um": 250}, {"iso_spacing_mm": 3}),
    pulls(NORSOK, MEMORY, [5, 9, 7], {"qualification_mpa": 10}, "pass"),
    pulls(NORSOK, MEMORY, [5, 9, 7], {"qualification_mpa": 10.1}, "fail"),
    pulls(NORSOK, MEMORY, [4.99, 9, 7], {}, "fail"),
    pulls("Number of tests: declared (ASTM D4541 fixes none)", STORED, [9, 7], {}, "incomplete"),
    pulls("Number of tests: declared (ASTM D4541 fixes none)", STORED, [9, 7], {"fewest_tests": 2}, "pass"),
    pulls("Number of tests: declared; a low one fails alone", COMMON, [4.9, 7], {}, "fail"),
    Check("adhesion-pull-off-set", GLUE_25, STORED,
          {"tests": [{"stress_mpa": 1, "glue_share_pct": 26}, *({"stress_mpa": 7},) * 3], **GLUE_LIMIT},
          {"verdict": "pass", "repeat_tests": [0], "lowest_mpa": 7, "mean_mpa": 7, "valid_tests": 3}),
    Check("adhesion-pull-off-set", GLUE_25, STORED,
          {"tests": [{"stress_mpa": 1, "glue_share_pct": 25}, *({"stress_mpa": 7},) * 3], **GLUE_LIMIT},
          {"verdict": "fail", "repeat_tests": [], "lowest_mpa": 1, "mean_mpa": 5.5}),
    Check("adhesion-pull-off-set", "Three tests that are no result neither pass nor fail", COMMON,
          {"tests": [{"stress_mpa": stress, "glue_share_pct": 90} for stress in (1, 2, 3)], **GLUE_LIMIT},
          {"verdict": "incomplete", "repeat_tests": [0, 1, 2], "valid_tests": 0}),
    Check("adhesion-pull-off-set", "Y 100 %, 8 MPa, limit 5 MPa: at least 8 MPa, not a failure of the paint", COMMON,
          {"tests": [{"stress_mpa": 8, "glue_share_pct": 100}], **GLUE_LIMIT, "fewest_tests": 1},
          {"verdict": "pass", "repeat_tests": [], "lowest_mpa": 8}),
    strength(3000, 20, 9.549),
    strength(385, 7, 10.004),
    Check("adhesion-cross-cut", "ASTM D3359, 2002 text: 15 % stands in 3B and in 2B; ISO 2409: 2 to 15 %", STORED,
          {"area_removed_pct": 15}, {"astm_d3359": "3B or 2B (boundary)", "iso_2409": 2}),
    Check("adhesion-cross-cut", "ASTM D3359, 2002 text: 35 % stands in 2B and in 1B; ISO 2409: 3 to 35 %", STORED,
          {"area_removed_pct": 35}, {"astm_d3359": "2B or 1B (boundary)", "iso_2409": 3}),
    Check("adhesion-cross-cut", "ASTM D3359, 2002 text: 0B over 65 %; ISO 2409: 4 to 65 %", MEMORY,
          {"area_removed_pct": 65}, {"astm_d3359": "1B", "iso_2409": 4}),
    Check("adhesion-cross-cut", "ASTM D3359, 2002 text: 0B over 65 %; ISO 2409: 5 above", MEMORY,
          {"area_removed_pct": 65.1}, {"astm_d3359": "0B", "iso_2409": 5}),
    Check("adhesion-cross-cut", "ISO 2409:2020: not for films over 250 µm", STORED,
          {"area_removed_pct": 3, "dry_film_um": 260}, {"iso_2409": "not judged", "astm_d3359": "4B"}),
    Check("solvent-rub", D4752, MEMORY, {"ratings": [4, 5]}, {"verdict": "pass", "meaning": "burnished, slight"}),
    Check("solvent-rub", D4752 + "; NORSOK M-501 asks 4 or 5", MEMORY, {"ratings": [3, 5]}, {"verdict": "fail"}),
    Check("solvent-rub", D4752, MEMORY, {"ratings": [0], "double_rubs": 31}, {"lowest_rating": 0}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


def test_the_two_cross_cut_scales_run_opposite_ways():
    """ASTM D3359 and ISO 2409: similar scales, not equivalent; 5B and 0 are best."""
    answers = [calculate("adhesion-cross-cut", {"area_removed_pct": share}) for share in (0, 3, 10, 20, 50, 70)]
    assert [answer["astm_d3359"] for answer in answers] == ["5B", "4B", "3B", "2B", "1B", "0B"]
    assert [answer["iso_2409"] for answer in answers] == [0, 1, 2, 3, 4, 5]
