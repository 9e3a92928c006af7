"""Statistics of readings and the film of one coat against published examples and statistics libraries."""

import math

import numpy as np
import pytest
from scipy import stats

from inspection.standards import calculate
from tests.reference.table import COMMON, COMPUTED, STORED, Check, holds

NIST_PERCENTILE = "NIST/SEMATECH e-Handbook 7.2.6.2 (as quoted by a public test suite): 90th percentile of 12 readings"
TWELVE = [95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1772, 95.0925, 95.1990, 95.1682]
DIFFERENCE = "Difference of two means by hand: √(14²/10 + 20²/10)"
SAME_CORRECTION = "A correction subtracted both times cancels"
BEFORE = {"before_mean_um": 181, "before_s_um": 14, "before_count": 10}
AFTER = {"after_mean_um": 262, "after_s_um": 20, "after_count": 10, "adjusted_alike": "yes"}
READINGS = [231, 246, 238, 219, 252, 240, 261, 229, 244, 235, 233.5, 270]

CHECKS = [
    Check("dft-statistics", NIST_PERCENTILE, STORED, {"readings_um": TWELVE, "percentiles_pct": [90]},
          {"percentiles": [{"percentile_pct": 90, "value_um": 95.1981}]}, {"percentiles": 1e-4}),
    Check("dft-statistics", "Standard deviation, coefficient of variation by hand: 80, 100, 120", COMPUTED,
          {"readings_um": [80, 100, 120]}, {"mean_um": 100, "standard_deviation_um": 20,
                                            "coefficient_of_variation_pct": 20}),
    Check("coat-by-difference", DIFFERENCE, COMPUTED, {**BEFORE, **AFTER},
          {"coat_um": 81, "standard_uncertainty_um": 7.72}, {"standard_uncertainty_um": 0.005}),
    Check("coat-by-difference", SAME_CORRECTION, COMMON,
          {**BEFORE, **AFTER, "before_correction_um": 25, "after_correction_um": 25}, {"coat_um": 81}),
    Check("coat-by-difference", "Less after than before is told, never set to nothing", COMMON,
          {"before_readings_um": [119, 121], "after_readings_um": [114, 116], "adjusted_alike": "yes"},
          {"coat_um": -5}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


@pytest.mark.parametrize(
    ("definition", "method"),
    [
        ("rank p (n + 1)", "weibull"),
        ("rank 1 + p (n - 1)", "linear"),
        ("smallest reading with p at or below it", "inverted_cdf"),
    ],
)
def test_percentiles_agree_with_numpy_by_each_definition(definition, method):
    for wanted in (10, 12.5, 25, 50, 75, 90):
        asked = {"readings_um": READINGS, "percentiles_pct": [wanted], "percentile_definition": definition}
        found = calculate("dft-statistics", asked)["percentiles"][0]["value_um"]
        assert found == pytest.approx(np.percentile(READINGS, wanted, method=method), rel=1e-12)


def test_spread_agrees_with_scipy():
    answer = calculate("dft-statistics", {"readings_um": READINGS})
    assert answer["standard_deviation_um"] == pytest.approx(np.std(READINGS, ddof=1))
    assert answer["coefficient_of_variation_pct"] == pytest.approx(100 * stats.variation(READINGS, ddof=1))
    assert answer["standard_error_um"] == pytest.approx(stats.sem(READINGS))
    assert answer["median_um"] == np.median(READINGS)


def test_the_difference_of_means_agrees_with_scipys_welch_test():
    before, after = READINGS[:7], [reading + 80 + index for index, reading in enumerate(READINGS)]
    answer = calculate(
        "coat-by-difference", {"before_readings_um": before, "after_readings_um": after, "adjusted_alike": "yes"}
    )
    theirs = stats.ttest_ind(after, before, equal_var=False)
    assert answer["effective_degrees_of_freedom"] == pytest.approx(theirs.df)
    assert answer["coat_um"] / answer["standard_uncertainty_um"] == pytest.approx(theirs.statistic)
    whole = math.floor(theirs.df)  # JCGM 100, G.4.1 cuts the degrees of freedom to the whole number below
    assert answer["coverage_factor"] == pytest.approx(stats.t.ppf(0.975, whole))
