"""Uncertainty budgets and conformance risk against JCGM 100, JCGM 106, EA-4/02 and reference libraries."""

import math

import numpy as np
import pytest
from scipy import optimize, stats
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
    Check("conformance-risk", "JCGM 106:2012: where u is too large for the tolerance no value is sure enough", COMPUTED,
          {"observed": 10, "standard_uncertainty": 0.55, "lower_limit": 9, "upper_limit": 11},
          {"decision": "no value is sure enough", "probability_conforming": 0.9310, "verdict": "pass"},
          {"probability_conforming": 5e-5}),
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
    Check("uncertainty-budget", GUM_T, MEMORY, {"components": [line("x", 0.07, degrees_of_freedom=2)]},
          {"coverage_factor": 4.30, "effective_degrees_of_freedom": 2},
          {"coverage_factor": 0.005, "effective_degrees_of_freedom": 1e-9}, "not 1.9999999999999996 cut to 1"),
    Check("uncertainty-budget", "JCGM 101:2008: 0.95 of the half-width of a rectangle holds 95 %", COMPUTED,
          {"components": [line("display step", 1, "rectangular half-width")]},
          {"expanded_uncertainty": 0.95, "coverage_factor": 0.95 * math.sqrt(3)},
          {"expanded_uncertainty": 1e-12, "coverage_factor": 1e-12}, "k u by the normal k would be 1.13"),
    Check("uncertainty-budget", "EA-4/02 M, S9: one dominant rectangular part, k 1.65 for 95 %", MEMORY,
          {"components": [line("indication", 0.05, "rectangular half-width"), line("reference", 0.002)]},
          {"coverage_factor": 1.65}, {"coverage_factor": 0.006}),
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


def test_whole_degrees_of_freedom_stay_whole_and_k_agrees_with_scipy():
    """n equal parts of the same degrees have n times as many (Welch and Satterthwaite); k is SciPy's t for them."""
    rng = np.random.default_rng(13)
    for _ in range(400):
        value, each, count = round(float(rng.uniform(0.001, 9)), 3), int(rng.integers(1, 40)), int(rng.integers(1, 6))
        parts = [line("x", value, degrees_of_freedom=each) for _ in range(count)]
        ours = calculate("uncertainty-budget", {"components": parts})
        assert ours["coverage_factor"] == pytest.approx(stats.t.ppf(0.975, each * count), rel=1e-12)


def test_fewer_than_one_degree_of_freedom_is_not_taken_for_one():
    half = calculate("uncertainty-budget", {"components": [line("x", 1, degrees_of_freedom=0.5)]})
    assert half["coverage_factor"] == pytest.approx(stats.t.ppf(0.975, 0.5))


@pytest.mark.parametrize("rest", [0.02, 0.1, 0.17])
def test_a_dominant_rectangle_gives_the_interval_of_the_monte_carlo_method(rest):
    """JCGM 101, 7.7: half the width of the interval that holds 95 % of the drawn values."""
    rng = np.random.default_rng(101)
    drawn = np.quantile(abs(rng.uniform(-1, 1, 400_000) + rng.normal(0, rest, 400_000)), 0.95)
    parts = [line("display step", 1, "rectangular half-width"), line("scatter", rest)]
    ours = calculate("uncertainty-budget", {"components": parts})
    assert ours["expanded_uncertainty"] == pytest.approx(drawn, abs=0.002)
    assert "display step: " in ours["notes"][0]
    assert "rectangular" in ours["notes"][0]


def test_a_dominant_rectangle_with_a_rest_of_few_degrees_is_never_made_too_sure():
    rng = np.random.default_rng(102)
    drawn = np.quantile(abs(rng.uniform(-1, 1, 400_000) + 0.15 * rng.standard_t(4, 400_000)), 0.95)
    parts = [line("display step", 1, "rectangular half-width"), line("scatter", 0.15, degrees_of_freedom=4)]
    assert drawn <= calculate("uncertainty-budget", {"components": parts})["expanded_uncertainty"] < 1.05 * drawn


def test_what_does_not_dominate_and_a_declared_factor_change_nothing():
    even = [line("a", 1, "rectangular half-width"), line("b", 0.31 / math.sqrt(3))]
    plain = calculate("uncertainty-budget", {"components": even})
    assert (plain["notes"], plain["coverage_factor"]) == ([], pytest.approx(stats.norm.ppf(0.975)))
    declared = calculate("uncertainty-budget", {"components": even[:1], "coverage_factor": 2})
    assert declared["expanded_uncertainty"] == pytest.approx(2 / math.sqrt(3))
    assert "±0.95 holds 95 %" in declared["notes"][0]
    reading = calculate("reading-uncertainty", {"of": "reading", "reading_um": 100, "gauge_accuracy_um": 3})
    assert reading["expanded_uncertainty_um"] == pytest.approx(0.95 * 3)
    assert reading["notes"][0].startswith("gauge accuracy: 100 % of the variance")


def test_acceptance_limits_never_cross_and_accept_only_what_is_sure_enough():
    """JCGM 106: the guard band of two limits solved independently with SciPy; both sides of each acceptance limit."""
    rng = np.random.default_rng(106)
    for _ in range(300):
        u, width, wanted = rng.uniform(0.1, 3), rng.uniform(0.5, 8), rng.uniform(0.5, 0.995)
        limits = {"standard_uncertainty": u, "lower_limit": 5, "upper_limit": 5 + width,
                  "conformance_probability_pct": 100 * wanted}  # fmt: skip

        def sure(value, u=u, width=width, above=0.0):
            return stats.norm.cdf((5 + width - value) / u) - stats.norm.cdf((5 - value) / u) - above

        observed = 5 + rng.uniform(0, width)
        answer = calculate("conformance-risk", {**limits, "observed": observed})
        assert (answer["decision"] == "accept") is bool(sure(observed) >= wanted)
        if sure(5 + width / 2) < wanted:
            assert answer["decision"] == "no value is sure enough"
            assert "acceptance_lower" not in answer
            continue
        solved = optimize.brentq(sure, 5 - 9 * u, 5 + width / 2, args=(u, width, wanted))
        assert answer["acceptance_lower"] == pytest.approx(solved, abs=1e-9)
        assert answer["acceptance_lower"] <= answer["acceptance_upper"]


def test_one_certificate_at_any_k_gives_one_verdict():
    """JCGM 100, 6.2.1: U = k u. The same shim stated at k 1, 2 and 3, held against the uncertainties library."""
    for combination in ("root-sum-square", "sum"):
        answers = [
            calculate("verify-gauge", {"accuracy_pct": 1, "combination": combination, "certified_um": [100, 50],
                                       "expanded_uncertainty_um": [k * 0.5, k * 0.3], "coverage_factor": k,
                                       "readings_um": [152]})
            for k in (1, 2, 3)
        ]  # fmt: skip
        expanded = 2 * (ufloat(100, 0.5) + ufloat(50, 0.3)).s
        wanted = math.hypot(1.5, expanded) if combination == "root-sum-square" else 1.5 + expanded
        assert [answer["tolerance_um"] for answer in answers] == [pytest.approx(wanted)] * 3
        assert len({answer["verdict"] for answer in answers}) == 1
