"""Two gauges compared, and gauge studies by analysis of variance, against published examples and statsmodels."""

from decimal import Decimal

import pandas as pd
import pytest
import statsmodels.api as sm
from statsmodels.formula.api import ols

from inspection.standards import calculate
from tests.reference.table import COMPUTED, STORED, Check, holds

EN = "ISO 13528 / ISO/IEC 17043: En = (x - X)/√(U² + U²), satisfactory to 1"
TEACHING = "AIAG MSA, 4th edition: training data of ten parts, as quoted by a public test suite"

# Three operators, three readings of ten parts; the sheet measures deviations, so 100 is added: no variance changes.
TEACHING_DATA = {
    "A": """ 0.29 -0.56 1.34 0.47 -0.80  0.02 0.59 -0.31 2.26 -1.36
             0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25
             0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31""",
    "B": """ 0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68
             0.25 -1.22 0.94 1.03 -1.20  0.22 0.55  0.08 2.12 -1.62
             0.07 -0.68 1.34 0.20 -1.28  0.06 0.83 -0.34 2.19 -1.50""",
    "C": """ 0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49
            -0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77
            -0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16""",
}


def teaching_operators():
    read = {by: [[Decimal(value) + 100 for value in line.split()] for line in text.splitlines()]
            for by, text in TEACHING_DATA.items()}  # fmt: skip
    return [{"operator": by, "parts_um": [list(part) for part in zip(*trials, strict=True)]}
            for by, trials in read.items()]  # fmt: skip


def compared(first, first_u, second, second_u, expected, **given):
    place = {"first_um": first, "first_expanded_um": first_u, "second_um": second, "second_expanded_um": second_u}
    tolerance = {"largest_en": 0.0005}
    return Check("gauges-compared", EN, STORED, {"places": [place], **given}, expected, tolerance)


def rows(answer, name, key):
    return {row[key]: row for row in answer[name]}


def study(inputs):
    answer = calculate("gauge-repeatability-reproducibility", inputs)
    shares = rows(answer, "parts", "part_of_variation")
    return {
        "squares": {name: row["sum_of_squares"] for name, row in rows(answer, "analysis", "source").items()},
        "shares": {name: row["share_of_total_variation_pct"] for name, row in shares.items()},
        "contributions": {name: row["share_of_variance_pct"] for name, row in shares.items()},
        "distinct_categories": answer["distinct_categories"],
        "grr_pct": answer["grr_pct"],
    }


CHECKS = [
    compared(102, 1.5, 100, 1.0, {"verdict": "fail", "largest_en": 1.109}),
    compared(250, 4, 254, 3, {"verdict": "pass", "largest_en": 0.8}),
    compared(105, 3, 100, 4, {"verdict": "pass", "largest_en": 1}),
    Check("gauges-compared", "JCGM 100: U = k u, so 2.25 at k = 3 is 1.5 at k = 2", COMPUTED,
          {"first_coverage_factor": 3, "places": [{"first_um": 102, "first_expanded_um": 2.25, "second_um": 100,
                                                   "second_expanded_um": 1}]},
          {"largest_en": 1.109}, {"largest_en": 0.0005}),
    Check("gauge-repeatability-reproducibility", TEACHING, STORED, {"operators": teaching_operators()},
          {"squares": {"parts": 88.3619, "operators": 3.1673, "interaction": 0.3590, "repeatability": 2.7589,
                       "total": 94.6471}}, {"squares": 5e-5}, compute=study),
    Check("gauge-repeatability-reproducibility", TEACHING + ", interaction pooled", STORED,
          {"operators": teaching_operators(), "pool_above_p": 0.25},
          {"shares": {"repeatability (equipment)": 18.42, "reproducibility (operators and interaction)": 20.90,
                      "repeatability and reproducibility": 27.86, "parts": 96.04},
           "contributions": {"repeatability and reproducibility": 7.76, "repeatability (equipment)": 3.39,
                             "reproducibility (operators and interaction)": 4.37, "parts": 92.24},
           "distinct_categories": 4}, {"shares": 0.006, "contributions": 0.006}, compute=study),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


def test_the_analysis_of_variance_agrees_with_statsmodels():
    operators = teaching_operators()
    frame = pd.DataFrame(
        (by["operator"], part, float(reading))
        for by in operators
        for part, readings in enumerate(by["parts_um"])
        for reading in readings
    )
    frame.columns = ["operator", "part", "reading"]
    theirs = sm.stats.anova_lm(ols("reading ~ C(part) * C(operator)", frame).fit())
    answer = calculate("gauge-repeatability-reproducibility", {"operators": operators})
    ours = rows(answer, "analysis", "source")
    names = {"parts": "C(part)", "operators": "C(operator)", "interaction": "C(part):C(operator)",
             "repeatability": "Residual"}  # fmt: skip
    for name, theirs_named in names.items():
        assert ours[name]["sum_of_squares"] == pytest.approx(theirs.loc[theirs_named, "sum_sq"])
        assert ours[name]["degrees_of_freedom"] == theirs.loc[theirs_named, "df"]
        assert ours[name]["mean_square"] == pytest.approx(theirs.loc[theirs_named, "mean_sq"])
    assert ours["interaction"]["f"] == pytest.approx(theirs.loc["C(part):C(operator)", "F"])
    assert ours["interaction"]["p"] == pytest.approx(theirs.loc["C(part):C(operator)", "PR(>F)"])


def test_the_components_come_back_from_simulated_gauges():
    """Variances put into random readings are found again: the mean of many studies lies near each."""
    import numpy as np

    rng = np.random.default_rng(7)
    put_in = {"repeatability (equipment)": 1.0, "reproducibility (operators and interaction)": 4.0, "parts": 100.0}
    found: dict[str, list[float]] = {name: [] for name in put_in}
    for _ in range(60):
        parts, operators = rng.normal(500, 10, 10), rng.normal(0, 2, 6)
        data = parts[None, :, None] + operators[:, None, None] + rng.normal(0, 1, (6, 10, 2))
        answer = calculate(
            "gauge-repeatability-reproducibility", {"operators": [{"parts_um": by.tolist()} for by in data]}
        )
        for row in answer["parts"]:
            if row["part_of_variation"] in found:
                found[row["part_of_variation"]].append(row["standard_deviation_um"] ** 2)
    for name, variance in put_in.items():
        scatter = np.std(found[name]) / np.sqrt(len(found[name]))
        assert abs(np.mean(found[name]) - variance) < 4 * scatter
