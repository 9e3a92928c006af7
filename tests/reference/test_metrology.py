"""Uncertainty budgets and conformance risk against JCGM 100, JCGM 106, EA-4/02 and reference libraries."""

import math

import pytest
from scipy import stats
from uncertainties import ufloat

from inspection.standards import calculate
from inspection.standards.metrology import student_factor
from tests.reference.table import COMPUTED, MEMORY, STORED, Check, from_vectors, holds

GUM_H1 = "JCGM 100:2008, H.1 end gauge: u 32 nm, 16 degrees of freedom, k 2.92, U99 93 nm (figures in public programs)"
GUM_G41 = "JCGM 100:2008, G.4.1: 0.25 %, 0.57 %, 0.82 % from 10, 5, 15 readings: 1.03 %, 19.0 degrees of freedom"
GUM_443 = "JCGM 100:2008, 4.4.3: mean of twenty temperatures, s 1.489 °C, u 0.333 °C"
GUM_T = "JCGM 100:2008, table G.2: Student's t"
EA_S2 = "EA-4/02 M:2022, S2, 10 kg weight: u 29.2 mg, U 58 mg (figures in a public program)"
QUAM_A1 = "EURACHEM/CITAC QUAM:2012, example A1, calibration standard: 1002.7 ± 0.9 mg/l"
PROCESS = "Process risk values in the test suite of a national laboratory's uncertainty calculator"
GUM_TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


def line(name, value, stated_as="standard uncertainty", **more):
    return {"name": name, "value": value, "stated_as": stated_as, **more}


END_GAUGE = [
    line("standard", 75, "expanded uncertainty", coverage_factor=3, degrees_of_freedom=18),
    line("repeated observations", 13 / math.sqrt(5), degrees_of_freedom=24),
    line("comparator, random", 3.9, degrees_of_freedom=5),
    line("comparator, systematic", 20, "expanded uncertainty", coverage_factor=3, degrees_of_freedom=8),
    line("expansion difference", 1e-6, "rectangular half-width", sensitivity=50.000623e6 * 0.1, degrees_of_freedom=50),
    line("temperature difference", 0.05, "rectangular half-width", sensitivity=50.000623e6 * 11.5e-6,
         degrees_of_freedom=2),
]  # fmt: skip
WEIGHT = [
    line("standard", 45, "expanded uncertainty", coverage_factor=2),
    line("drift of the standard", 15, "rectangular half-width"),
    line("comparator, mean of three", 25 / math.sqrt(3)),
    line("eccentricity and magnetism", 10, "rectangular half-width"),
    line("air buoyancy", 10, "rectangular half-width"),
]
SOLUTION = [line("purity", 0.000058), line("mass", 0.05 / 100.28), line("volume", 0.07 / 100)]


def degrees_cut(inputs):
    answer = calculate("uncertainty-budget", inputs)
    return {**answer, "degrees": math.floor(answer["effective_degrees_of_freedom"])}


def as_mean(inputs):
    """The scatter line of a spot mean is s / √n of any readings."""
    (scatter,) = (
        part
        for part in calculate("reading-uncertainty", {"of": "spot mean", "gauge_accuracy_pct": 1, **inputs})["budget"]
        if part["evaluation"] == "A"
    )
    return {"u": scatter["standard_uncertainty_um"], "degrees": scatter["degrees_of_freedom"]}


def coverage(inputs):
    return {"k": student_factor(inputs["probability"], inputs["freedom"])}


def t_value(freedom, percent, factor):
    return Check("uncertainty-budget", GUM_T, MEMORY, {"probability": percent / 100, "freedom": freedom}, {"k": factor},
                 {"k": 0.005}, compute=coverage)  # fmt: skip


def process(mean, outside):
    inputs = {"observed": mean, "standard_uncertainty": 0.4, "lower_limit": 9, "upper_limit": 11}
    return Check("conformance-risk", PROCESS, STORED, inputs, {"probability_conforming": 1 - outside},
                 {"probability_conforming": 0.0001})  # fmt: skip


