"""The cost of calibrating late: arithmetic by hand, the probability against SciPy, statsmodels and simulation."""

from datetime import date, timedelta

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from inspection.standards import calculate
from inspection.standards.drift import fit_line
from inspection.standards.lateness import outside_probability
from tests.reference.table import COMMON, COMPUTED, MEMORY, Check, holds

BY_HAND = "Own model worked by hand: 400 readings, 70 a working day, 5 of 7 days"
GUM_T = "JCGM 100:2008, table G.2: Student's t, 95 % beyond ± 4.30 for 2, ± 3.18 for 3 degrees of freedom"
SYMMETRY = "The line meets the tolerance: out with probability one half"

DUE = date(2026, 3, 31)
# 70 readings a working day, 5 days of 7: 50 readings a calendar day.
PACE = {"readings_per_working_day": 70, "working_days_per_week": 5}
NOTHING_LATE = {"today": "2026-03-21", "due_on": "2026-03-31", "readings_at_stake": 400, **PACE}
# Mean 0, slope 1 a day, residuals -1, 3, -3, 1 about it: s² = 20 / 2, sum of squares of x about its mean 5.
# What lies beyond the limit 7 µm away, of one further check 3.5 days after the mean of the dates.
FAR_LIMIT = stats.t.cdf(-7 / (10 * (1 + 1 / 4 + 3.5**2 / 5)) ** 0.5, 2)
SCATTERED = [("2026-03-18", -2.5), ("2026-03-19", 2.5), ("2026-03-20", -2.5), ("2026-03-21", 2.5)]


def by_hand(given, expected, tolerance=None, source=BY_HAND, provenance=COMMON):
    return Check("lateness-cost", source, provenance, given, expected, tolerance or {})


def line_out(inputs):
    """Probability beneath lateness-cost, as a two-sided share of t at so many standard uncertainties of one check."""
    x, y = np.arange(inputs["count"]), np.array(inputs["wobble"], dtype=float)
    line = fit_line(list(x), list(y))
    residual = np.std(np.array(y) - np.polyval(np.polyfit(x, y, 1), x)) * (len(x) / (len(x) - 2)) ** 0.5
    tolerance = inputs["factor"] * residual * (1 + 1 / len(x)) ** 0.5
    return {"probability": outside_probability(line, tolerance, line.mean_x)}


def two_sided(count, wobble, factor, probability, near):
    given = {"count": count, "wobble": wobble, "factor": factor}
    return Check("lateness-cost", GUM_T, MEMORY, given, {"probability": probability}, {"probability": near},
                 "a line of mean 0, asked at its mean", compute=line_out)  # fmt: skip


