"""What must hold of film arithmetic, profile, salts, holiday voltages and adhesion, whatever is entered."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.standards import InputFault, calculate
from inspection.standards.result_text import as_text

ALIKE = {"observed_as": "mixed salts", "limit_as": "mixed salts"}

unhurried = settings(deadline=None, derandomize=True)

films = st.decimals(1, 3000, places=1).map(float)
solids = st.decimals("20", "100", places=1).map(float)
losses = st.decimals(0, 90, places=1).map(float)


@unhurried
@given(films, solids, losses)
def test_wet_and_dry_film_lead_back_to_each_other(dry, volume_solids, thinner):
    paint = {"volume_solids_pct": volume_solids, "thinner_pct": thinner}
    wet = calculate("wet-film", {"dry_film_um": dry, **paint})["wet_film_um"]
    assert wet >= dry
    assert calculate("wet-film", {"wet_film_um": wet, **paint})["dry_film_um"] == pytest.approx(dry, rel=1e-12)


@unhurried
@given(st.decimals(1, 100, places=1).map(float), solids)
def test_film_in_mil_is_the_same_film(dry_mil, volume_solids):
    in_mil = calculate("wet-film", {"dry_film_mil": dry_mil, "volume_solids_pct": volume_solids})
    in_um = calculate("wet-film", {"dry_film_um": round(dry_mil * 25.4, 6), "volume_solids_pct": volume_solids})
    assert in_mil["wet_film_mil"] * 25.4 == pytest.approx(in_um["wet_film_um"], rel=1e-9)


@unhurried
@given(films, solids, losses)
def test_a_loss_never_saves_paint_and_a_share_costs_more_than_a_surcharge(dry, volume_solids, loss):
    def litres(**more):
        return calculate("coverage", {"dry_film_um": dry, "volume_solids_pct": volume_solids, "area_m2": 100, **more})[
            "litres"
        ]

    theory = litres()
    surcharge, share = (litres(loss_pct=loss, loss_meaning=meaning) for meaning in ("surcharge", "share"))
    assert theory <= surcharge * (1 + 1e-12)
    assert surcharge <= share * (1 + 1e-12)


@unhurried
@given(films, solids, st.decimals(1, 5000, places=1).map(float))
def test_the_paint_expected_gives_exactly_the_specified_mean(dry, volume_solids, area):
    work = {"dry_film_um": dry, "volume_solids_pct": volume_solids, "area_m2": area, "loss_pct": 25}
    expected = calculate("paint-consumption", {**work, "used_litres": 1})["expected_litres"]
    answer = calculate("paint-consumption", {**work, "used_litres": expected})
    assert answer["implied_mean_um"] == pytest.approx(dry, rel=1e-9)
    assert answer["used_pct_of_expected"] == pytest.approx(100)


def test_a_share_of_the_whole_cannot_be_lost():
    with pytest.raises(InputFault, match=r"loss_pct: .*below 100"):
        calculate("coverage", {"dry_film_um": 100, "volume_solids_pct": 65, "loss_pct": 100})
    calculate("coverage", {"dry_film_um": 100, "volume_solids_pct": 65, "loss_pct": 100, "loss_meaning": "surcharge"})


@unhurried
@given(st.decimals(0, 300, places=1).map(float), st.sampled_from(["grit", "shot"]))
def test_the_named_grade_holds_the_profile(profile, abrasive):
    answer = calculate("profile-grade", {"profile_um": profile, "abrasive": abrasive})
    # The finest grade has no lower end and the coarsest no upper one; every other has both.
    assert {"from_um", "below_um"} & answer.keys(), answer
    assert answer.get("from_um", 0) <= profile < answer.get("below_um", math.inf)


def test_the_comparator_judges_every_place():
    asked = {"abrasive": "grit", "required_grade": "medium"}
    assert calculate("profile-comparator", {**asked, "segments": [2, 2]})["verdict"] == "pass"
    mixed = calculate("profile-comparator", {**asked, "segments": [2, 3, 1]})
    assert (mixed["verdict"], mixed["checks"][0]["decided_by"]) == ("fail", [1, 2])
    assert calculate("profile-comparator", {"abrasive": "grit", "segments": [2]})["verdict"] == "not judged"


def test_the_ends_of_the_stylus_range_belong_to_it():
    for height, verdict in ((19.9, "not judged"), (20, "pass"), (200, "pass"), (200.1, "not judged")):
        answer = calculate("profile-stylus", {"traces_um": [[height] * 5], "minimum_um": 1, "maximum_um": 300})
        assert answer["verdict"] == verdict
    few = calculate("profile-stylus", {"traces_um": [[50] * 5], "fewest_traces": 2, "minimum_um": 60})
    assert few["verdict"] == "incomplete"
    short = calculate("profile-stylus", {"traces_um": [[50] * 4], "minimum_um": 40})
    assert short["verdict"] == "not judged"


def test_three_replicas_that_disagree_have_no_mean():
    answer = calculate("profile-replica", {"heights_um": [50, 60, 70]})
    assert answer["verdict"] == "undecided"
    assert "location_mean_um" not in answer
    assert answer["next_step"].startswith("No two of three")
    two = calculate("profile-replica", {"heights_um": [50, 60]})
    assert two["next_step"] == "Take a third replica at this location."


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"gauge_readings_um": [112, 116]}, "backing_um"),
        ({"gauge_readings_um": [49, 116], "backing_um": 50}, "gauge_readings_um[0]"),
        ({"heights_um": [62, 66], "backing_um": 50}, "backing_um"),
        ({"heights_um": [62, 66], "gauge_readings_um": [112, 116]}, "gauge_readings_um"),
        ({"heights_um": [62, 66], "minimum_um": 80, "maximum_um": 70}, "maximum_um"),
        ({"heights_um": [62]}, "heights_um"),
    ],
)
def test_a_replica_that_makes_no_sense_is_refused_by_name(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("profile-replica", given_)
    assert [fault.field for fault in wrong.value.faults] == [field]


@unhurried
@given(st.integers(0, 1000), st.integers(0, 1000))
def test_salts_grow_with_conductivity(one, other):
    low, high = sorted((one, other))
    densities = [
        calculate("salts-bresle", {"conductivity_us_cm": conductivity / 10})["density_mg_m2"]
        for conductivity in (low, high)
    ]
    assert densities == sorted(densities)


def test_a_blank_above_the_extract_is_refused():
    with pytest.raises(InputFault, match="blank_us_cm: must not be above conductivity_us_cm"):
        calculate("salts-bresle", {"conductivity_us_cm": 2, "blank_us_cm": 2.1})


@unhurried
@given(films, films, st.sampled_from(["NACE SP0274", "M-sqrt-mm", "ASTM G62"]))
def test_a_thicker_film_never_asks_for_less_voltage(one, other, standard):
    volts = [
        calculate("holiday-voltage", {"dry_film_um": film, "standard": standard})["voltage_v"]
        for film in sorted((one, other))
    ]
    assert volts == sorted(volts)


def test_near_the_jump_both_branches_are_shown():
    """999 and 1001 µm differ by a factor 2.4: nothing is interpolated, and the other branch is named."""
    low, high = (calculate("holiday-voltage", {"dry_film_um": film, "standard": "M-sqrt-mm"}) for film in (999, 1001))
    assert high["voltage_v"] / low["voltage_v"] == pytest.approx(2.38, abs=0.01)
    assert low["other_branch_voltage_v"] > 2 * low["voltage_v"]
    assert high["other_branch_voltage_v"] < high["voltage_v"] / 2
    far = calculate("holiday-voltage", {"dry_film_um": 500, "standard": "M-sqrt-mm"})
    assert "other_branch_voltage_v" not in far


def test_every_row_of_the_recalled_table_has_edges_and_gaps():
    def volts(film):
        return calculate("holiday-voltage", {"dry_film_um": film, "standard": "NACE SP0188"})["voltage_v"]

    assert [volts(film) for film in (200, 280, 300, 380, 400, 500, 530, 1000, 3200, 4700)] == [
        1500, 1500, 2000, 2000, 2500, 2500, 3000, 3000, 15_000, 15_000,
    ]  # fmt: skip
    for film in (199, 281, 381.5, 510, 1010, 1020, 4701):
        with pytest.raises(InputFault, match="dry_film_um"):
            volts(film)


def test_thinnest_film_without_dielectric_strength_is_refused():
    with pytest.raises(InputFault, match="dielectric_strength_kv_per_mm: is needed"):
        calculate("holiday-voltage", {"dry_film_um": 900, "standard": "NACE SP0274", "thinnest_film_um": 800})


def test_both_methods_carry_a_caution():
    assert "wetting agent" in calculate("holiday-method", {"dry_film_um": 400})["why"]
    assert "cured" in calculate("holiday-method", {"dry_film_um": 400})["caution"]
    assert "not a permission" in calculate("holiday-method", {"dry_film_um": 900})["caution"]
    assert "508 µm" in calculate("holiday-method", {"dry_film_um": 505})["why"]


@pytest.mark.parametrize(
    ("failures", "field", "words"),
    [
        ({"B": 60, "Y": 39.9}, "failures_pct", "add to 99.9 %"),
        ({"B": 60, "glue": 40}, "failures_pct", "glue: write A, B, C"),
        ({"B": 160, "Y": -60}, "failures_pct", "B: must be at most 100"),
        ({}, "failures_pct", "names"),
    ],
)
def test_shares_of_failure_must_be_known_places_and_add_to_the_whole(failures, field, words):
    with pytest.raises(InputFault) as wrong:
        calculate("adhesion-pull-off", {"failures_pct": failures})
    assert any(fault.field == field and words in fault.message for fault in wrong.value.faults), str(wrong.value)


def test_force_and_diameter_come_together():
    with pytest.raises(InputFault, match="dolly_diameter_mm"):
        calculate("adhesion-pull-off", {"force_n": 1000})


def test_the_cross_cut_of_iso_2409_ends_at_its_thickest_film_and_says_so():
    assert calculate("adhesion-cross-cut", {"area_removed_pct": 3, "dry_film_um": 250})["iso_2409"] == 1
    beyond = calculate("adhesion-cross-cut", {"area_removed_pct": 3, "dry_film_um": 250.1})
    assert beyond["iso_2409"] == "not judged"
    assert "ISO 2409 ends at a film of 250 µm" in beyond["note"]


@unhurried
@given(st.permutations([50, 55, 60.5]), st.permutations([48, 53, 58]), st.permutations([60, 50, 60]))
def test_the_order_of_replicas_decides_nothing(one, evenly_apart, twice):
    """Two pairs equally close, two heights the same: verdict and value stay, and no replica is named twice."""
    limits = {"minimum_um": 52.8, "maximum_um": 60}
    for heights in (one, evenly_apart, twice):
        answer = calculate("profile-replica", {"heights_um": heights, **limits})
        sorted_ = calculate("profile-replica", {"heights_um": sorted(heights), **limits})
        assert (answer["verdict"], answer["location_mean_um"]) == (sorted_["verdict"], sorted_["location_mean_um"])
        named = answer["checks"][0]["decided_by"]
        assert sorted(set(named)) == named
        assert sorted(heights[place] for place in named) == {
            (50, 55, 60.5): [50, 55], (48, 53, 58): [48, 53, 58], (50, 60, 60): [60, 60],
        }[tuple(sorted(heights))]  # fmt: skip


def test_a_low_test_with_glue_needs_a_declared_share():
    asked = {"tests": [{"stress_mpa": 3, "glue_share_pct": 10}, {"stress_mpa": 7}], "minimum_mpa": 5, "fewest_tests": 1}
    with pytest.raises(InputFault, match="greatest_glue_share_pct: is needed"):
        calculate("adhesion-pull-off-set", asked)
    without_glue = {**asked, "tests": [{"stress_mpa": 3}, {"stress_mpa": 7, "glue_share_pct": 10}]}
    answer = calculate("adhesion-pull-off-set", without_glue)
    assert answer["verdict"] == "fail"
    assert "holds at least" in answer["notes"][0]


def test_a_set_of_tests_that_are_no_result_has_no_mean_and_says_what_is_missing():
    weak = [{"stress_mpa": 3, "glue_share_pct": 90}] * 3
    answer = calculate(
        "adhesion-pull-off-set",
        {"tests": weak, "minimum_mpa": 5, "fewest_tests": 3, "greatest_glue_share_pct": 50},
    )
    assert answer["verdict"] == "incomplete"
    assert {"mean_mpa", "lowest_mpa"}.isdisjoint(answer)
    assert answer["notes"] == [
        "3 low tests failed in the glue and stayed out of mean and lowest.", "3 tests with a result still to make.",
    ]  # fmt: skip


def test_a_rating_above_zero_needs_the_full_rubs():
    with pytest.raises(InputFault, match="double_rubs"):
        calculate("solvent-rub", {"ratings": [4], "double_rubs": 49})


@pytest.mark.parametrize(
    ("name", "given_", "field"),
    [
        ("dust-rating", {"ratings": [{"quantity": 2, "size_class": 2}]}, "maximum_quantity"),
        ("dust-rating", {"ratings": [{"quantity": 2, "size_class": 2}], "rule": "IMO PSPC", "maximum_quantity": 2},
         "maximum_quantity"),
        ("dust-rating", {"ratings": [{"quantity": 6, "size_class": 2}], "maximum_quantity": 2}, "ratings[0].quantity"),
        ("abrasive-conductivity", {"means_us_cm": [1], "water_us_cm": 1, "method": "ASTM D4940", "limit": "declared"},
         "limit_us_cm"),
        ("abrasive-conductivity", {"means_us_cm": [1], "water_us_cm": 1, "method": "ASTM D4940", "limit": "SSPC-AB 1",
                                   "limit_us_cm": 5}, "limit_us_cm"),
        ("edge-preparation", {}, "radius_mm"),
        ("grade-equivalents", {"grade": "Sa 4"}, "grade"),
        ("adhesion-pull-off", {}, "force_n"),
    ],
)  # fmt: skip
def test_what_is_missing_or_one_too_many_is_named(name, given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate(name, given_)
    assert [fault.field for fault in wrong.value.faults] == [field]


def test_a_profile_exactly_at_its_limits_passes_and_names_the_nearest_location():
    asked = {"locations_um": [[60] * 10, [50] * 10, [75] * 10], "location_value": "mean"}
    answer = calculate("profile-depth-micrometer", {**asked, "minimum_um": 50, "maximum_um": 75})
    _, least, greatest = answer["checks"]
    assert (least["passed"], least["decided_by"]) == (True, [1])
    assert (greatest["passed"], greatest["decided_by"]) == (True, [2])
    outside = calculate("profile-depth-micrometer", {**asked, "minimum_um": 60, "maximum_um": 60})
    _, least, greatest = outside["checks"]
    assert (least["passed"], least["decided_by"]) == (False, [1])
    assert (greatest["passed"], greatest["decided_by"]) == (False, [2])


def test_a_tape_that_took_no_profile_reads_zero():
    assert calculate("profile-replica", {"gauge_readings_um": [50, 50], "backing_um": 50})["location_mean_um"] == 0


def test_as_many_traces_as_asked_are_enough():
    enough = {"traces_um": [[50] * 5] * 2, "fewest_traces": 2}
    assert calculate("profile-stylus", enough)["verdict"] == "not judged", "no limit, no verdict"
    assert calculate("profile-stylus", {**enough, "minimum_um": 50})["verdict"] == "pass"


def test_limits_of_the_salt_rules_are_inclusive():
    assert calculate("salts-bresle", {"conductivity_us_cm": 9, "blank_us_cm": 5})["blank_clean"] is True
    for observed, known in ((29.9, False), (30, True), (80, True), (80.1, False)):
        answer = calculate("salts-decision", {**ALIKE, "observed_mg_m2": observed, "limit_mg_m2": 100})
        assert answer["precision_known"] is known
    even = calculate("salts-decision", {**ALIKE, "observed_mg_m2": 50, "limit_mg_m2": 50, "accepted_risk_pct": 50})
    assert even["advice"] == "Below the limit within the accepted risk."


@pytest.mark.parametrize(
    ("means", "spread"), [([180], None), ([0, 0], None), ([100, 104], 100 * 4 / 102), ([100], None)]
)
def test_repeatability_needs_two_results_that_conduct(means, spread):
    asked = {"means_us_cm": means, "water_us_cm": 1, "method": "ASTM D4940", "limit": "declared", "limit_us_cm": 200}
    answer = calculate("abrasive-conductivity", asked)
    assert answer["verdict"] == "pass"
    assert answer["checks"][0]["clause"] == "specification"
    assert answer.get("spread_pct") == (None if spread is None else pytest.approx(spread))


@pytest.mark.parametrize(
    ("edge", "verdict", "judged_by"),
    [
        ({"radius_mm": 2, "grinding_passes": 1}, "pass", "edge radius"),
        ({"radius_mm": 1, "grinding_passes": 2}, "fail", "grinding passes"),
        ({"radius_mm": 1, "grinding_passes": 0}, "fail", "edge radius"),
        ({"grinding_passes": 3}, "pass", "grinding passes"),
    ],
)
def test_one_of_radius_and_passes_is_enough(edge, verdict, judged_by):
    answer = calculate("edge-preparation", edge)
    assert (answer["verdict"], answer["checks"][0]["name"]) == (verdict, judged_by)


def test_a_voltage_equal_to_what_the_film_bears_is_too_much():
    asked = {"dry_film_um": 250, "standard": "NACE SP0188", "dielectric_strength_kv_per_mm": 6}
    answer = calculate("holiday-voltage", asked)
    assert (answer["most_the_film_bears_v"], answer["verdict"]) == (1500, "fail")
    assert "voltage_v" not in answer, "a voltage that the film does not bear is not offered"
    assert "Do not test at this voltage" in str(answer["notes"])
    assert "limit 1500 V; observed 1500 V (limit excluded)" in as_text("holiday-voltage", answer)


@pytest.mark.parametrize("dry_film", [{"dry_film_um": 250}, {"dry_film_mil": 10}])
def test_a_thinnest_film_thicker_than_the_film_is_refused(dry_film):
    """Life and film at risk: the voltage would be held against more film than there is."""
    name = "thinnest_film_mil" if "dry_film_mil" in dry_film else "thinnest_film_um"
    asked = {"standard": "NACE SP0274", "dielectric_strength_kv_per_mm": 6, **dry_film}
    with pytest.raises(InputFault, match=f"{name}: must not be thicker than dry_film_um"):
        calculate("holiday-voltage", {**asked, name: next(iter(dry_film.values())) + 0.1})
    calculate("holiday-voltage", {**asked, name: next(iter(dry_film.values()))})


def test_without_the_thinnest_film_the_answer_says_so():
    asked = {"dry_film_um": 250, "standard": "NACE SP0188", "dielectric_strength_kv_per_mm": 60}
    assert "thinnest film found was not given" in str(calculate("holiday-voltage", asked)["notes"])
    assert "thinnest film" not in str(calculate("holiday-voltage", {**asked, "thinnest_film_um": 240})["notes"])


def test_a_depth_micrometer_location_of_nine_readings_has_no_value():
    """ASTM D4417 B: ten readings a location. The set is incomplete, unless a full location fails by itself."""
    asked = {"locations_um": [[60] * 9, [70] * 10], "location_value": "mean"}
    open_ = calculate("profile-depth-micrometer", {**asked, "minimum_um": 50})
    assert (open_["verdict"], open_["location_values_um"], open_["mean_um"]) == ("incomplete", [None, 70], 70)
    failed = calculate("profile-depth-micrometer", {**asked, "maximum_um": 65})
    assert (failed["verdict"], failed["checks"][1]["decided_by"]) == ("fail", [1])
    none = calculate("profile-depth-micrometer", {**asked, "locations_um": [[60] * 9], "minimum_um": 70})
    assert (none["verdict"], "mean_um" in none) == ("incomplete", False)
    in_mil = calculate("profile-depth-micrometer", {"locations_mil": [[2] * 9], "location_value": "maximum"})
    assert in_mil["location_values_mil"] == [None]


def test_more_film_than_the_paint_holds_is_told_and_no_loss_below_nothing():
    asked = {"area_m2": 520, "volume_solids_pct": 65, "dry_film_um": 125, "used_litres": 100}
    told = calculate("paint-consumption", {**asked, "measured_mean_um": 125.1})
    assert "implied_loss_pct" not in told
    assert "less than nothing was lost" in told["notes"][0]
    assert calculate("paint-consumption", {**asked, "measured_mean_um": 125})["implied_loss_pct"] == 0


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"constant_kg_m2_s": 4}, "constant_kg_m2_s"),
        ({"species": "another, by a declared constant"}, "constant_kg_m2_s"),
        ({"solution_c": 15, "reference_c": 25}, "coefficient_pct_per_k"),
        ({"solution_c": 15, "coefficient_pct_per_k": 2}, "reference_c"),
        ({"coefficient_pct_per_k": 2, "reference_c": 25}, "solution_c"),
    ],
)
def test_salts_by_halves_are_refused_by_name(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("salts-bresle", {"conductivity_us_cm": 10, **given_})
    assert [fault.field for fault in wrong.value.faults] == [field]


def test_an_answer_on_salts_carries_all_that_decided_it():
    asked = {
        "conductivity_us_cm": 48,
        "blank_us_cm": 3,
        "species": "sodium chloride",
        "volume_ml": 3,
        "reference_c": 25,
    }
    answer = calculate("salts-bresle", asked)
    kept = {name: answer[name] for name in ("species", "volume_ml", "patch_cm2", "reference_c", "notes")}
    assert kept == {"species": "sodium chloride", "volume_ml": 3, "patch_cm2": 12.5, "reference_c": 25, "notes": []}
    without = calculate("salts-bresle", {"conductivity_us_cm": 48})
    assert "reference temperature" in without["notes"][0]
    declared = {"species": "another, by a declared constant", "constant_kg_m2_s": 4}
    assert calculate("salts-bresle", {"conductivity_us_cm": 10, "volume_ml": 12.5, **declared})["density_mg_m2"] == 40


def test_a_salt_result_is_held_only_against_a_limit_of_the_same_salt():
    declared = "another, by a declared constant"
    asked = {"observed_mg_m2": 54, "limit_mg_m2": 50, "observed_as": "mixed salts"}
    with pytest.raises(InputFault, match="limit_as"):
        calculate("salts-decision", asked)
    with pytest.raises(InputFault, match=r"limit_as: .*cannot be compared"):
        calculate("salts-decision", {**asked, "limit_as": declared})
    alike = calculate("salts-decision", {**asked, "limit_as": "mixed salts"})
    assert (alike["verdict"], alike["notes"]) == ("fail", [])
    brought = calculate("salts-decision", {**asked, "limit_as": "sodium chloride"})
    assert (brought["verdict"], brought["compared_mg_m2"]) == ("pass", 49.5)
    assert "0.917" in brought["notes"][0]
    # The precision is that of the result as it was given, and is brought to the other salt with it.
    ratio = brought["standard_uncertainty_mg_m2"] / alike["standard_uncertainty_mg_m2"]
    assert ratio == pytest.approx(1.1 / 1.2)


def test_how_sure_a_salt_result_is_stays_open_outside_the_known_precision():
    low = calculate("salts-decision", {**ALIKE, "observed_mg_m2": 10, "limit_mg_m2": 20})
    assert (low["verdict"], low["precision_known"]) == ("pass", False)
    assert "how sure is not known" in low["advice"]


def test_a_limit_of_another_method_is_not_judged():
    """ASTM D4940 works by volume, ISO 11127-6 by weight: there is no conversion of results."""
    asked = {"means_us_cm": [300, 304], "water_us_cm": 2}
    for method, limit in (("ASTM D4940", "ISO 11126"), ("ISO 11127-6", "SSPC-AB 1")):
        answer = calculate("abrasive-conductivity", {**asked, "method": method, "limit": limit})
        assert answer["verdict"] == "not judged"
        assert "there is no conversion" in answer["notes"][0]
        assert "limit" not in {check["name"] for check in answer["checks"]}
    own = calculate("abrasive-conductivity", {**asked, "method": "ISO 11127-6", "limit": "ISO 11126"})
    assert own["verdict"] == "fail"
    at = calculate("abrasive-conductivity", {"means_us_cm": [250], "water_us_cm": 2, "method": "ISO 11127-6",
                                             "limit": "ISO 11126"})  # fmt: skip
    assert "Exactly at the limit" in at["notes"][0]


@pytest.mark.parametrize(("tank", "damaged", "largest", "field"), [(10, 11, 1, "damaged_m2"), (10, 5, 6, "largest_m2")])
def test_a_damage_larger_than_what_it_is_part_of_is_refused(tank, damaged, largest, field):
    with pytest.raises(InputFault, match=f"{field}: must not be more"):
        calculate("erection-damage", {"tank_m2": tank, "damaged_m2": damaged, "largest_m2": largest})


def test_the_other_branch_is_shown_up_to_a_tenth_from_the_jump():
    shown = [
        "other_branch_voltage_v" in calculate("holiday-voltage", {"dry_film_um": film, "standard": "M-sqrt-mm"})
        for film in (890, 910, 1090, 1110)
    ]
    assert shown == [False, True, True, False]


@pytest.mark.parametrize(
    ("film", "agreed_high_voltage", "wetting_agent"),
    [(249.9, False, False), (250, True, False), (254, True, False), (254.1, True, True), (500, True, True)],
)
def test_the_method_names_what_the_thickness_adds(film, agreed_high_voltage, wetting_agent):
    why = calculate("holiday-method", {"dry_film_um": film})["why"]
    assert ("agreed by the coating maker" in why, "wetting agent" in why) == (agreed_high_voltage, wetting_agent)


def test_the_inch_figure_is_named_up_to_twenty_mil():
    assert "508 µm" in calculate("holiday-method", {"dry_film_um": 508})["why"]
    assert "508 µm" not in calculate("holiday-method", {"dry_film_um": 508.1})["why"]


def test_results_five_percent_apart_still_repeat():
    asked = {"means_us_cm": [97.5, 102.5], "water_us_cm": 5, "method": "ASTM D4940", "limit": "SSPC-AB 1"}
    assert calculate("abrasive-conductivity", asked)["verdict"] == "pass"


@pytest.mark.parametrize(
    ("weak", "repeat", "verdict"),
    [
        ({"stress_mpa": 5, "glue_share_pct": 90}, [], "pass"),
        ({"stress_mpa": 4.9, "glue_share_pct": 50}, [], "fail"),
        ({"stress_mpa": 4.9, "glue_share_pct": 50.1}, [0], "pass"),
    ],
)
def test_only_a_low_test_that_failed_mostly_in_the_glue_is_repeated(weak, repeat, verdict):
    asked = {"tests": [weak, *({"stress_mpa": 7},) * 3], "minimum_mpa": 5, "fewest_tests": 3,
             "greatest_glue_share_pct": 50}  # fmt: skip
    answer = calculate("adhesion-pull-off-set", asked)
    assert (answer["repeat_tests"], answer["verdict"]) == (repeat, verdict)


def test_the_places_that_decide_the_cure_are_named():
    assert calculate("solvent-rub", {"ratings": [5, 3, 2]})["checks"][0]["decided_by"] == [1, 2]
    assert calculate("solvent-rub", {"ratings": [5, 4]})["checks"][0]["decided_by"] == [1]
    assert "stress_mpa" not in calculate("adhesion-pull-off", {"failures_pct": {"B": 100}})
