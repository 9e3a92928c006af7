"""What the acceptance rules tell beside the verdict: what is missing, odd, repeated or outside the standard."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from inspection.fieldwork.verdicts_shown import checks_shown
from inspection.standards import calculate
from inspection.standards.result_text import as_text
from tests.standards.asking import checks, faults

GOOD = [[101, 102, 103]] * 5


class TestPa2:
    def test_it_says_what_is_still_to_measure(self) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 100, "maximum_um": 150, "spots_um": [[101, 102], *GOOD[:2]]})
        assert not answer["complete"]
        assert answer["areas"][0]["spots_missing"] == 2
        assert answer["areas"][0]["short_spot_indices"] == [0]
        assert answer["notes"] == [
            "The area: 2 spots still to measure; an area has 5 spots.",
            "The area: 1 spot has fewer than 3 gauge readings; not judged before it has them.",
        ]
        assert (answer["verdict"], answer["still_to_measure"]) == ("incomplete", 7)

    @pytest.mark.parametrize(
        ("spots", "verdict"),
        [
            ([[79]], "incomplete"),
            ([[79, 79]], "incomplete"),
            ([[79, 79, 79]], "fail"),
            ([79], "fail"),
            ([[181, 181]], "incomplete"),
            ([[181, 181, 181]], "fail"),
            ([[98, 98, 98]] * 4, "incomplete"),
            ([[98, 98, 98]] * 5, "fail"),
            ([[110, 110, 110]] * 4 + [[110, 110]], "incomplete"),
            ([110] * 5, "pass"),
        ],
    )
    def test_only_a_spot_measured_to_its_end_decides_before_the_area_is(self, spots: Any, verdict: str) -> None:
        # A spot is the mean of three readings at least (SSPC-PA 2, 2012, stored); spot limits of level 3: 80 and 180.
        answer = calculate("dft-pa2", {"minimum_um": 100, "maximum_um": 150, "spots_um": spots})
        assert answer["verdict"] == verdict
        if verdict == "incomplete":
            assert {check["passed"] for check in answer["checks"]} == {None}

    def test_areas_of_the_plan_that_are_not_measured_leave_it_incomplete(self) -> None:
        given = {"minimum_um": 100, "areas": [{"name": "north", "spots_um": GOOD}], "areas_to_measure": 3}
        answer = calculate("dft-pa2", given)
        assert (answer["verdict"], answer["areas"][0]["verdict"], answer["still_to_measure"]) == (
            "incomplete", "pass", 30,
        )  # fmt: skip
        assert answer["notes"][0] == "2 further areas of 5 spots still to measure."
        assert calculate("dft-pa2", {**given, "areas_to_measure": 1})["verdict"] == "pass"
        # Every area is judged by itself (stored): one measured to its end fails whatever the others will be.
        thin = {**given, "areas": [{"spots_um": [[98, 98, 98]] * 5}]}
        assert calculate("dft-pa2", thin)["verdict"] == "fail"

    def test_a_discarded_reading_not_repeated_leaves_its_area_incomplete(self) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 100, "spots_um": GOOD, "repeats_missing": 1})
        assert (answer["verdict"], answer["still_to_measure"]) == ("incomplete", 1)
        named = {"minimum_um": 100, "areas": [{"spots_um": GOOD, "repeats_missing": 1}]}
        assert calculate("dft-pa2", named)["verdict"] == "incomplete"
        assert "belongs to one of the areas" in faults("dft-pa2", {**named, "repeats_missing": 1})["repeats_missing"]

    def test_five_spots_of_three_readings_are_complete(self) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 100, "maximum_um": 150, "spots_um": GOOD})
        assert answer["complete"]
        assert answer["notes"] == []
        more = calculate("dft-pa2", {"minimum_um": 100, "maximum_um": 150, "spots_um": [*GOOD, [101] * 4]})
        assert more["complete"]
        assert more["areas"][0]["spots_missing"] == 0
        assert not calculate("dft-pa2", {"minimum_um": 100, "spots_um": [*GOOD, [101]]})["complete"]

    def test_an_odd_reading_is_pointed_out_and_stays_in_the_mean(self) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 100, "spots_um": [[30, 140, 130], *GOOD[1:]]})
        assert answer["odd_readings"] == [{"area": "", "spot_index": 0, "reading_index": 0, "value_um": 30}]
        assert answer["spot_means_um"][0] == 100
        assert answer["verdict"] == "pass"
        assert "1 reading lies more than half away" in answer["notes"][0]

    @pytest.mark.parametrize(
        ("spot", "odd"),
        [([40, 100, 100, 100], [0]), ([10, 20, 100, 101], [0, 1]), ([10, 20, 30, 100, 101], [0, 3, 4])],
    )
    def test_the_median_is_the_middle_reading_or_the_upper_of_two(self, spot: list[int], odd: list[int]) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 1, "spots_um": [spot]})
        assert [reading["reading_index"] for reading in answer["odd_readings"]] == odd

    def test_one_incomplete_area_leaves_all_incomplete(self) -> None:
        areas = [{"name": "upper deck", "spots_um": GOOD}, {"name": "lower deck", "spots_um": GOOD[:4]}]
        answer = calculate("dft-pa2", {"minimum_um": 100, "maximum_um": 150, "areas": areas})
        assert not answer["complete"]
        assert answer["notes"] == ["Lower deck: 1 spot still to measure; an area has 5 spots."]

    @pytest.mark.parametrize(("reading", "odd"), [(50, 0), (49.9, 1), (150, 0), (150.1, 1)])
    def test_odd_means_more_than_half_away_from_the_median(self, reading: float, odd: int) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 90, "spots_um": [[100, 100, reading]]})
        assert len(answer["odd_readings"]) == odd

    def test_the_spots_that_do_not_conform_are_named(self) -> None:
        spots = [79.9, 80, 180, 180.1, 100]
        answer = calculate("dft-pa2", {"minimum_um": 100, "maximum_um": 150, "spots_um": spots})
        assert answer["areas"][0]["nonconforming_indices"] == [0, 3]
        told = {check["name"]: check["decided_by"] for check in answer["checks"]}
        assert told == {"spot_minimum": [0], "spot_maximum": [3], "area_minimum": [], "area_maximum": []}

    def test_a_kept_limit_names_the_spot_nearest_to_it(self) -> None:
        told = checks("dft-pa2", minimum_um=100, maximum_um=150, spots_um=[110, 105, 120, 105])
        assert told["spot_minimum"]["decided_by"] == [1, 3]
        assert told["spot_maximum"]["decided_by"] == [2]

    def test_areas_are_named_and_judged_apart(self) -> None:
        areas = [{"name": "north", "spots_um": GOOD}, {"spots_um": [[99, 99, 99]] * 5}]
        answer = calculate("dft-pa2", {"minimum_um": 100, "areas": areas})
        assert [(area["name"], area["verdict"]) for area in answer["areas"]] == [("north", "pass"), ("area 2", "fail")]
        failed = [check for check in answer["checks"] if not check["passed"]]
        assert [(check["where"], check["name"]) for check in failed] == [("area 2", "area_minimum")]
        assert "spot_means_um" not in answer
        assert "area_mean_um" not in calculate("dft-pa2", {"minimum_um": 100, "areas": areas[:1]})

    def test_level_5_says_that_a_maximum_is_not_judged(self) -> None:
        answer = calculate("dft-pa2", {"level": 5, "minimum_um": 100, "maximum_um": 101, "spots_um": [[900] * 3] * 5})
        assert answer["verdict"] == "pass"
        assert answer["notes"] == ["Level 5 restricts no maximum; the specified maximum was not judged."]
        assert calculate("dft-pa2", {"level": 5, "minimum_um": 100, "spots_um": GOOD})["notes"] == []

    def test_without_a_maximum_it_says_so(self) -> None:
        answer = calculate("dft-pa2", {"minimum_um": 100, "spots_um": GOOD})
        assert answer["notes"] == ["No maximum is specified; only the minimum was judged."]
        assert {check["name"] for check in answer["checks"]} == {"spot_minimum", "area_minimum"}

    def test_one_specified_thickness_gives_a_range(self) -> None:
        answer = calculate("dft-pa2", {"target_um": 100, "spots_um": GOOD})
        assert (answer["minimum_um"], answer["maximum_um"]) == (80, 120)
        assert "only the minimum" not in str(answer["notes"])
        assert faults("dft-pa2", {"target_um": 100, "maximum_um": 150, "spots_um": GOOD}) == {
            "maximum_um": "leave out with target_um: the range is 80 % to 120 % of it"
        }
        assert "minimum_um" in faults("dft-pa2", {"target_um": 100, "minimum_um": 80, "spots_um": GOOD})

    def test_limits_and_readings_are_asked_for(self) -> None:
        assert "minimum_um" in faults("dft-pa2", {"spots_um": GOOD})
        assert "spots_um" in faults("dft-pa2", {"minimum_um": 100})
        assert "spots_um" in faults("dft-pa2", {"minimum_um": 100, "spots_um": GOOD, "areas": [{"spots_um": GOOD}]})
        assert faults("dft-pa2", {"minimum_um": 0, "spots_um": GOOD}) == {"minimum_um": "must be more than 0 µm"}

    def test_equal_limits_are_a_range_of_one_value(self) -> None:
        answer = calculate("dft-pa2", {"level": 1, "minimum_um": 100, "maximum_um": 100, "spots_um": [[100] * 3] * 5})
        assert answer["verdict"] == "pass"

    def test_the_unit_of_the_question_is_kept_in_faults(self) -> None:
        assert "maximum_mil" in faults("dft-pa2", {"minimum_mil": 5, "maximum_mil": 4, "spots_mil": [[5]]})


class TestBaseMetalReading:
    def test_fewer_than_ten_readings_are_noted(self) -> None:
        few = calculate("base-metal-reading", {"base_metal_readings_um": [10] * 9, "spot_readings_um": [110]})
        assert few["notes"] == ["9 base metal readings; the standard asks for at least 10."]
        enough = calculate("base-metal-reading", {"base_metal_readings_um": [10] * 10, "spot_readings_um": [110]})
        assert enough["notes"] == []
        assert enough["spot_mean_um"] == 100

    def test_readings_the_wrong_way_round_are_refused(self) -> None:
        told = faults("base-metal-reading", {"base_metal_readings_um": [110], "spot_readings_um": [10]})
        assert "below the base metal reading" in told["spot_readings_um"]
        same = calculate("base-metal-reading", {"base_metal_readings_um": [110], "spot_readings_um": [110]})
        assert same["spot_mean_um"] == 0

    def test_base_metal_readings_below_zero_are_told_and_never_add_to_the_film(self) -> None:
        told = faults("base-metal-reading", {"base_metal_readings_um": [-2], "spot_readings_um": [98]})
        assert "set the gauge to zero" in told["base_metal_readings_um"]
        some = calculate("base-metal-reading", {"base_metal_readings_um": [-1, *[3] * 9], "spot_readings_um": [98]})
        assert some["notes"] == ["1 base metal reading lies below zero: check the zero."]
        even = calculate("base-metal-reading", {"base_metal_readings_um": [0] * 10, "spot_readings_um": [98]})
        assert (even["spot_mean_um"], even["notes"]) == (98, [])


class TestIso19840:
    BASE = {"nominal_um": 100, "readings_um": [105] * 10}

    def test_it_counts_readings_against_the_plan(self) -> None:
        short = calculate("dft-iso19840", {**self.BASE, "area_m2": 5})
        assert (short["required_readings"], short["repeats_allowed"], short["complete"]) == (15, 3, False)
        assert short["notes"] == ["5 readings still to take; this area asks for 15."]
        enough = calculate("dft-iso19840", {**self.BASE, "area_m2": 3})
        assert enough["complete"]
        assert enough["notes"] == []
        assert "complete" not in calculate("dft-iso19840", self.BASE)

    @pytest.mark.parametrize(
        ("repeated", "passed"), [([0], True), ([1, 0], True), ([0, 0], True), ([0, 0, 0], False), ([0, 1, 2], False)]
    )
    def test_repeats_beyond_the_plan_fail(self, repeated: list[int], passed: bool) -> None:
        repeats = [{"index": index, "first_um": 70} for index in repeated]
        told = checks("dft-iso19840", **self.BASE, area_m2=3, repeats=repeats)["repeats"]
        assert told["passed"] is passed
        assert (told["limit"], told["observed"]) == (2, len(repeated))
        assert told["decided_by"] == sorted(set(repeated))

    def test_a_repeat_names_a_reading_that_exists(self) -> None:
        assert "repeats[0].index" in faults("dft-iso19840", {**self.BASE, "repeats": [{"index": 10, "first_um": 70}]})
        noted = calculate("dft-iso19840", {**self.BASE, "repeats": [{"index": 9, "first_um": 70}]})
        assert "both readings stay on record" in str(noted["notes"])
        assert "repeats" not in {check["name"] for check in noted["checks"]}

    def test_the_profile_is_not_subtracted_twice(self) -> None:
        rough = {"gauge_adjusted_on": "the rough surface"}
        told = faults("dft-iso19840", {**self.BASE, **rough, "correction_um": 25})
        assert "subtracted twice" in told["correction_um"]
        assert calculate("dft-iso19840", {**self.BASE, **rough})["verdict"] == "pass"
        smooth = calculate("dft-iso19840", {**self.BASE, "gauge_adjusted_on": "smooth steel", "correction_um": 5})
        assert smooth["verdict"] == "pass"

    def test_a_correction_larger_than_a_reading_is_refused_at_that_reading(self) -> None:
        given = {"nominal_um": 100, "readings_um": [140, 24, 141], "correction_um": 25}
        assert "less than correction_um" in faults("dft-iso19840", given)["readings_um[1]"]
        assert calculate("dft-iso19840", {**given, "readings_um": [140, 25, 141]})["lowest_um"] == 0

    def test_every_corrected_value_is_told(self) -> None:
        answer = calculate("dft-iso19840", {"nominal_um": 100, "readings_um": [124, 130, 141], "correction_um": 25})
        assert (answer["lowest_um"], answer["highest_um"], answer["readings"]) == (99, 116, 3)
        assert answer["below_nominal_indices"] == [0]
        share = checks("dft-iso19840", nominal_um=100, readings_um=[99, 100, 101, 102])[
            "fewer_than_20_pct_below_nominal"
        ]
        assert (share["observed"], share["limit"], share["unit"]) == (25, 20, "%")

    @pytest.mark.parametrize(
        ("change", "noted"),
        [
            ({"nominal_um": 39}, "not meant for a nominal thickness under 40"),
            ({"area_m2": 1000.1}, "Divide an inspection area"),
            ({"readings_um": [100] * 9 + [200.1]}, "exceeds 2 × nominal"),
            ({"nominal_um": 60, "readings_um": [60] * 9 + [180.1]}, "exceeds 3 × nominal"),
            ({"nominal_um": 60.1, "readings_um": [61] * 9 + [120.3]}, "exceeds 2 × nominal"),
            ({"area_m2": None}, "the number of readings was not judged"),
        ],
    )
    def test_it_notes_where_the_standard_ends(self, change: dict[str, Any], noted: str) -> None:
        assert noted in str(calculate("dft-iso19840", {**self.BASE, **change})["notes"])

    @pytest.mark.parametrize(
        "change",
        [
            {"nominal_um": 40, "readings_um": [50] * 10},
            {"area_m2": 1000, "readings_um": [105] * 120},
            {"readings_um": [100] * 9 + [200]},
            {"nominal_um": 60, "readings_um": [60] * 9 + [180]},
            {"readings_um": [101] * 9 + [900], "maximum_um": 901},
        ],
    )
    def test_it_notes_nothing_within_its_bounds(self, change: dict[str, Any]) -> None:
        assert calculate("dft-iso19840", {**self.BASE, "area_m2": 3, **change})["notes"] == []

    def test_below_40_um_nothing_is_judged(self) -> None:
        # Not for a nominal thickness under 40 µm: catalogue abstract of ISO 19840 (stored source).
        answer = calculate("dft-iso19840", {**self.BASE, "nominal_um": 39.9})
        assert (answer["verdict"], answer["checks"]) == ("not judged", [])
        assert calculate("dft-iso19840", {**self.BASE, "nominal_um": 40})["verdict"] == "pass"

    @pytest.mark.parametrize(
        ("readings", "verdict"),
        [
            ([98] * 5, "incomplete"),
            ([98] * 30, "fail"),
            ([110] * 5, "incomplete"),
            ([110] * 30, "pass"),
            ([110, 80], "incomplete"),
            ([110, 79.9], "fail"),
            ([110, 300.1], "fail"),
        ],
    )
    def test_of_30_readings_only_a_value_beyond_its_limits_decides_early(
        self, readings: list[float], verdict: str
    ) -> None:
        # 30 readings to 100 m² (6.1, stored); each at least 80 %, each at most the agreed maximum (9, stored).
        given = {"nominal_um": 100, "maximum_um": 300, "area_m2": 100, "readings_um": readings}
        answer = calculate("dft-iso19840", given)
        assert (answer["verdict"], answer["still_to_measure"]) == (verdict, 30 - len(readings))
        if verdict == "incomplete":
            assert {check["passed"] for check in answer["checks"]} == {None}

    @pytest.mark.parametrize(("count", "verdict"), [(1, "incomplete"), (4, "incomplete"), (5, "pass")])
    def test_without_an_area_the_smallest_plan_is_the_least(self, count: int, verdict: str) -> None:
        answer = calculate("dft-iso19840", {"nominal_um": 100, "readings_um": [105] * count})
        assert (answer["verdict"], answer["still_to_measure"]) == (verdict, 5 - count)

    def test_a_point_measured_again_and_again_uses_up_the_repeats(self) -> None:
        # At most one of five readings may be repeated (6.1, from memory); 100, 150 and 155 came before 210.
        repeats = [{"index": 0, "first_um": first} for first in (100, 150, 155)]
        given = {"nominal_um": 200, "area_m2": 1, "readings_um": [210] * 5}
        assert calculate("dft-iso19840", {**given, "repeats": repeats})["verdict"] == "fail"
        assert calculate("dft-iso19840", {**given, "repeats": repeats[:1]})["verdict"] == "pass"
        early = calculate("dft-iso19840", {**given, "readings_um": [210], "repeats": repeats})
        assert early["verdict"] == "fail", "what was repeated too often is not undone by further readings"

    def test_a_discarded_reading_not_repeated_leaves_it_incomplete(self) -> None:
        given = {"nominal_um": 200, "area_m2": 1, "readings_um": [210] * 5, "repeats_missing": 2}
        answer = calculate("dft-iso19840", given)
        assert (answer["verdict"], answer["still_to_measure"]) == ("incomplete", 2)

    def test_a_maximum_may_equal_nominal(self) -> None:
        given = {"nominal_um": 100, "maximum_um": 100, "readings_um": [100] * 5}
        assert calculate("dft-iso19840", given)["verdict"] == "pass"


class TestImo:
    def test_readings_below_nominal_are_named(self) -> None:
        answer = calculate("dft-imo-pspc", {"nominal_um": 320, "readings_um": [330] * 9 + [300]})
        assert (answer["readings"], answer["below_nominal"], answer["below_nominal_indices"]) == (10, 1, [9])
        told = {check["name"]: check for check in answer["checks"]}
        assert (told["share_at_nominal"]["observed"], told["share_at_nominal"]["limit"]) == (90, 90)
        assert "maximum" not in told

    def test_the_makers_maximum_is_judged_when_given(self) -> None:
        assert checks("dft-imo-pspc", nominal_um=320, maximum_um=320, readings_um=[320] * 3)["maximum"]["passed"]
        over = checks("dft-imo-pspc", nominal_um=320, maximum_um=800, readings_um=[800, 801])["maximum"]
        assert (over["passed"], over["decided_by"], over["observed"]) == (False, [1], 801)

    @pytest.mark.parametrize(
        ("given", "verdict"),
        [
            ({"readings_um": [330]}, "incomplete"),
            ({"readings_um": [330, 330]}, "incomplete"),
            ({"readings_um": [330] * 3}, "pass"),
            ({"readings_um": [330], "readings_required": 1}, "pass"),
            ({"readings_um": [300] * 5, "readings_required": 20}, "incomplete"),
            ({"readings_um": [300] * 20, "readings_required": 20}, "fail"),
            ({"readings_um": [288], "readings_required": 20}, "incomplete"),
            ({"readings_um": [287.9], "readings_required": 20}, "fail"),
            ({"readings_um": [801], "readings_required": 20, "maximum_um": 800}, "fail"),
            ({"readings_um": [330] * 20, "readings_required": 20, "repeats_missing": 1}, "incomplete"),
        ],
    )
    def test_before_all_are_taken_only_the_floor_or_the_maximum_decides(self, given: Any, verdict: str) -> None:
        # Each remaining point at or above 0.9 × nominal: MSC.215(82), definition 2.8 (stored translations).
        assert calculate("dft-imo-pspc", {"nominal_um": 320, **given})["verdict"] == verdict


class TestDeclaredRule:
    PLAN = {
        "rule": "R", "minimum_mean_um": 1, "further_m2": 10, "further_readings": 4, "readings_um": [2, 2, 2],
        "plan": [{"up_to_m2": 10, "readings": 3}, {"up_to_m2": 20, "readings": 5}],
    }  # fmt: skip

    @pytest.mark.parametrize(
        ("area", "required"), [(0.1, 3), (10, 3), (10.1, 5), (20, 5), (20.1, 9), (30, 9), (30.1, 13)]
    )
    def test_the_declared_table_is_read(self, area: float, required: int) -> None:
        answer = calculate("dft-custom", {**self.PLAN, "area_m2": area})
        assert answer["required_readings"] == required
        assert answer["complete"] is (required <= 3)
        assert (answer["verdict"], answer["still_to_measure"]) == (
            ("pass", 0) if required <= 3 else ("incomplete", required - 3)
        )
        missing = f"{required - 3} values still to measure; this area asks for {required}."
        assert answer["notes"] == ([] if required <= 3 else [missing])

    def test_with_too_few_values_only_the_limit_on_each_decides(self) -> None:
        few = {**self.PLAN, "area_m2": 20, "minimum_each_um": 1, "maximum_each_um": 9, "nominal_um": 3,
               "share_below_pct": 0, "minimum_mean_um": 3}  # fmt: skip
        assert calculate("dft-custom", few)["verdict"] == "incomplete"
        assert calculate("dft-custom", {**few, "readings_um": [0.9]})["verdict"] == "fail"
        assert calculate("dft-custom", {**few, "readings_um": [9.1]})["verdict"] == "fail"
        unknown = calculate("dft-custom", {**few, "area_m2": None, "readings_um": [2]})
        assert (unknown["verdict"], unknown["still_to_measure"]) == ("incomplete", 2)
        assert "the area decides" in unknown["notes"][0]

    def test_beyond_the_table_needs_a_continuation(self) -> None:
        short = {**self.PLAN, "further_m2": None, "further_readings": None}
        assert "beyond the sampling table" in faults("dft-custom", {**short, "area_m2": 20.1})["area_m2"]
        assert calculate("dft-custom", {**short, "area_m2": 20})["required_readings"] == 5
        assert "required_readings" not in calculate("dft-custom", short)

    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"minimum_mean_um": None}, "rule"),
            ({"readings_um": None}, "readings_um"),
            ({"spots_um": [[1]]}, "readings_um"),
            ({"nominal_um": 5}, "share_below_pct"),
            ({"share_below_pct": 5}, "nominal_um"),
            ({"further_m2": None}, "further_m2"),
            ({"further_readings": None}, "further_readings"),
            ({"plan": None}, "plan"),
            ({"plan": [{"up_to_m2": 10, "readings": 3}, {"up_to_m2": 10, "readings": 5}]}, "plan"),
            ({"plan": [{"up_to_m2": m2, "readings": 3} for m2 in (10, 10, 20)]}, "plan"),
            ({"nominal_um": 5, "share_below_pct": 100.1}, "share_below_pct"),
            ({"nominal_um": 5, "share_below_pct": -0.1}, "share_below_pct"),
            ({"maximum_mean_um": 0.5}, "maximum_mean_um"),
            ({"minimum_each_um": 3, "maximum_each_um": 2}, "maximum_each_um"),
            ({"minimum_each_um": 3, "maximum_mean_um": 2}, "maximum_mean_um"),
            ({"maximum_each_um": 0.5}, "maximum_each_um"),
        ],
    )
    def test_a_rule_that_says_nothing_or_contradicts_itself_is_refused(
        self, change: dict[str, Any], field: str
    ) -> None:
        assert field in faults("dft-custom", {**self.PLAN, **change})

    def test_the_smallest_sampling_table(self) -> None:
        table = {"plan": [{"up_to_m2": 0.001, "readings": 1}], "further_m2": 0.001, "further_readings": 1}
        answer = calculate("dft-custom", {**self.PLAN, **table, "area_m2": 0.001})
        assert answer["required_readings"] == 1
        assert calculate("dft-custom", {**self.PLAN, **table, "area_m2": 0.0011})["required_readings"] == 2
        assert "must be more than 0" in faults("dft-custom", {**self.PLAN, **table, "further_m2": 0})["further_m2"]
        assert "must be at least 1" in faults("dft-custom", {**self.PLAN, "further_readings": 0})["further_readings"]

    @pytest.mark.parametrize("share", [0, 100])
    def test_the_share_runs_from_none_to_all(self, share: int) -> None:
        given = {"rule": "R", "nominal_um": 10, "share_below_pct": share, "readings_um": [9, 9]}
        answer = calculate("dft-custom", given)
        assert answer["verdict"] == ("pass" if share == 100 else "fail")
        assert answer["checks"][0]["observed"] == 100

    @pytest.mark.parametrize("limit", ["minimum_mean_um", "maximum_mean_um", "minimum_each_um", "maximum_each_um"])
    def test_each_limit_is_enough_by_itself(self, limit: str) -> None:
        (only,) = checks("dft-custom", rule="R", readings_um=[5, 5], **{limit: 5}).values()
        assert (only["passed"], only["limit"], only["observed"]) == (True, 5, 5)
        assert only["clause"] == "declared by the project"

    def test_spot_means_are_judged_when_spots_are_given(self) -> None:
        answer = calculate("dft-custom", {"rule": "R", "minimum_each_um": 10, "spots_um": [[9, 11], [12, 12], 8]})
        assert (answer["values"], answer["lowest_um"], answer["highest_um"]) == (3, 8, 12)
        assert answer["checks"][0]["decided_by"] == [2]
        assert answer["checks"][0]["counted_in"] == "spot"
        plain = calculate("dft-custom", {"rule": "R", "minimum_each_um": 10, "readings_um": [9]})
        assert plain["checks"][0]["counted_in"] == "reading"

    @pytest.mark.parametrize(("meaning", "verdict"), [("at most", "pass"), ("fewer than", "fail")])
    def test_the_share_says_whether_it_includes_its_limit(self, meaning: str, verdict: str) -> None:
        given = {"rule": "R", "nominal_um": 10, "share_below_pct": 20, "share_meaning": meaning}
        answer = calculate("dft-custom", {**given, "readings_um": [9, 10, 10, 10, 10]})
        assert answer["verdict"] == verdict
        assert answer["below_nominal"] == 1
        assert meaning in answer["checks"][0]["sentence"]
        assert "below_nominal" not in calculate("dft-custom", {"rule": "R", "minimum_mean_um": 1, "readings_um": [9]})


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [
        ("dft-pa2", {"minimum_um": 0.001, "maximum_um": 0.001, "spots_um": [[0.001]]}, "minimum_um"),
        ("dft-pa2", {"minimum_um": 0.001, "maximum_um": 0.001, "spots_um": [[0.001]]}, "maximum_um"),
        ("dft-pa2", {"target_um": 0.001, "spots_um": [[0.001]]}, "target_um"),
        ("dft-iso19840", {"nominal_um": 0.001, "maximum_um": 0.001, "readings_um": [0.001]}, "nominal_um"),
        ("dft-iso19840", {"nominal_um": 0.001, "maximum_um": 0.001, "readings_um": [0.001]}, "maximum_um"),
        ("dft-iso19840", {"nominal_um": 1, "readings_um": [1], "area_m2": 0.001}, "area_m2"),
        ("dft-imo-pspc", {"nominal_um": 0.001, "maximum_um": 0.001, "readings_um": [0.001]}, "nominal_um"),
        ("dft-imo-pspc", {"nominal_um": 0.001, "maximum_um": 0.001, "readings_um": [0.001]}, "maximum_um"),
        ("dft-pa2-extent", {"minimum_um": 0.001, "maximum_um": 0.001, "direction_spots_um": [1]}, "minimum_um"),
        ("dft-pa2-extent", {"minimum_um": 0.001, "maximum_um": 0.001, "direction_spots_um": [1]}, "maximum_um"),
        ("dft-pa2-extent-search", {"minimum_um": 0.001, "maximum_um": 0.001}, "minimum_um"),
        ("dft-pa2-extent-search", {"minimum_um": 0.001, "maximum_um": 0.001}, "maximum_um"),
        ("dft-pa2-extent-search", {"minimum_um": 1, "step_m": 0.001}, "step_m"),
        ("sampling-plan", {"standard": "SSPC-PA 2", "area_m2": 0.001}, "area_m2"),
        ("sampling-plan", {"standard": "SSPC-PA 2", "area_ft2": 0.001}, "area_ft2"),
        ("sampling-plan", {"standard": "ISO 19840", "length_m": 0.001}, "length_m"),
        ("choose-shims", {"target_um": 0.001, "surface": "smooth", "shims_um": [50]}, "target_um"),
        ("verified-range", {"verified_from_um": 0, "verified_to_um": 0.001, "readings_um": [1]}, "verified_to_um"),
        ("shim-readings-needed", {"readings_um": [1, 1], "wanted_um": 0.001}, "wanted_um"),
    ],
)
def test_a_limit_may_be_as_small_as_wanted_but_not_nothing(name: str, given: dict[str, Any], field: str) -> None:
    calculate(name, given)
    assert "must be more than 0" in faults(name, {**given, field: 0})[field]


class TestText:
    def test_the_explanation_reads_from_verdict_to_source(self) -> None:
        given = {"minimum_um": 100, "maximum_um": 150, "spots_um": [[79.9] * 3, *GOOD[1:]]}
        told = as_text("dft-pa2", calculate("dft-pa2", given))
        assert "Verdict: fail\nRule: SSPC-PA 2, restriction level 3, 2012 to 2018 editions\n" in told
        first = (
            "1. [FAIL] Every spot mean is at least 80 % of the specified minimum.\n"
            "   limit 80 µm; observed 79.9 µm\n   decided by spot 1 (clause 9)\n"
        )
        assert first in told
        assert "Rests on:\n- SSPC-PA 2" in told
        assert "Caution: The level table is from memory" in told

    def test_indexes_count_from_one_for_the_reader(self) -> None:
        told = as_text("dft-imo-pspc", calculate("dft-imo-pspc", {"nominal_um": 320, "readings_um": [330] * 9 + [300]}))
        assert "Which readings are below nominal: 10\n" in told

    def test_mil_is_told_in_mil(self) -> None:
        told = as_text("dft-pa2", calculate("dft-pa2", {"minimum_mil": 4, "spots_mil": [[4, 5, 6]] * 5}))
        assert "limit 3.2 mil; observed 5 mil" in told
        assert "[pass] Every spot mean" in told
        assert "Area mean: 5 mil" in told
        assert "µm" not in told

    def test_an_open_check_is_told_as_open(self) -> None:
        told = as_text("dft-pa2", calculate("dft-pa2", {"minimum_um": 100, "spots_um": [[99] * 3]}))
        assert "Verdict: incomplete\n" in told
        assert told.count("[open]") == 2
        assert "[FAIL]" not in told

    @pytest.mark.parametrize("unit", ["um", "mil"])
    def test_a_value_just_beside_its_limit_is_never_told_as_the_limit(self, unit: str) -> None:
        for low, digits in ((Fraction(80) - Fraction(1, 10**7), 7), (Fraction(80) - Fraction(1, 10**25), 13)):
            given = {f"minimum_{unit}": 100, f"spots_{unit}": [[low] * 3, *[[120] * 3] * 4]}
            answer = calculate("dft-pa2", given)
            told = as_text("dft-pa2", answer)
            assert f"observed 79.{'9' * digits}" in told
            (shown,) = [one for one in checks_shown(answer, unit) if one.passed is False]
            assert shown.limit != shown.observed

    def test_a_long_list_is_cut_and_says_so(self) -> None:
        told = as_text("dft-pa2", calculate("dft-pa2", {"minimum_um": 100, "spots_um": [[101]] * 15}))
        assert "Spot means: 101, 101, 101, 101, 101, 101, 101, 101, 101, 101, 101, 101 and 3 more µm" in told


def test_a_share_just_under_a_fifth_passes_iso_19840() -> None:
    # ISO 19840:2012 clause 9: fewer than 20 % below nominal (stored source). 20 of 101 are 19.80 %: by hand.
    told = calculate("dft-iso19840", {"nominal_um": 200, "readings_um": [199] * 20 + [230] * 81})
    share = next(check for check in told["checks"] if check["name"] == "fewer_than_20_pct_below_nominal")
    assert share["observed"] == pytest.approx(2000 / 101)
    assert share["passed"]
    assert told["verdict"] == "pass"