CHECKS = [
    by_hand({**NOTHING_LATE, "calibrated_on": "2026-03-21", "cost_of_a_reading": 2.5},
            {"readings_at_stake": 400, "readings_certain": 0, "days_past_due": 0, "certain_pct": 0,
             "readings_added_per_day": 50, "cost_at_stake": 1000, "cost_certain": 0}),
    by_hand({**NOTHING_LATE, "calibrated_on": "2026-03-31"}, {"readings_at_stake": 900, "readings_certain": 0}),
    by_hand({**NOTHING_LATE, "calibrated_on": "2026-04-07", "cost_of_a_reading": 2.5},
            {"readings_at_stake": 1250, "readings_certain": 350, "days_past_due": 7, "certain_pct": 28,
             "cost_certain": 875, "cost_at_stake": 3125}),
    by_hand({**NOTHING_LATE, "today": "2026-04-10", "readings_past_due": 100, "calibrated_on": "2026-04-12"},
            {"readings_at_stake": 500, "readings_certain": 200, "days_past_due": 12, "certain_pct": 40}),
    # An exact line, 0.1 µm a day, meets 1 µm on the tenth day: within until then, outside after it.
    by_hand({**NOTHING_LATE, "calibrated_on": "2026-03-23", "tolerance_um": 1,
             "errors_um": [{"date": f"2026-03-1{n}", "value": n / 10} for n in (3, 6, 9)]},
            {"probability_out_of_tolerance": 1, "readings_expected": 500}),
    by_hand({**NOTHING_LATE, "calibrated_on": "2026-04-07", "tolerance_um": 10,
             "errors_um": [{"date": f"2026-03-1{n}", "value": n / 10} for n in (3, 6, 9)]},
            {"probability_out_of_tolerance": 0, "readings_expected": 350},
            {"probability_out_of_tolerance": 1e-12, "readings_expected": 1e-9}),
    two_sided(4, (1, -1, -1, 1), 4.30, 0.05, 2e-4),
    two_sided(5, (1, -1, 0, -1, 1), 3.18, 0.05, 2e-4),
    # The line reaches 5 µm three and a half days after the mean of the dates, where the other limit is far away.
    by_hand({**NOTHING_LATE, "calibrated_on": "2026-03-23", "tolerance_um": 3.5, "cost_of_a_reading": 2,
             "errors_um": [{"date": on, "value": value} for on, value in SCATTERED]},
            {"probability_out_of_tolerance": 0.5 + FAR_LIMIT, "readings_expected": 500 * (0.5 + FAR_LIMIT)},
            {"probability_out_of_tolerance": 1e-12, "readings_expected": 1e-9}, SYMMETRY, COMPUTED),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


VALUES = [0.1, 0.4, 0.35, 0.8, 0.9, 1.3, 1.2]
FIRST = date(2024, 1, 8)
ERRORS = [{"date": (FIRST + timedelta(days=91 * i)).isoformat(), "value": v} for i, v in enumerate(VALUES)]
LAST = FIRST + timedelta(days=91 * 6)


def probability(on, *, tolerance_um=3.0):
    answer = calculate(
        "lateness-cost",
        {"today": LAST.isoformat(), "due_on": LAST.isoformat(), "calibrated_on": on.isoformat(), "readings_at_stake": 0,
         "readings_per_working_day": 0, "errors_um": ERRORS, "tolerance_um": tolerance_um},
    )  # fmt: skip
    return answer["probability_out_of_tolerance"]


def test_the_probability_of_a_line_that_lies_outside_agrees_with_statsmodels_and_scipy():
    """Beneath lateness-cost, which tells none where the last error lies outside."""
    line = fit_line([91.0 * i for i in range(7)], VALUES)
    model = sm.OLS(VALUES, sm.add_constant(91.0 * np.arange(7))).fit()
    for days in (0, 365, 2000):
        at = model.get_prediction([[1.0, 91 * 6 + days]])
        spread = stats.t(df=5, loc=at.predicted_mean[0], scale=at.se_obs[0])
        wanted = spread.sf(0.4) + spread.cdf(-0.4)
        assert outside_probability(line, 0.4, 91 * 6 + days) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("days", [0, 30, 365, 1000, 2000])
@pytest.mark.parametrize("tolerance_um", [1.25, 1.5, 3])
def test_the_probability_agrees_with_statsmodels_and_scipy(days, tolerance_um):
    model = sm.OLS(VALUES, sm.add_constant(91.0 * np.arange(7))).fit()
    line = model.get_prediction([[1.0, 91 * 6 + days]])
    spread = stats.t(df=5, loc=line.predicted_mean[0], scale=line.se_obs[0])
    wanted = spread.sf(tolerance_um) + spread.cdf(-tolerance_um)
    assert probability(LAST + timedelta(days=days), tolerance_um=tolerance_um) == pytest.approx(wanted, abs=1e-9)


def test_on_the_days_of_the_forecast_the_probability_is_that_of_its_interval():
    """A 95 % interval of one check: 2.5 % at its beginning, one half on the day of the line."""
    forecast = calculate("drift-forecast", {"errors_um": ERRORS, "tolerance_um": 3})
    for name, share in (("earliest", 0.025), ("leaves_on", 0.5)):
        assert probability(date.fromisoformat(forecast[name])) == pytest.approx(share, abs=0.005)


def test_checks_find_gauges_outside_as_often_as_the_probability_says():
    """Simulated gauges of unknown drift, all that is known a line fitted to scattered checks (flat prior)."""
    rng = np.random.default_rng(20261125)
    x = np.arange(8.0)
    line = fit_line(list(x), list(0.2 * x + rng.normal(0, 0.3, 8)))
    at = 14.0
    s2 = line.residual_s**2 * 6 / rng.chisquare(6, 200_000)
    mean = line.mean_y + rng.normal(0, np.sqrt(s2 / 8))
    slope = line.slope + rng.normal(0, np.sqrt(s2 / line.spread))
    found = mean + slope * (at - line.mean_x) + rng.normal(0, np.sqrt(s2))
    assert outside_probability(line, 3, at) == pytest.approx(np.mean(abs(found) > 3), abs=0.005)
