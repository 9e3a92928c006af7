"""Two gauges compared, gauge studies and the counts of a ballast tank: what is refused and what is said."""

from __future__ import annotations

from typing import Any

import pytest

from inspection.standards import calculate
from tests.standards.asking import checks, faults

STUDY = "gauge-repeatability-reproducibility"
PLACE = {"first_um": 100, "first_expanded_um": 3, "second_um": 102, "second_expanded_um": 4}
A, B = [[100, 101], [150, 152], [200, 203]], [[102, 101], [151, 150], [204, 201]]


def studied(*operators: list[list[float]], **given: Any) -> dict[str, Any]:
    return calculate(STUDY, {"operators": [{"parts_um": parts} for parts in operators], **given})


def test_the_place_where_two_gauges_part_is_named() -> None:
    found = checks("gauges-compared", places=[PLACE, {**PLACE, "second_um": 110}, PLACE])
    assert (found["En"]["passed"], found["En"]["decided_by"]) == (False, [1])


def test_two_gauges_without_any_uncertainty_cannot_be_compared() -> None:
    exact = {**PLACE, "first_expanded_um": 0, "second_expanded_um": 0}
    assert set(faults("gauges-compared", {"places": [PLACE, exact]})) == {"places[1].first_expanded_um"}


def test_a_comparison_in_mil_says_the_same() -> None:
    in_mil = {name.replace("_um", "_mil"): value for name, value in PLACE.items()}
    ours = calculate("gauges-compared", {"places": [in_mil]})
    assert ours["largest_en"] == pytest.approx(calculate("gauges-compared", {"places": [PLACE]})["largest_en"])
    assert ours["places"][0]["difference_mil"] == -2


@pytest.mark.parametrize(
    ("operators", "field"),
    [
        ([A], "operators"),
        ([A, B[:2]], "operators[1].parts_um"),
        ([A, [[1, 2], [3, 4], [5]]], "operators[1].parts_um"),
        ([[[1, 2]], [[1, 2]]], "operators[0].parts_um"),
        ([[[1], [2]], [[1], [2]]], "operators[0].parts_um"),
        ([[[100.1, 100.1], [100.1, 100.1]]] * 2, "operators"),
    ],
)
def test_a_study_that_is_not_balanced_or_shows_nothing_is_refused(operators: list[Any], field: str) -> None:
    assert set(faults(STUDY, {"operators": [{"parts_um": parts} for parts in operators]})) == {field}


def test_a_gauge_that_repeats_itself_exactly_has_no_number_of_categories() -> None:
    answer = studied([[1.1, 1.1], [2.3, 2.3], [3.7, 3.7]], [[1.1, 1.1], [2.3, 2.3], [3.7, 3.7]])
    assert (answer["grr_um"], answer["grr_pct"]) == (0, 0)
    assert "distinct_categories" not in answer


def test_a_negative_estimate_counts_as_none_and_is_told() -> None:
    """Cell means without any interaction, beside readings that scatter: its estimate lies below nothing."""
    answer = studied([[100, 104], [150, 154]], [[101, 103], [151, 153]])
    assert answer["notes"][0] == "The estimate for interaction came out negative and counts as none."
    assert min(row["standard_deviation_um"] for row in answer["parts"]) == 0


def test_the_interaction_is_left_out_only_above_the_declared_p() -> None:
    kept = {row["source"]: row for row in studied(A, B)["analysis"]}
    p = kept["interaction"]["p"]
    assert any(row["source"] == "interaction" for row in studied(A, B, pool_above_p=p + 0.01)["analysis"])
    pooled = {row["source"]: row for row in studied(A, B, pool_above_p=p - 0.01)["analysis"]}
    joined = kept["interaction"]["sum_of_squares"] + kept["repeatability"]["sum_of_squares"]
    assert pooled["repeatability with interaction"]["sum_of_squares"] == pytest.approx(joined)


def test_the_share_of_a_tolerance_is_six_standard_deviations_of_it() -> None:
    answer = studied(A, B, tolerance_um=60)
    assert answer["grr_of_tolerance_pct"] == pytest.approx(100 * 6 * answer["grr_um"] / 60)
    assert "judgement_of_tolerance" not in studied(A, B)


def test_a_tank_needs_a_surface_and_its_openings_their_sides() -> None:
    assert set(faults("dft-imo-counts", {})) == {"flat_m2"}
    assert set(faults("dft-imo-counts", {"openings": 2})) == {"sides_of_an_opening"}
    assert set(faults("dft-imo-counts", {"flat_m2": [5], "sides_of_an_opening": 2})) == {"openings"}


def test_each_length_counts_by_itself() -> None:
    """Three stiffeners of 2 m need two sets each; one of 6 m needs two in all."""
    three, one = (calculate("dft-imo-counts", {"stiffeners_m": lengths}) for lengths in ([2, 2, 2], [6]))
    assert (three["least_readings"], one["least_readings"]) == (12, 4)


@pytest.mark.parametrize(
    ("standard", "size", "field"),
    [
        ("IMO PSPC flat surface", {"area_m2": 12}, "flat_m2"),
        ("IMO PSPC complex area", {"area_m2": 1.2}, "complex_m2"),
        ("IMO PSPC tank boundary", {"length_m": 9.1}, "boundaries_m"),
        ("IMO PSPC stiffener", {"length_m": 9}, "stiffeners_m"),
        ("IMO PSPC primary member", {"length_m": 12}, "primary_members_m"),
    ],
)
def test_the_plan_of_one_part_and_the_count_of_a_tank_agree(standard: str, size: dict[str, Any], field: str) -> None:
    plan = calculate("sampling-plan", {"standard": standard, **size})
    assert plan["readings_required"] == calculate("dft-imo-counts", {field: list(size.values())})["least_readings"]
