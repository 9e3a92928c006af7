"""Verification of gauges, stacked shims and how many readings are enough, against published figures and libraries."""

from __future__ import annotations

import random
import statistics
from collections.abc import Iterator

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

from inspection.standards import calculate
from tests.reference.table import COMMON, COMPUTED, MEMORY, STORED, Check, from_vectors, holds, vectors

NIST_STRD = "NIST Statistical Reference Datasets, NumAcc2 (certified mean 1.2, standard deviation 0.1)"
NUMACC2 = [1.2, *[1.1, 1.3] * 500]
T_TABLE = "NIST/SEMATECH e-Handbook 1.3.6.7.2, t-distribution, 0.975 column"
T_0975 = {2: 12.706, 3: 4.303, 5: 2.776, 11: 2.228, 21: 2.086}
"""By number of readings: critical value for that number less one."""
GUIDE = "MIL-HDBK-1110: the shim matches the expected thickness"
FACTS_POINTS = "zero, one-point and two-point adjustment (ASTM D7091)"


def gauge_vectors() -> Iterator[Check]:
    for row in vectors("verify-gauge"):
        name = "combined-accuracy" if "gauge_accuracy_pct" in row["inputs"] else "verify-gauge"
        near = {"combined_pct_root_sum_square": 0.001} if name == "combined-accuracy" else row["tolerance"]
        yield Check(name, row["source"], row["provenance"], row["inputs"], row["expected"], near, row["note"])


def spread_of(count: int) -> tuple[float, ...]:
    """Readings with mean 100 and standard deviation exactly 1 (an even count) or 1 by construction."""
    half = (count - 1) ** 0.5 / 2**0.5
    return (100 - half, 100 + half, *[100.0] * (count - 2))


def t_row(count: int, value: float) -> Check:
    within = value / count**0.5
    return Check(
        "shim-readings-needed",
        T_TABLE,
        MEMORY,
        {"readings_um": list(spread_of(count)), "wanted_um": 50},
        {"good_within_um": within, "scatter_um": 1.0},
        {"good_within_um": 0.0006, "scatter_um": 1e-9},
    )


def adjustment(given: dict[str, object], expected: dict[str, object], source: str, provenance: str) -> Check:
    return Check("choose-shims", source, provenance, {"shims_um": [50, 125, 250, 500], **given}, expected)


