"""Verification of gauges, shims, and readings outside the verified range."""

from __future__ import annotations

import math
from typing import Any

import pytest

from inspection.standards import InputFault, calculate
from tests.standards.asking import faults

POINT = {"certified_um": 100, "expanded_uncertainty_um": 1, "readings_um": [100, 101]}


class TestVerification:
    def test_the_verified_range_spans_the_points(self) -> None:
        points = [POINT, {**POINT, "certified_um": 0, "readings_um": [0.2]},
                  {**POINT, "certified_um": 300, "readings_um": [301]}]  # fmt: skip
        answer = calculate("verify-gauge", {"points": points, "accuracy_pct": 2})
        assert answer["verdict"] == "pass"
        assert (answer["verified_from_um"], answer["verified_to_um"]) == (0, 300)
        assert answer["notes"] == []
        assert "mean_um" not in answer

    def test_a_failed_check_verifies_nothing(self) -> None:
        bad = {**POINT, "certified_um": 200, "readings_um": [250]}
        answer = calculate("verify-gauge", {"points": [POINT, bad], "accuracy_pct": 2})
        assert answer["verdict"] == "fail"
        assert [point["verdict"] for point in answer["points"]] == ["pass", "fail"]
        assert "verified_from_um" not in answer
        assert "verified_to_um" not in answer
        assert "suspect" in answer["notes"][0]
        assert [check["decided_by"] for check in answer["checks"]] == [[0], [1]]
        assert [check["where"] for check in answer["checks"]] == ["point 1", "point 2"]

    def test_a_gauge_that_reads_low_fails_like_one_that_reads_high(self) -> None:
        for reading in (90, 110):
            answer = calculate("verify-gauge", {**POINT, "readings_um": [reading], "accuracy_pct": 2})
            assert answer["verdict"] == "fail"
            assert answer["error_um"] == reading - 100
            assert answer["checks"][0]["observed"] == 10

    def test_one_point_is_noted_as_one(self) -> None:
        answer = calculate("verify-gauge", {**POINT, "accuracy_pct": 2})
        assert "One point only" in answer["notes"][0]
        assert answer["mean_um"] == 100.5
        assert answer["points"][0]["readings"] == 2

    @pytest.mark.parametrize(("factor", "standard"), [(2, 0.5), (1, 1), (None, 0.5)])
    def test_the_coverage_factor_gives_the_standard_uncertainty(self, factor: int | None, standard: float) -> None:
        for given in ({**POINT, "coverage_factor": factor}, {"points": [{**POINT, "coverage_factor": factor}]}):
            answer = calculate("verify-gauge", {**given, "accuracy_pct": 2})
            assert answer["points"][0]["standard_uncertainty_um"] == standard

    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"accuracy_pct": 0}, "accuracy_pct"),
            ({"certified_um": None}, "points"),
            ({"expanded_uncertainty_um": None}, "points"),
            ({"readings_um": None}, "points"),
            ({"certified_um": [50, 50]}, "expanded_uncertainty_um"),
            ({"points": [POINT]}, "certified_um"),
            ({**dict.fromkeys(POINT), "points": [POINT], "coverage_factor": 2}, "coverage_factor"),
            ({"combination": "average"}, "combination"),
        ],
    )
    def test_what_cannot_be_judged_is_refused(self, change: dict[str, Any], field: str) -> None:
        assert field in faults("verify-gauge", {**POINT, "accuracy_pct": 2, **change})

    def test_a_fixed_accuracy_is_enough(self) -> None:
        answer = calculate("verify-gauge", {**POINT, "accuracy_pct": 0, "accuracy_um": 2})
        assert answer["tolerance_um"] == pytest.approx(math.sqrt(5))

    def test_readings_outside_the_verified_range_are_flagged(self) -> None:
        given = {"verified_from_um": 100, "verified_to_um": 100, "readings_um": [95, 94.9, 105, 105.1], "margin_pct": 5}
        answer = calculate("verified-range", given)
        assert answer == {"all_within": False, "lowest_um": 95, "highest_um": 105, "flagged_indices": [1, 3]}
        assert calculate("verified-range", {**given, "margin_pct": 6})["all_within"]
        assert "verified_to_um" in faults("verified-range", {**given, "verified_to_um": 99})

    def test_scatter_says_how_many_readings(self) -> None:
        """t for 2 degrees of freedom: 4.302653 at 95 %, 2.919986 at 90 %."""
        given = {"readings_um": [126, 127, 128], "wanted_um": 0.5}
        answer = calculate("shim-readings-needed", given)
        assert answer["scatter_um"] == 1
        assert answer["readings_needed"] == math.ceil((4.302652729696142 / 0.5) ** 2) == 75
        assert answer["further_readings"] == 72
        assert answer["notes"] == ["3 trial readings used."]
        assert calculate("shim-readings-needed", {**given, "wanted_um": 10})["further_readings"] == 0
        wider = calculate("shim-readings-needed", {**given, "confidence_pct": 90})
        assert wider["good_within_um"] == pytest.approx(2.919985580353725 / math.sqrt(3))

    def test_what_no_number_of_readings_can_reach_is_refused(self) -> None:
        given = {"readings_um": [126, 127, 128], "wanted_um": 0.5}
        assert "wanted_um" in faults("shim-readings-needed", {**given, "wanted_um": 0.004})
        assert calculate("shim-readings-needed", {**given, "wanted_um": 0.0044})["readings_needed"] > 900_000
        assert "readings_um" in faults("shim-readings-needed", {**given, "readings_um": [1]})

    def test_equal_readings_hide_the_scatter(self) -> None:
        answer = calculate("shim-readings-needed", {"readings_um": [127, 127], "wanted_um": 0.5})
        assert "resolution" in answer["notes"][0]
        assert answer["readings_needed"] == 2