CHECKS = [
    *from_vectors("conformance-risk"),
    process(10, 0.01242),
    process(10.5, 0.10574),
    process(12, 0.99379),
    Check("conformance-risk", "Normal quantile 1.645 for 95 % one-sided", COMPUTED,
          {"observed": 105, "standard_uncertainty": 4, "lower_limit": 100}, {"guard_band": 6.58, "verdict": "pass"},
          {"guard_band": 0.001}),
    Check("uncertainty-budget", GUM_H1, STORED,
          {"components": END_GAUGE, "coverage_probability_pct": 99},
          {"combined_standard_uncertainty": 32, "coverage_factor": 2.92, "expanded_uncertainty": 93, "degrees": 16},
          {"combined_standard_uncertainty": 0.5, "coverage_factor": 0.005, "expanded_uncertainty": 1},
          "U is 2.92 × the rounded 32 nm there", compute=degrees_cut),
    Check("uncertainty-budget", GUM_G41, MEMORY,
          {"components": [line("x1", 0.25, degrees_of_freedom=9), line("x2", 0.57, degrees_of_freedom=4),
                          line("x3", 0.82, degrees_of_freedom=14)], "coverage_probability_pct": 95},
          {"combined_standard_uncertainty": 1.03, "effective_degrees_of_freedom": 19.0, "coverage_factor": 2.09},
          {"combined_standard_uncertainty": 0.005, "effective_degrees_of_freedom": 0.1, "coverage_factor": 0.02},
          "printed t is for 19"),
    Check("uncertainty-budget", EA_S2, STORED, {"components": WEIGHT, "coverage_factor": 2},
          {"combined_standard_uncertainty": 29.2, "expanded_uncertainty": 58},
          {"combined_standard_uncertainty": 0.1, "expanded_uncertainty": 0.6}, "rounded lines in the printed table"),
    Check("uncertainty-budget", QUAM_A1, MEMORY,
          {"components": [{**part, "sensitivity": 1002.7} for part in SOLUTION], "coverage_factor": 2},
          {"combined_standard_uncertainty": 0.9, "expanded_uncertainty": 1.8},
          {"combined_standard_uncertainty": 0.05, "expanded_uncertainty": 0.1}),
    Check("reading-uncertainty", GUM_443, MEMORY, {"spots_um": [GUM_TEMPERATURES]}, {"u": 0.333, "degrees": 19},
          {"u": 0.0005}, "printed with s rounded to 1.49", compute=as_mean),
    t_value(1, 95, 12.71),
    t_value(4, 95, 2.78),
    t_value(10, 95.45, 2.28),
    t_value(16, 99, 2.92),
    t_value(20, 95.45, 2.13),
    t_value(None, 95, 1.960),
    t_value(None, 99, 2.576),
    Check("reading-uncertainty", "By hand: 3 % of 100 µm is ±3 µm, rectangular 1.7321 µm", COMPUTED,
          {"of": "reading", "reading_um": 100, "gauge_accuracy_pct": 3, "coverage_factor": 2},
          {"combined_standard_uncertainty_um": 1.7321, "expanded_uncertainty_um": 3.4641},
          {"combined_standard_uncertainty_um": 0.0001, "expanded_uncertainty_um": 0.0001}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


SPOT = {
    "of": "spot mean", "spots_um": [[104, 98, 107]], "gauge_accuracy_pct": 1, "gauge_accuracy_um": 1,
    "shim_expanded_uncertainty_um": 1, "adjustment_readings_um": [250.5, 251, 249.8, 250.1], "correction_um": 25,
    "correction_half_width_um": 10, "resolution_um": 0.1, "coverage_factor": 2,
}  # fmt: skip


def test_the_budget_agrees_with_propagation_by_the_uncertainties_library():
    shim, gauge = ufloat(0, 0.5), ufloat(0, (0.01 * 103 + 1) / math.sqrt(3))
    adjustment = ufloat(0, stats.sem([250.5, 251, 249.8, 250.1]))
    correction, display = ufloat(25, 10 / math.sqrt(3)), ufloat(0, 0.05 / math.sqrt(3))
    thickness = ufloat(103, stats.sem([104, 98, 107])) + gauge + shim + adjustment + display - correction
    ours = calculate("reading-uncertainty", SPOT)
    assert ours["value_um"] == pytest.approx(thickness.n)
    assert ours["combined_standard_uncertainty_um"] == pytest.approx(thickness.s, rel=1e-12)
    assert sum(part["share_pct"] for part in ours["budget"]) == pytest.approx(100)


def test_the_scatter_of_a_reading_is_pooled_over_spots():
    """Pooled s against SciPy's residual of a one-way layout: the mean square within groups."""
    spots = [[104.0, 98, 107], [95, 99, 97, 100], [110, 104]]
    within = sum(stats.tvar(spot) * (len(spot) - 1) for spot in spots) / 6
    answer = calculate(
        "reading-uncertainty", {"of": "reading", "reading_um": 101, "spots_um": spots, "gauge_accuracy_um": 1}
    )
    scatter = answer["budget"][-1]
    assert scatter["standard_uncertainty_um"] == pytest.approx(math.sqrt(within))
    assert scatter["degrees_of_freedom"] == 6


def test_an_area_mean_is_surer_than_its_spots_but_keeps_what_is_common():
    spots = [[100, 102, 104], [98, 100, 102], [103, 105, 107], [97, 99, 101], [102, 104, 106]]
    area = calculate("reading-uncertainty", {**SPOT, "of": "area mean", "spots_um": spots})
    common = {part["name"]: part["standard_uncertainty_um"] for part in area["budget"]}
    means = [102, 100, 105, 99, 104]
    assert common["scatter of the spot means"] == pytest.approx(stats.sem(means))
    assert area["value_um"] == 102 - 25
    assert common["profile correction"] == pytest.approx(10 / math.sqrt(3))


def test_conformance_agrees_with_scipy():
    for observed in (-3, 0, 1.2, 4.9):
        answer = calculate(
            "conformance-risk",
            {"observed": observed, "standard_uncertainty": 0.7, "lower_limit": 0, "upper_limit": 5},
        )
        normal = stats.norm(observed, 0.7)
        assert answer["probability_conforming"] == pytest.approx(normal.cdf(5) - normal.cdf(0), abs=1e-12)
        assert answer["guard_band"] == pytest.approx(0.7 * stats.norm.ppf(0.95))


def test_a_value_outside_the_limit_but_inside_the_doubt_is_still_rejected():
    near = {"standard_uncertainty": 4, "lower_limit": 100}
    decisions = [calculate("conformance-risk", {"observed": value, **near})["decision"] for value in (99, 101, 107)]
    assert decisions == ["reject", "within the guard band", "accept"]
