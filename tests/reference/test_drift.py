"""Control charts and drift fits against NIST, JCGM 100, handbooks and statsmodels."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from inspection.standards import calculate
from inspection.standards.drift import fit_line, leaves_tolerance
from tests.reference import simulate_drift
from tests.reference.table import COMMON, MEMORY, STORED, Check, from_vectors, holds

GUM_H3 = "JCGM 100:2008, H.3 thermometer (data and results in public programs)"
NORRIS = "NIST StRD, linear regression, Norris, certified values (in public test suites)"
NOINT = "NIST StRD, NoInt1 data with intercept as fitted in a public test suite: an exact line"
NATRELLA = "NBS Handbook 91 (Natrella), 5-4.1, Young's modulus against temperature (in a public test suite)"
GLANTZ = "Glantz and Slinker, 2001, table 2-1, weight against height (in a public test suite)"
VISCOSITY = "Montgomery, Introduction to Statistical Quality Control, viscosity individuals chart"
ILAC = "ILAC-G24 / OIML D 10: longer when within 80 %, shorter when outside"

THERMOMETER = {
    "x": [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511],
    "y": [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160],
}
OZONE = {
    "x": [0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
          447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
          229.2, 669.1, 448.9, 0.5],
    "y": [0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
          448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
          228.9, 668.4, 449.2, 0.2],
}  # fmt: skip
MODULUS = {
    "x": [30, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1500],
    "y": [4642, 4612, 4565, 4513, 4476, 4433, 4389, 4347, 4303, 4251, 4201, 4140, 4100, 4073, 4024, 3999],
}
WEIGHTS = {
    "x": [31, 32, 33, 34, 35, 35, 40, 41, 42, 46],
    "y": [7.8, 8.3, 7.6, 9.1, 9.6, 9.8, 11.8, 12.1, 14.7, 13.0],
}
STRAIGHT = {"x": list(range(60, 71)), "y": list(range(130, 141))}
VISCOSITIES = [33.75, 33.05, 34, 33.81, 33.46, 34.02, 33.68, 33.27, 33.49, 33.20, 33.62, 33.00, 33.54, 33.12, 33.84]


def fitted(inputs):
    """The line beneath drift-forecast, its value and uncertainty at ``at``, and the crossing of a tolerance."""
    line = fit_line([x - inputs.get("origin", 0) for x in inputs["x"]], inputs["y"])
    at = inputs.get("at", 0)
    return {
        "slope": line.slope, "slope_u": line.slope_u, "intercept": line.at(0), "intercept_u": line.u_at(0),
        "residual_s": line.residual_s, "value": line.at(at), "value_u": line.u_at(at), "t": line.slope / line.slope_u
        if line.slope_u else None,
    }  # fmt: skip


def fit(source, provenance, data, expected, tolerance, note=""):
    return Check("drift-forecast", source, provenance, data, expected, tolerance, note, compute=fitted)


def staircase(error, advice, days):
    inputs = {"method": "staircase", "errors_um": [{"date": "2026-03-02", "value": error}], "tolerance_um": 10,
              "current_interval_days": 300, "lengthen_pct": 20, "shorten_pct": 50}  # fmt: skip
    return Check("interval-advice", ILAC, MEMORY, inputs, {"advice": advice, "next_interval_days": days},
                 note="the steps are declared, not published")  # fmt: skip


CHECKS = [
    *from_vectors("drift-individuals"),
    *from_vectors("drift-ewma"),
    fit(GUM_H3, STORED, {**THERMOMETER, "origin": 20, "at": 10},
        {"intercept": -0.1712, "intercept_u": 0.0029, "slope": 0.00218, "slope_u": 0.00067, "residual_s": 0.0035,
         "value": -0.1494, "value_u": 0.0041},
        {"intercept": 5e-5, "intercept_u": 5e-5, "slope": 5e-6, "slope_u": 5e-6, "residual_s": 5e-5, "value": 6e-5,
         "value_u": 5e-5}, "correction at 30 °C, rounded inputs there"),
    fit(NORRIS, STORED, OZONE,
        {"intercept": -0.262323073774029, "intercept_u": 0.232818234301152, "slope": 1.00211681802045,
         "slope_u": 0.429796848199937e-3, "residual_s": 0.884796396144373},
        {"intercept": 1e-10, "intercept_u": 1e-11, "slope": 1e-12, "slope_u": 1e-14, "residual_s": 1e-12}),
    fit(NATRELLA, STORED, {**MODULUS, "at": 1200},
        {"slope": -0.44985482, "intercept": 4654.9846, "slope_u": 0.000025649045**0.5, "intercept_u": 19.879452**0.5,
         "residual_s": 9.277617, "value_u": 10.53**0.5},
        {"slope": 1e-7, "intercept": 1e-3, "slope_u": 1e-6, "intercept_u": 1e-3, "residual_s": 1e-4, "value_u": 0.03}),
    fit(GLANTZ, STORED, WEIGHTS, {"slope": 0.44, "intercept": -6.0, "slope_u": 0.064, "intercept_u": 2.4, "t": 6.90},
        {"slope": 0.005, "intercept": 0.05, "slope_u": 0.0005, "intercept_u": 0.05, "t": 0.05}),
    fit(NOINT, STORED, STRAIGHT, {"slope": 1, "intercept": 70, "residual_s": 0},
        {"slope": 1e-12, "intercept": 1e-9, "residual_s": 1e-9}),
    Check("drift-individuals", VISCOSITY, MEMORY, {"values": VISCOSITIES},
          {"centre": 33.52, "mean_moving_range": 0.48, "upper": 34.80, "lower": 32.24, "signals": []},
          {"centre": 0.005, "mean_moving_range": 0.005, "upper": 0.01, "lower": 0.01}, "data in a public script"),
    staircase(8.0, "lengthen", 360),
    staircase(-8.1, "keep", 300),
    staircase(10.0, "keep", 300),
    staircase(-10.1, "shorten", 150),
    Check("interval-advice", "NIST GMP 11: 10 years at most", STORED,
          {"method": "staircase", "errors_um": [{"date": "2026-03-02", "value": 0}], "tolerance_um": 10,
           "current_interval_days": 3600, "lengthen_pct": 20, "shorten_pct": 50}, {"next_interval_days": 3652}),
    Check("drift-individuals", "A value beyond three sigma gives a signal", COMMON,
          {"values": [0, 0.1, 0, -0.1, 0, 0.1, 0, 3]}, {"verdict": "fail", "signals": [7]}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


def errors(values, start=date(2024, 1, 8), every=91):
    return [{"date": (start + timedelta(days=every * i)).isoformat(), "value": v} for i, v in enumerate(values)]


def test_the_forecast_agrees_with_statsmodels():
    """Slope, its uncertainty, and the band edges at the earliest and latest day, by an independent regression."""
    values = [0.1, 0.4, 0.35, 0.8, 0.9, 1.3, 1.2]
    answer = calculate("drift-forecast", {"errors_um": errors(values), "tolerance_um": 3})
    days = 91.0 * np.arange(7)
    model = sm.OLS(values, sm.add_constant(days)).fit()
    assert answer["slope_per_year_um"] == pytest.approx(365.25 * model.params[1])
    assert answer["slope_standard_uncertainty_per_year_um"] == pytest.approx(365.25 * model.bse[1])
    assert answer["residual_standard_deviation_um"] == pytest.approx(model.scale**0.5)

    def interval(name, *, one_check):
        on = (date.fromisoformat(answer[name]) - date(2024, 1, 8)).days
        return model.get_prediction([[1.0, on]]).conf_int(obs=one_check, alpha=0.05)[0]

    assert answer["state"] == "leaves"
    a_day = 0.01
    assert interval("earliest", one_check=True)[1] == pytest.approx(3, abs=a_day)
    assert interval("latest", one_check=False)[0] == pytest.approx(3, abs=a_day)
    assert answer["earliest"] < answer["leaves_on"] < answer["latest"]


def test_the_line_has_left_by_its_latest_day_as_often_as_that_says():
    """Simulated gauges with a known drift: the 90 % band ends after the true day in about 95 % of them."""
    rng = np.random.default_rng(20261125)
    x = np.arange(0.0, 10.0)
    factor = stats.t.ppf(0.95, 8)
    covered = 0
    for _ in range(2000):
        crossing = leaves_tolerance(fit_line(x, 0.2 * x + rng.normal(0, 0.15, 10)), 4, factor, 9.0, 1e6)
        assert crossing.earliest < crossing.by_line < crossing.latest
        covered += crossing.latest >= 20
    assert covered / 2000 == pytest.approx(0.95, abs=0.015)


DOCUMENT = Path(__file__).parents[2] / "docs" / "reference" / "climate-surface-film.md"


def test_checks_fail_on_the_earliest_day_as_often_as_the_documents_say():
    """10,000 simulated gauges a row, fixed seed: a check on that day is outside in about 2.5 %, and in 5 % at most."""
    rows = simulate_drift.table()
    assert "\n".join(rows) in DOCUMENT.read_text(encoding="utf-8"), "run: python -m tests.reference.simulate_drift"
    lefts = [simulate_drift.simulate(*setting, gauges=2000) for setting in simulate_drift.SETTINGS]
    assert max(left.earliest for left in lefts) <= 6
    assert max(left.band for left in lefts) > 9, "the band of the line alone is left far more often"


def test_the_simulation_names_the_same_earliest_days_as_the_forecast_and_the_advice():
    rng = np.random.default_rng(19)
    x = 91 * np.arange(8)
    found = 0.003 * x + rng.normal(0, 0.3, (25, 8))
    days = simulate_drift.Fits.through(x, found).reaches(one_check=True)
    for values, day in zip(found, days, strict=True):
        given = {"errors_um": errors([round(float(value), 12) for value in values]), "tolerance_um": 3}
        forecast = calculate("drift-forecast", given)
        advice = calculate("interval-advice", {**given, "method": "control chart", "current_interval_days": 91})
        if forecast["state"] == "already outside":
            continue
        assert (date.fromisoformat(forecast["earliest"]) - date(2024, 1, 8)).days == day
        assert advice["next_interval_days"] == max(1, day - x[-1])


def test_scatter_that_reaches_the_tolerance_by_itself_is_named():
    given = {"errors_um": errors([2, -2.5, 2.2, -1.9, 2.4, -2.1]), "tolerance_um": 3, "method": "control chart",
             "current_interval_days": 300, "calibrated_on": "2024-01-02"}  # fmt: skip
    assert "The scatter of the checks alone" in calculate("interval-advice", given)["why"]


def test_a_gauge_without_drift_does_not_leave():
    answer = calculate("drift-forecast", {"errors_um": errors([0.5, 0.5, 0.5, 0.5]), "tolerance_um": 3})
    assert answer["state"] == "does not leave"
    assert "leaves_on" not in answer


def test_scatter_alone_may_leave_but_has_no_latest_day():
    answer = calculate("drift-forecast", {"errors_um": errors([0.5, -0.6, 0.4, -0.3, 0.2]), "tolerance_um": 3})
    assert answer["state"] == "may leave"
    assert "latest" not in answer


def test_a_gauge_drifting_down_leaves_by_the_lower_side():
    up = calculate("drift-forecast", {"errors_um": errors([0.2, 0.5, 0.6, 1.0]), "tolerance_um": 3})
    down = calculate("drift-forecast", {"errors_um": errors([-0.2, -0.5, -0.6, -1.0]), "tolerance_um": 3})
    assert [down[name] for name in ("leaves_on", "earliest", "latest")] == [
        up[name] for name in ("leaves_on", "earliest", "latest")
    ]
    assert down["slope_per_year_um"] == -up["slope_per_year_um"]


def test_a_gauge_past_its_tolerance_is_already_outside():
    answer = calculate("drift-forecast", {"errors_um": errors([1, 2, 3, 4]), "tolerance_um": 3})
    assert answer["state"] == "already outside"


@pytest.mark.parametrize("calibrated_on", [None, date(2024, 1, 1)])
def test_the_control_chart_interval_runs_from_the_calibration_to_the_earliest_day(calibrated_on):
    """Own rule. Left out, the calibration was the last check; the check's interval by an independent regression."""
    values, days = [0.2, 0.5, 0.6, 1.0], 91.0 * np.arange(4)
    given = {"errors_um": errors(values), "tolerance_um": 3, "method": "control chart", "current_interval_days": 91}
    if calibrated_on:
        given["calibrated_on"] = calibrated_on.isoformat()
    advice = calculate("interval-advice", given)
    begun = calibrated_on or date(2024, 1, 8) + timedelta(days=3 * 91)
    ends = begun + timedelta(days=advice["next_interval_days"])
    model = sm.OLS(values, sm.add_constant(days)).fit()
    x = (ends - date(2024, 1, 8)).days
    upper = [model.get_prediction([[1.0, on]]).conf_int(obs=True, alpha=0.05)[0][1] for on in (x, x + 1)]
    assert upper[0] <= 3 < upper[1]
    assert advice["advice"] == "lengthen"
