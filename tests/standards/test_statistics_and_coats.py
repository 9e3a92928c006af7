"""Statistics of readings and the film of one coat: what is refused, left out or said."""

from __future__ import annotations

import pytest

from inspection.standards import calculate
from tests.standards.asking import faults

COAT = {
    "before_mean_um": 181, "before_s_um": 14, "before_count": 10, "after_mean_um": 262, "after_s_um": 20,
    "after_count": 10, "adjusted_alike": "yes",
}  # fmt: skip


def test_a_percentile_that_its_definition_does_not_give_is_named_and_never_replaced_by_an_extreme() -> None:
    answer = calculate("dft-statistics", {"readings_um": list(range(100, 118)), "percentiles_pct": [5, 50, 95, 100]})
    assert [row["percentile_pct"] for row in answer["percentiles"]] == [50]
    assert [note for note in answer["notes"] if "at least 19" in note and note.startswith(("No 5 %", "No 95 %"))]
    assert "No 100 % percentile" in answer["notes"][-1]
    enough = calculate("dft-statistics", {"readings_um": list(range(100, 119)), "percentiles_pct": [5, 95]})
    assert [row["value_um"] for row in enough["percentiles"]] == [100, 118]
    assert enough["notes"] == []


def test_one_reading_has_no_scatter_and_films_of_nothing_no_coefficient() -> None:
    one = calculate("dft-statistics", {"readings_um": [80]})
    assert {"standard_deviation_um", "coefficient_of_variation_pct", "standard_error_um"}.isdisjoint(one)
    assert "coefficient_of_variation_pct" not in calculate("dft-statistics", {"readings_um": [0, 0]})


def test_a_correction_shifts_the_mean_and_not_the_scatter_and_is_never_larger_than_a_reading() -> None:
    plain, corrected = (calculate("dft-statistics", {"readings_um": [80, 90], "correction_um": by}) for by in (0, 25))
    assert plain["mean_um"] - corrected["mean_um"] == 25
    assert plain["standard_deviation_um"] == corrected["standard_deviation_um"]
    assert faults("dft-statistics", {"readings_um": [80, 20], "correction_um": 25}) == {
        "readings_um[1]": "is smaller than the correction to subtract"
    }


def test_readings_in_mil_are_described_in_mil() -> None:
    answer = calculate("dft-statistics", {"readings_mil": [3, 4, 5], "percentiles_pct": [50]})
    assert (answer["mean_mil"], answer["standard_deviation_mil"]) == (4, pytest.approx(1))
    assert answer["percentiles"] == [{"percentile_pct": 50, "value_mil": 4}]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"before_correction_um": 25}, "after_correction_um"),
        ({"adjusted_alike": "no"}, "adjusted_alike"),
        ({"before_count": None}, "before_count"),
        ({"after_readings_um": [260, 264]}, "after_mean_um"),
        ({"before_mean_um": None, "before_s_um": None, "before_count": None}, "before_readings_um"),
        ({"before_count": 1}, "before_count"),
    ],
)
def test_a_coat_is_told_only_from_two_complete_and_like_measurements(changed: dict[str, object], field: str) -> None:
    assert field in faults("coat-by-difference", {**COAT, **changed})


def test_less_film_after_than_before_is_an_alarm_and_keeps_its_sign() -> None:
    answer = calculate("coat-by-difference", {**COAT, "after_mean_um": 176})
    assert answer["coat_um"] == -5
    assert "Less film after the coat than before" in answer["notes"][0]


def test_a_difference_lost_in_the_scatter_is_said_not_to_show_a_coat() -> None:
    told = calculate("coat-by-difference", {**COAT, "after_mean_um": 190})["notes"]
    assert "do not show that the coat is there" in told[0]
    assert calculate("coat-by-difference", COAT)["notes"] == []
