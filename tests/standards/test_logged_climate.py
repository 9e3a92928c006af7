"""Shares of logged time within limits, longest breach and gaps: small logs whose answer is plain arithmetic."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from inspection.standards.climate import AirIn, air_of, condensing_c
from inspection.standards.logged_climate import Limit, Log, condensing_points_c, dew_points_c, judge_log

HOUR = 3600.0


def log(at_h: list[float], **columns: list[float]) -> Log:
    at = np.array(at_h) * HOUR
    nothing = np.full(at.size, np.nan)
    names = ("air_c", "humidity_pct", "surface_c", "logged_dew_point_c")
    return Log(at, *(np.array(columns[name]) if name in columns else nothing for name in names))


AT_MOST_85 = [Limit("humidity_pct", 85, is_least=False)]


def test_a_rising_line_is_within_up_to_where_it_crosses_and_the_limit_itself_is_within() -> None:
    judged = judge_log(log([0, 10], humidity_pct=[80, 90]), 0, 10 * HOUR, AT_MOST_85, 12 * HOUR)
    assert judged.all.within_s == pytest.approx(5 * HOUR)
    assert judged.breaches == ((5 * HOUR, 10 * HOUR),)
    flat = judge_log(log([0, 10], humidity_pct=[85, 85]), 0, 10 * HOUR, AT_MOST_85, 12 * HOUR)
    assert flat.all.within_pct == 100
    assert not flat.breaches


def test_a_gap_is_no_credit_and_no_breach_reaches_over_it() -> None:
    humid = log([0, 1, 5, 6], humidity_pct=[90, 90, 90, 90])
    judged = judge_log(humid, 0, 8 * HOUR, AT_MOST_85, HOUR)
    assert (judged.all.within_s, judged.all.outside_s, judged.all.unknown_s) == (0, 2 * HOUR, 6 * HOUR)
    assert judged.gaps == ((HOUR, 5 * HOUR), (6 * HOUR, 8 * HOUR))
    assert judged.longest_breach == (0, HOUR)
    dry = judge_log(log([0, 1, 5, 6], humidity_pct=[50] * 4), 0, 8 * HOUR, AT_MOST_85, HOUR)
    assert dry.all.within_pct == 25


def test_touching_breaches_of_different_limits_are_one_and_the_longest_is_told_with_its_beginning() -> None:
    both = log([0, 1, 2, 3, 4], humidity_pct=[90, 90, 80, 80, 80], surface_c=[20, 20, 0, 0, 20])
    limits = [*AT_MOST_85, Limit("surface_c", 10, is_least=True)]
    judged = judge_log(both, 0, 4 * HOUR, limits, HOUR)
    # Too humid until 1.5 h; steel below 10 °C from 1.5 h to 3.5 h: together without a break.
    assert judged.breaches == ((0, pytest.approx(3.5 * HOUR)),)
    assert [one.within_s / HOUR for one in judged.each] == [pytest.approx(2.5), pytest.approx(2.0)]


def test_mean_is_weighted_by_time_and_the_window_cuts_between_samples() -> None:
    air = log([0, 1, 4], air_c=[10, 20, 20])
    judged = judge_log(air, 0.5 * HOUR, 3 * HOUR, [], 4 * HOUR)
    found = judged.found["air_c"]
    # 15 to 20 in the first half hour, then two hours at 20.
    assert found.mean == pytest.approx((17.5 * 0.5 + 20 * 2) / 2.5)
    assert (found.least, found.greatest, found.least_at_s) == (pytest.approx(15), 20, 0.5 * HOUR)


def test_a_quantity_that_was_never_logged_is_unknown_throughout() -> None:
    limits = [*AT_MOST_85, Limit("margin_c", 3, is_least=True)]
    judged = judge_log(log([0, 1], humidity_pct=[50, 50]), 0, HOUR, limits, HOUR)
    assert [one.within_pct for one in judged.each] == [100, 0]
    assert (judged.all.within_s, judged.all.unknown_s) == (0, HOUR)


def test_arrays_agree_with_the_single_calculation_also_below_freezing() -> None:
    pairs = [(25, 60), (5, 90), (-5, 80), (-15, 40), (40, 20)]
    air, humidity = np.array(pairs, dtype=float).T
    dew = dew_points_c(air, humidity)
    single = [air_of(AirIn(dry_bulb_c=t, relative_humidity_pct=rh)).dew_point_c for t, rh in pairs]
    assert dew == pytest.approx(single, abs=1e-9)
    assert condensing_points_c(dew) == pytest.approx([condensing_c(each) for each in single], abs=1e-9)


@pytest.mark.parametrize("window", [(HOUR, HOUR, HOUR), (0, HOUR, 0)])
def test_a_window_or_gap_without_length_is_an_error(window: Any) -> None:
    begins, ends, gap = window
    with pytest.raises(ValueError, match="length"):
        judge_log(log([0, 1], air_c=[1, 1]), begins, ends, [], gap)
