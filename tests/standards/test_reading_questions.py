"""Questions about readings: found where readings were made up, and asked of hardly any honest record (simulated)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from inspection.standards.reading_questions import (
    ALPHA,
    SHORTEST_RUN,
    chance_of_agreeing,
    little_scatter,
    longest_repeat,
    prints_of,
    run_to_ask_of,
    uneven_digits,
)
from tests.reference.simulate_questions import asked_of, honest

DRAW = np.random.default_rng(7)
ALONE = np.arange(150)


def film(count: int = 60, step: int = 1_000) -> np.ndarray:
    return np.rint(DRAW.normal(250_000, 12_000, count) / step).astype(np.int64) * step


def test_fewer_than_one_in_a_thousand_honest_records_is_asked_about() -> None:
    """1,500 records of 20 to 300 readings in steps of 0.1, 1 and 5 µm; 60,000 were asked about five times
    (`python -m tests.reference.simulate_questions 60000`).
    """
    assert sum(asked_of(1_500, seed=3).values()) <= 2


@pytest.mark.parametrize("start", range(0, 40, 7))
def test_a_run_of_twelve_shares_a_print_wherever_it_stands(start: int) -> None:
    one, other = film(), film()
    other[start : start + SHORTEST_RUN] = one[20 : 20 + SHORTEST_RUN]
    shared = dict(prints_of(one))
    places = [(shared[code], at) for code, at in prints_of(other) if code in shared]
    assert places
    run = longest_repeat(one, other, *places[0])
    assert (run.length, run.first, run.other_first) == (SHORTEST_RUN, 20, start)


def test_equal_readings_have_no_print_and_are_never_asked_about() -> None:
    same = np.full(50, 250_000)
    assert prints_of(same) == []
    assert run_to_ask_of(same, 10_000_000) is None
    two = np.array([250_000, 251_000] * 25)
    assert prints_of(two) == []


def test_the_run_to_ask_of_grows_with_what_it_is_held_against_and_with_the_step_of_the_display() -> None:
    fine, coarse = film(step=100), film(step=5_000)
    assert chance_of_agreeing(fine) < chance_of_agreeing(coarse) < 1
    few, many, rough = run_to_ask_of(fine, 100), run_to_ask_of(fine, 10**9), run_to_ask_of(coarse, 10**9)
    assert few is not None
    assert many is not None
    assert rough is not None
    assert SHORTEST_RUN <= few <= many < rough


def test_less_scatter_than_the_gauge_is_told_with_the_chance_of_snedecors_f() -> None:
    spots = np.repeat(np.arange(20), 3)
    invented = np.repeat(film(20, 100), 3) + np.tile([0, 100, 0], 20)
    on_standards = [[50_000, 52_100, 48_300], [250_000, 247_500, 251_900], [99_000, 101_300, 100_200]]
    found = little_scatter(invented, spots, on_standards)
    assert found is not None
    assert (found.freedom, found.gauge_freedom) == (40, 6)
    gauge = np.mean([np.var(read, ddof=1) for read in on_standards])
    within = np.mean([np.var(invented[at : at + 3], ddof=1) for at in range(0, 60, 3)])
    assert found.chance == pytest.approx(stats.f.cdf(within / gauge, 40, 6))
    assert found.chance < ALPHA
    assert little_scatter(np.repeat(film(20), 3), spots, [[50_000, 50_000, 50_000]] * 3) is None
    assert little_scatter(invented, spots, []) is None


def test_last_digits_are_told_with_their_chi_square_and_only_with_enough_scattered_readings() -> None:
    values = film(150, 1_000)
    values -= values % 10_000
    values[:20] += 3_000
    found = uneven_digits(values + np.where(ALONE % 3, 0, 5_000), ALONE)
    assert found is not None
    assert sum(found.counts) == 150
    assert found.chi_square == pytest.approx(stats.chisquare(found.counts).statistic)
    assert uneven_digits(values[:99], ALONE[:99]) is None
    close = np.rint(DRAW.normal(250_000, 3_000, 150) / 1_000).astype(np.int64) * 1_000
    assert uneven_digits(close, ALONE) is None


def test_a_display_that_changes_its_step_at_100_um_is_no_question() -> None:
    values = np.rint(DRAW.normal(100_000, 15_000, 300) / 100).astype(np.int64) * 100
    values = np.where(values >= 100_000, values // 1_000 * 1_000, values)
    assert uneven_digits(values, np.arange(300)) is None


def test_honest_readings_are_as_they_are_said_to_be() -> None:
    values, spots, checks = honest(np.random.default_rng(1), 90, 1_000)
    assert len(values) == len(spots) == 90
    assert not (values % 1_000).any()
    assert [len(read) for read in checks] == [3, 3, 3, 3]
