"""What must hold of the cost of calibrating late, whatever is entered."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from inspection.standards import calculate
from tests.standards.asking import faults

unhurried = settings(deadline=None, derandomize=True)

DAY = date(2026, 3, 2)
PLAIN: dict[str, Any] = {
    "today": "2026-03-02", "due_on": "2026-03-31", "calibrated_on": "2026-04-30", "readings_at_stake": 4000,
    "readings_per_working_day": 150,
}  # fmt: skip
ERRORS = [{"date": "2025-04-10", "value": 0.2}, {"date": "2025-07-10", "value": 0.8},
          {"date": "2025-10-09", "value": 1.2}]  # fmt: skip


def last_outside(situation: dict[str, Any]) -> bool:
    newest = max(situation["errors_um"], key=lambda error: error["date"])
    return bool(abs(newest["value"]) > situation["tolerance_um"])


@st.composite
def situations(draw: st.DrawFn) -> dict[str, Any]:
    """A gauge that is overdue or not, with errors of past checks."""
    overdue = draw(st.integers(-400, 400))
    taken = draw(st.integers(0, 100_000))
    dates = draw(st.lists(st.integers(1, 3000), min_size=3, max_size=9, unique=True))
    values = st.decimals(-20, 20, places=2).map(float)
    return {
        "today": DAY.isoformat(),
        "due_on": (DAY - timedelta(days=overdue)).isoformat(),
        "readings_at_stake": taken,
        "readings_past_due": draw(st.integers(0, taken)) if overdue > 0 else 0,
        "readings_per_working_day": draw(st.integers(0, 5000)) / 10,
        "working_days_per_week": draw(st.integers(0, 70)) / 10,
        "errors_um": [{"date": (DAY - timedelta(days=n)).isoformat(), "value": draw(values)} for n in dates],
        "tolerance_um": draw(st.integers(1, 3000)) / 100,
        "cost_of_a_reading": draw(st.integers(0, 1000)) / 100,
    }


def on(situation: dict[str, Any], days: int) -> dict[str, Any]:
    return calculate("lateness-cost", {**situation, "calibrated_on": (DAY + timedelta(days=days)).isoformat()})


@unhurried
@given(situations(), st.integers(0, 800))
def test_what_is_expected_lies_between_what_is_certain_and_what_is_at_stake(
    situation: dict[str, Any], days: int
) -> None:
    answer = on(situation, days)
    assert 0 <= answer["certain_pct"] <= 100
    if last_outside(situation):
        assert "probability_out_of_tolerance" not in answer
        return
    assert 0 <= answer["probability_out_of_tolerance"] <= 1
    for what in ("readings", "cost"):
        near = pytest.approx(answer[f"{what}_expected"])
        assert answer[f"{what}_certain"] <= answer[f"{what}_expected"] or answer[f"{what}_certain"] == near
        assert answer[f"{what}_expected"] <= answer[f"{what}_at_stake"] or answer[f"{what}_at_stake"] == near


@unhurried
@given(situations(), st.integers(0, 400), st.integers(0, 400))
def test_waiting_longer_never_lowers_what_is_at_stake_or_certain(
    situation: dict[str, Any], days: int, more: int
) -> None:
    sooner, later = on(situation, days), on(situation, days + more)
    for name in ("readings_at_stake", "readings_certain", "days_past_due", "cost_at_stake", "cost_certain"):
        assert later[name] >= sooner[name]


@unhurried
@given(situations(), st.integers(0, 400))
def test_a_day_more_adds_the_pace_of_a_day(situation: dict[str, Any], days: int) -> None:
    today, tomorrow = on(situation, days), on(situation, days + 1)
    added = tomorrow["readings_at_stake"] - today["readings_at_stake"]
    assert added == pytest.approx(today["readings_added_per_day"], abs=1e-6)


@unhurried
@given(situations(), st.integers(0, 400))
def test_a_wider_tolerance_is_never_likelier_to_be_left(situation: dict[str, Any], days: int) -> None:
    assume(not last_outside(situation))
    wider = {**situation, "tolerance_um": situation["tolerance_um"] * 2}
    assert (
        on(wider, days)["probability_out_of_tolerance"] <= on(situation, days)["probability_out_of_tolerance"] + 1e-12
    )


def test_without_errors_only_what_is_certain_is_told() -> None:
    answer = calculate("lateness-cost", {**PLAIN, "cost_of_a_reading": 2})
    assert {"probability_out_of_tolerance", "readings_expected", "cost_expected"}.isdisjoint(answer)
    assert answer["cost_certain"] == pytest.approx(2 * 30 * 150 * 5 / 7)
    assert "Without errors of past checks" in answer["why"]


@pytest.mark.parametrize("before", [[], [{"date": "2026-01-08", "value": 0.9}]])
def test_a_last_error_outside_leaves_out_the_probability_and_says_why(before: list[dict[str, Any]]) -> None:
    """Also where a passing check of the same day comes before it."""
    failed = [*ERRORS, *before, {"date": "2026-01-08", "value": 8.56}]
    answer = calculate("lateness-cost", {**PLAIN, "errors_um": failed, "tolerance_um": 3, "cost_of_a_reading": 2})
    assert {"probability_out_of_tolerance", "readings_expected", "cost_expected"}.isdisjoint(answer)
    assert "The last error lies outside the tolerance" in answer["why"]
    settled = [*failed, {"date": "2026-01-08", "value": 1.0}]
    answer = calculate("lateness-cost", {**PLAIN, "errors_um": settled, "tolerance_um": 3})
    assert "probability_out_of_tolerance" in answer


def test_without_a_declared_cost_no_money_is_told() -> None:
    answer = calculate("lateness-cost", {**PLAIN, "errors_um": ERRORS, "tolerance_um": 3})
    assert not [name for name in answer if name.startswith("cost")]


def test_a_gauge_that_measured_nothing_has_nothing_at_stake() -> None:
    answer = calculate("lateness-cost", {**PLAIN, "readings_at_stake": 0, "readings_per_working_day": 0})
    assert (answer["readings_at_stake"], answer["certain_pct"]) == (0, 0)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"calibrated_on": "2026-03-01"}, "calibrated_on"),
        ({"calibrated_on": "2036-04-01"}, "calibrated_on"),
        ({"readings_past_due": 1}, "readings_past_due"),
        ({"due_on": "2026-02-01", "readings_past_due": 4001}, "readings_past_due"),
        ({"readings_at_stake": -1}, "readings_at_stake"),
        ({"readings_at_stake": 1.5}, "readings_at_stake"),
        ({"working_days_per_week": 8}, "working_days_per_week"),
        ({"errors_um": ERRORS}, "tolerance_um"),
        ({"tolerance_um": 3}, "errors_um"),
        ({"tolerance_um": 3, "errors_um": ERRORS[:2]}, "errors_um"),
        ({"tolerance_um": 3, "errors_um": ERRORS[:1] * 3}, "errors_um"),
        ({"tolerance_um": 3, "errors_um": [*ERRORS, {"date": "2026-03-03", "value": 1}]}, "errors_um"),
        ({"cost_of_a_reading": -1}, "cost_of_a_reading"),
    ],
)
def test_what_cannot_be_is_refused_by_name(more: dict[str, Any], field: str) -> None:
    assert list(faults("lateness-cost", {**PLAIN, **more})) == [field]
