"""What must hold of uncertainty, risk, charts and interval advice, whatever is entered."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.standards import InputFault, calculate

unhurried = settings(deadline=None, derandomize=True)

readings = st.lists(st.decimals(50, 200, places=1).map(float), min_size=3, max_size=12)


def spot(values, **more):
    asked = {"of": "spot mean", "spots_um": [values], "gauge_accuracy_um": 2, "coverage_factor": 2}
    return calculate("reading-uncertainty", {**asked, **more})


@unhurried
@given(readings, st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(values, chance):
    shuffled = list(values)
    chance.shuffle(shuffled)
    assert spot(shuffled)["expanded_uncertainty_um"] == pytest.approx(spot(values)["expanded_uncertainty_um"])


@unhurried
@given(readings)
def test_uncertainty_in_mil_is_the_same_uncertainty(values):
    in_mil = calculate(
        "reading-uncertainty", {"of": "spot mean", "spots_mil": [values], "gauge_accuracy_mil": 2, "coverage_factor": 2}
    )
    in_um = calculate(
        "reading-uncertainty",
        {"of": "spot mean", "spots_um": [[round(value * 25.4, 6) for value in values]], "gauge_accuracy_um": 50.8,
         "coverage_factor": 2},
    )  # fmt: skip
    assert in_mil["expanded_uncertainty_mil"] * 25.4 == pytest.approx(in_um["expanded_uncertainty_um"], rel=1e-9)


@unhurried
@given(readings, st.decimals(0, 20, places=1).map(float))
def test_another_component_never_makes_a_result_surer(values, half_width):
    with_it = spot(values, correction_half_width_um=half_width)
    assert with_it["expanded_uncertainty_um"] >= spot(values)["expanded_uncertainty_um"]


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"of": "reading", "gauge_accuracy_um": 1}, "reading_um"),
        ({"of": "spot mean", "gauge_accuracy_um": 1}, "spots_um"),
        ({"of": "spot mean", "gauge_accuracy_um": 1, "spots_um": [[1, 2], [3, 4]]}, "spots_um"),
        ({"of": "spot mean", "gauge_accuracy_um": 1, "spots_um": [[1]]}, "spots_um"),
        ({"of": "area mean", "gauge_accuracy_um": 1, "spots_um": [[1, 2]]}, "spots_um"),
        ({"of": "spot mean", "spots_um": [[1, 2]]}, "gauge_accuracy_pct"),
        ({"of": "spot mean", "gauge_accuracy_um": 1, "spots_um": [[1, 2]], "reading_um": 5}, "reading_um"),
        ({"of": "spot mean", "gauge_accuracy_um": 1, "spots_um": [[30, 24]], "correction_um": 25}, "correction_um"),
        ({"of": "reading", "gauge_accuracy_um": 1, "reading_um": 24, "correction_um": 25}, "correction_um"),
    ],
)
def test_a_budget_that_lacks_its_ground_is_refused_by_name(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("reading-uncertainty", given_)
    assert [fault.field for fault in wrong.value.faults] == [field]


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ({"stated_as": "expanded uncertainty"}, "components[0].coverage_factor"),
        ({"stated_as": "standard uncertainty", "coverage_factor": 2}, "components[0].coverage_factor"),
        ({"stated_as": "guess"}, "components[0].stated_as"),
    ],
)
def test_a_line_of_the_budget_says_how_it_was_stated(line, field):
    with pytest.raises(InputFault) as wrong:
        calculate("uncertainty-budget", {"components": [{"name": "x", "value": 1, **line}]})
    assert [fault.field for fault in wrong.value.faults] == [field]


@unhurried
@given(st.integers(-100, 100), st.integers(-100, 100))
def test_a_value_further_inside_is_never_less_likely_to_conform(one, other):
    outer, inner = sorted((one, other))
    chances = [
        calculate("conformance-risk", {"observed": value / 10, "standard_uncertainty": 1.3, "lower_limit": 0})[
            "probability_conforming"
        ]
        for value in (outer, inner)
    ]
    assert 0 <= chances[0] <= chances[1] <= 1


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({}, "lower_limit"),
        ({"lower_limit": 5, "upper_limit": 4}, "upper_limit"),
        ({"lower_limit": 5, "standard_uncertainty": 0}, "standard_uncertainty"),
    ],
)
def test_a_risk_without_usable_limits_is_refused(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("conformance-risk", {"observed": 1, "standard_uncertainty": 1, **given_})
    assert [fault.field for fault in wrong.value.faults] == [field]


@unhurried
@given(st.lists(st.integers(-1000, 1000), min_size=2, max_size=40), st.integers(-500, 500))
def test_shifting_every_value_shifts_the_chart_with_it(values, shift):
    plain = calculate("drift-individuals", {"values": values})
    moved = calculate("drift-individuals", {"values": [value + shift for value in values]})
    for line in ("centre", "upper", "lower"):
        assert moved[line] == pytest.approx(plain[line] + shift)
    assert moved["mean_moving_range"] == plain["mean_moving_range"]
    assert moved["signals"] == plain["signals"]


@unhurried
@given(st.lists(st.decimals(-5, 5, places=2).map(float), min_size=1, max_size=40))
def test_with_all_weight_on_the_newest_value_the_average_is_the_value(values):
    answer = calculate("drift-ewma", {"values": values, "lambda": 1, "target": 0, "sigma": 1})
    assert answer["ewma"] == values
    assert (answer["upper"], answer["lower"]) == (3, -3)
    assert answer["signals"] == [index for index, value in enumerate(values) if abs(value) > 3]


def test_a_chart_needs_lambda_between_nothing_and_one():
    for weight in (0, 1.1):
        with pytest.raises(InputFault, match="lambda: must be"):
            calculate("drift-ewma", {"values": [1], "lambda": weight, "target": 0, "sigma": 1})


DATED = [{"date": f"2025-0{month}-10", "value": month / 10} for month in (1, 4, 7)]


@pytest.mark.parametrize(
    ("errors", "words"),
    [
        (DATED[:2], "at least 3"),
        ([DATED[0]] * 3, "three different days"),
        ([*DATED[:2], {"date": "2025-13-01", "value": 1}], "2024-05-31"),
        ([*DATED[:2], {"date": "2025-07-01"}], "date and a value"),
    ],
)
def test_a_forecast_needs_three_days(errors, words):
    with pytest.raises(InputFault, match=words):
        calculate("drift-forecast", {"errors_um": errors, "tolerance_um": 3})


def test_a_forecast_in_mil_gives_the_same_days():
    in_um = calculate("drift-forecast", {"errors_um": [{**e, "value": e["value"] * 25.4} for e in DATED],
                                         "tolerance_um": 76.2})  # fmt: skip
    in_mil = calculate("drift-forecast", {"errors_mil": DATED, "tolerance_mil": 3})
    assert in_mil["leaves_on"] == in_um["leaves_on"]
    assert in_mil["slope_per_year_mil"] == pytest.approx(in_um["slope_per_year_um"] / 25.4)


STAIRCASE = {"method": "staircase", "errors_um": DATED, "tolerance_um": 3, "current_interval_days": 100,
             "lengthen_pct": 20, "shorten_pct": 50}  # fmt: skip


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"lengthen_pct": None}, "lengthen_pct"),
        ({"shorten_pct": None}, "shorten_pct"),
        ({"least_days": 200, "greatest_days": 100}, "greatest_days"),
        ({"method": "control chart", "errors_um": DATED[:2]}, "errors_um"),
        ({"current_interval_days": 1.5}, "current_interval_days"),
        ({"calibrated_on": "2099-01-01"}, "calibrated_on"),
    ],
)
def test_interval_advice_names_what_is_missing(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("interval-advice", {**STAIRCASE, **given_})
    assert [fault.field for fault in wrong.value.faults] == [field]


def test_the_newest_error_decides_the_staircase_whatever_the_order():
    newest_first = sorted(DATED, key=lambda dated: dated["date"], reverse=True)
    newest_first[0] = {**newest_first[0], "value": -9}
    answer = calculate("interval-advice", {**STAIRCASE, "errors_um": newest_first, "least_days": 60})
    assert (answer["advice"], answer["next_interval_days"], answer["verdict"]) == ("shorten", 60, "fail")


def test_limits_of_risk_and_charts_are_inclusive():
    on_both = {"observed": 5, "standard_uncertainty": 1, "lower_limit": 5, "upper_limit": 5}
    assert calculate("conformance-risk", on_both)["verdict"] == "pass"
    even = {"observed": 5, "standard_uncertainty": 1, "conformance_probability_pct": 50}
    assert calculate("conformance-risk", {**even, "lower_limit": 5})["decision"] == "accept"
    assert calculate("conformance-risk", {**even, "upper_limit": 5})["decision"] == "accept"
    assert calculate("conformance-risk", {**even, "upper_limit": 4.9})["decision"] == "reject"


def test_the_advice_keeps_to_its_bounds():
    same = calculate("interval-advice", {**STAIRCASE, "least_days": 90, "greatest_days": 90})
    assert (same["next_interval_days"], same["advice"]) == (90, "shorten")
    kept = calculate("interval-advice", {**STAIRCASE, "least_days": 100, "greatest_days": 100})
    assert kept["advice"] == "keep"


CHART = {"method": "control chart", "errors_um": DATED, "tolerance_um": 3, "current_interval_days": 100}
PASSED, FAILED = {**DATED[2], "value": 1}, {**DATED[2], "value": 3.1}


@pytest.mark.parametrize("day", [[FAILED], [PASSED, FAILED]])
def test_after_a_failed_check_no_interval_is_advised_but_to_calibrate_now(day):
    """Also where a passing check of the same day comes before it, as an opening comes before a closing check."""
    answer = calculate("interval-advice", {**CHART, "errors_um": [*DATED[:2], *day], "least_days": 7})
    assert (answer["verdict"], answer["advice"]) == ("fail", "calibrate now")
    assert "next_interval_days" not in answer
    assert "check and calibrate now" in answer["why"]


def test_the_last_check_of_a_day_decides_and_an_error_at_the_limit_passes():
    settled = [*DATED[:2], FAILED, PASSED]
    assert calculate("interval-advice", {**STAIRCASE, "errors_um": settled})["verdict"] == "pass"
    at_the_limit = [*DATED[:2], {**DATED[2], "value": 3}]
    assert calculate("interval-advice", {**CHART, "errors_um": at_the_limit})["verdict"] == "pass"


def test_a_line_already_outside_is_not_taken_for_one_that_never_leaves():
    outside = [{"date": f"2026-0{month}-01", "value": value} for month, value in ((1, 2), (2, 2.9), (3, 4.2), (4, 3))]
    answer = calculate("interval-advice", {**CHART, "errors_um": outside})
    assert (answer["verdict"], answer["advice"]) == ("pass", "calibrate now")
    assert "next_interval_days" not in answer


@pytest.mark.parametrize("least", [1, 150])
def test_after_a_failed_check_the_staircase_never_lengthens(least):
    answer = calculate("interval-advice", {**STAIRCASE, "errors_um": [PASSED, FAILED], "least_days": least})
    assert answer["next_interval_days"] <= STAIRCASE["current_interval_days"]
    assert answer["advice"] != "lengthen"


@pytest.mark.parametrize("day", [[FAILED], [PASSED, FAILED]])
def test_a_forecast_after_a_failed_check_names_no_day_ahead(day):
    answer = calculate("drift-forecast", {"errors_um": [*DATED[:2], *day], "tolerance_um": 3})
    assert answer["state"] == "already outside"
    assert {"leaves_on", "earliest", "latest"}.isdisjoint(answer)
    assert "The last error lies outside the tolerance" in answer["why"]