CHECKS = [
    *gauge_vectors(),
    *from_vectors("shim-stack"),
    Check("shim-stack", "JCGM 100: fully correlated contributions add plainly", MEMORY,
          {"shims_um": [250, 50], "expanded_uncertainty_um": [2.5, 1]}, {"correlated_uncertainty_um": 3.5}),
    Check("verify-gauge", "JCGM 100, 3-4-5 triangle: error exactly at the combined tolerance", COMPUTED,
          {"certified_um": 100, "expanded_uncertainty_um": 4, "readings_um": [105], "accuracy_pct": 3},
          {"tolerance_um": 5, "error_um": 5, "verdict": "pass"}, note="a limit exactly met is kept"),
    Check("verify-gauge", "JCGM 100, 3-4-5 triangle: a hair outside", COMPUTED,
          {"certified_um": 100, "expanded_uncertainty_um": 4, "readings_um": [105.000001], "accuracy_pct": 3},
          {"verdict": "fail"}),
    Check("verify-gauge", "plain sum of the accuracies: 3 % and 4 µm at 100 µm", COMPUTED,
          {"certified_um": 100, "expanded_uncertainty_um": 4, "readings_um": [107], "accuracy_pct": 3,
           "combination": "sum"}, {"tolerance_um": 7, "verdict": "pass"}),
    Check("verify-gauge", "plain sum of the accuracies: a hair outside", COMPUTED,
          {"certified_um": 100, "expanded_uncertainty_um": 4, "readings_um": [92.999999], "accuracy_pct": 3,
           "combination": "sum"}, {"verdict": "fail"}),
    Check("combined-accuracy", "JCGM 100:2008, 5.1.2: independent contributions add in squares; 3-4-5 triangle", MEMORY,
          {"gauge_accuracy_pct": 3, "standard_accuracy_pct": 4}, {"combined_pct_root_sum_square": 5}),
    Check("combined-accuracy", "JCGM 100:2008, 5.2.2 note 1: with correlation +1 contributions add plainly", MEMORY,
          {"gauge_accuracy_pct": 3, "standard_accuracy_pct": 4}, {"combined_pct_plain_sum": 7}),
    Check("verify-gauge", "stack of two shims, independent uncertainties in squares", COMPUTED,
          {"points": [{"certified_um": [250, 50], "expanded_uncertainty_um": [2.5, 1], "readings_um": [300]}],
           "accuracy_pct": 1}, {"points": [{"certified_um": 300, "tolerance_um": 4.0311}], "verified_from_um": 300},
          {"points": 0.0001}),
    Check("shim-readings-needed", NIST_STRD, MEMORY, {"readings_um": NUMACC2, "wanted_um": 1},
          {"mean_um": 1.2, "scatter_um": 0.1, "readings_needed": 1001}, {"scatter_um": 1e-15}),
    *(t_row(count, value) for count, value in T_0975.items()),
    Check("verified-range", "readings more than 10 % outside the shims used are flagged", COMMON,
          {"verified_from_um": 100, "verified_to_um": 300, "readings_um": [90, 89.9, 330, 330.1]},
          {"flagged_indices": [1, 3], "lowest_um": 90, "highest_um": 330, "all_within": False}),
    adjustment({"target_um": 240, "surface": "blasted", "profile_known": True},
               {"method": "two-point", "shims_um": [125, 250], "subtract_correction": False}, FACTS_POINTS, MEMORY),
    adjustment({"target_um": 40, "surface": "blasted", "profile_known": True},
               {"method": "one-point", "shims_um": [50]}, FACTS_POINTS, MEMORY),
    adjustment({"target_um": 240, "surface": "smooth"}, {"method": "zero", "verify_with_um": 250}, GUIDE, STORED),
    adjustment({"target_um": 240, "surface": "blasted", "profile_known": False},
               {"method": "zero", "adjust_on": "smooth uncoated steel", "subtract_correction": True},
               "ISO 19840 clause 7: correction values belong to a gauge adjusted on smooth steel", STORED),
    # ±5 % of 84 µS/cm is 4.2: the bound passes, a hair beyond does not.
    *(Check("check-instrument", "Conductivity meters: a standard solution each shift, within 5 %", COMMON,
            {"tolerance_pct": 5, "points": [{"reference": 84, "readings": [shown]}]}, {"verdict": verdict})
      for shown, verdict in ((88.2, "pass"), (88.21, "fail"), (79.8, "pass"), (79.79, "fail"))),
    Check("check-instrument", "Holiday detectors: set voltage against a voltmeter, within 5 %", MEMORY,
          {"tolerance_pct": 5, "points": [{"reference": 9500, "readings": [9975]}]}, {"verdict": "pass"}),
    Check("check-instrument", "By hand: half a degree either side of -2 °C", COMPUTED,
          {"tolerance": 0.5, "points": [{"reference": -2, "readings": [-2.5, -2.6]}]}, {"verdict": "fail"}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check: Check) -> None:
    holds(check)


def test_stacks_agree_with_the_uncertainties_package() -> None:
    rng = random.Random(100)
    for _ in range(200):
        shims = [round(rng.uniform(10, 500), 1) for _ in range(rng.randint(1, 6))]
        expanded = [round(rng.uniform(0.1, 5), 2) for _ in shims]
        stack = sum(ufloat(shim, u / 2) for shim, u in zip(shims, expanded, strict=True))
        ours = calculate("shim-stack", {"shims_um": shims, "expanded_uncertainty_um": expanded})
        assert ours["stack_um"] == pytest.approx(stack.nominal_value, rel=1e-12)
        assert ours["standard_uncertainty_um"] == pytest.approx(stack.std_dev, rel=1e-12)


def test_both_combinations_agree_with_the_uncertainties_package() -> None:
    """JCGM 100:2008 (clauses from memory): the library propagates independent contributions in squares (5.1.2), and
    contributions that are one and the same variable, so fully correlated, as their plain sum (5.2.2, note 1)."""
    rng = random.Random(102)
    for _ in range(200):
        certified, accuracy = round(rng.uniform(10, 1000), 1), round(rng.uniform(0.1, 5), 2)
        expanded, fixed = round(rng.uniform(0.1, 5), 2), round(rng.uniform(0, 3), 2)
        own = certified * accuracy / 100 + fixed
        same = ufloat(0, 1)
        told = {"root-sum-square": ufloat(0, own) + ufloat(0, expanded), "sum": own * same + expanded * same}
        for combination, library in told.items():
            ours = calculate(
                "verify-gauge",
                {"certified_um": certified, "expanded_uncertainty_um": expanded, "readings_um": [certified],
                 "accuracy_pct": accuracy, "accuracy_um": fixed, "combination": combination},
            )  # fmt: skip
            assert ours["tolerance_um"] == pytest.approx(library.std_dev, rel=1e-12)


def test_scatter_and_interval_agree_with_scipy() -> None:
    rng = random.Random(101)
    for _ in range(50):
        readings = [round(rng.gauss(127, 1.5), 1) for _ in range(rng.randint(3, 30))]
        ours = calculate("shim-readings-needed", {"readings_um": readings, "wanted_um": 1})
        low, high = stats.t.interval(0.95, len(readings) - 1, loc=np.mean(readings), scale=stats.sem(readings))
        assert ours["scatter_um"] == pytest.approx(statistics.stdev(readings), rel=1e-12)
        assert ours["good_within_um"] == pytest.approx((high - low) / 2, rel=1e-9)


def test_the_number_of_readings_keeps_its_promise() -> None:
    """Stein's two-stage rule: over many trials the final mean lies within the wanted interval 95 times in 100."""
    rng = np.random.default_rng(1945)
    trials = kept = 0
    for _ in range(1500):
        first = np.round(rng.normal(127, 1.5, 6), 2)
        needed = calculate("shim-readings-needed", {"readings_um": first.tolist(), "wanted_um": 1})["readings_needed"]
        everything = np.concatenate([first, rng.normal(127, 1.5, needed - 6)])
        trials, kept = trials + 1, kept + (abs(everything.mean() - 127) <= 1)
    assert kept / trials > 0.94