class TestShims:
    def choose(self, **given: Any) -> dict[str, Any]:
        usual = {"target_um": 200, "surface": "blasted", "shims_um": [125, 50, 250, 500]}
        return calculate("choose-shims", {**usual, **given})

    def test_two_points_enclose_the_expected_thickness(self) -> None:
        answer = self.choose()
        assert (answer["method"], answer["shims_um"]) == ("two-point", [125, 250])
        assert answer["adjust_on"] == "the prepared uncoated steel"
        assert answer["verify_with_um"] == 250
        assert not answer["subtract_correction"]
        assert self.choose(target_um=250)["shims_um"] == [125, 250]

    def test_one_point_when_nothing_lies_below(self) -> None:
        answer = self.choose(target_um=50)
        assert (answer["method"], answer["shims_um"]) == ("one-point", [50])
        zero = self.choose(target_um=40, shims_um=[0, 50])
        assert (zero["method"], zero["shims_um"]) == ("one-point", [50])

    def test_an_unknown_profile_is_corrected_for(self) -> None:
        answer = self.choose(profile_known=False)
        assert (answer["method"], answer["shims_um"], answer["subtract_correction"]) == ("zero", [250], True)
        assert answer["adjust_on"] == "smooth uncoated steel"
        assert "correction value" in " ".join(answer["why"])
        assert self.choose(profile_known=False, target_um=900)["shims_um"] == [500]

    def test_smooth_steel_needs_no_correction(self) -> None:
        answer = self.choose(surface="smooth")
        assert (answer["method"], answer["subtract_correction"]) == ("zero", False)
        assert self.choose(surface="smooth", profile_known=False)["subtract_correction"] is False

    def test_too_thin_shims_are_told(self) -> None:
        answer = self.choose(target_um=900)
        assert (answer["method"], answer["shims_um"]) == ("one-point", [500])
        assert "No shim reaches" in answer["why"][-1]
        assert self.choose(surface="smooth", target_um=900)["shims_um"] == [500]
        assert "No shim reaches" not in str(self.choose()["why"])
        with pytest.raises(InputFault, match="thicker than 0"):
            self.choose(shims_um=[0])

    def test_the_nearest_shim_verifies_and_the_thicker_of_two_equally_near(self) -> None:
        assert self.choose(target_um=130)["verify_with_um"] == 125
        assert self.choose(target_um=150, shims_um=[100, 200])["verify_with_um"] == 200

    def test_far_off_shims_are_named(self) -> None:
        """Own figure: further away than half the expected thickness."""
        near = self.choose()
        assert near["far_off_um"] == []
        only = self.choose(target_um=240, shims_um=[1000])
        assert (only["shims_um"], only["far_off_um"], only["verify_with_um"]) == ([1000], [1000], 1000)
        assert "Even the nearest shim lies far off" in only["why"][-1]
        wide = self.choose(target_um=240, shims_um=[25, 240, 1000], surface="blasted")
        assert (wide["far_off_um"], wide["verify_with_um"]) == ([25], 240)
        assert "A shim that adjusts lies far off" in wide["why"][-1]
        assert self.choose(target_um=200, shims_um=[100, 300])["far_off_um"] == []
        assert self.choose(target_um=40, shims_um=[0, 150])["verify_with_um"] == 150, "a zero plate is no shim"

    def test_stacked_uncertainties(self) -> None:
        given = {"shims_um": [300, 400], "expanded_uncertainty_um": [3, 4], "coverage_factor": 2.5}
        answer = calculate("shim-stack", given)
        assert (answer["stack_um"], answer["expanded_uncertainty_um"], answer["standard_uncertainty_um"]) == (700, 5, 2)
        assert answer["correlated_uncertainty_um"] == 7
        assert "expanded_uncertainty_um" in faults("shim-stack", {**given, "expanded_uncertainty_um": [3]})
        # A certificate may state standard uncertainties, which is a coverage factor of 1 (JCGM 100, 6.2.1).
        standard = calculate("shim-stack", {**given, "coverage_factor": 1})
        assert standard["standard_uncertainty_um"] == standard["expanded_uncertainty_um"]
        default = calculate("shim-stack", {"shims_um": [1], "expanded_uncertainty_um": [1]})
        assert default["standard_uncertainty_um"] == 0.5
