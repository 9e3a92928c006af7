"""Profile by locations, zinc, thermal spray, water jetting and X-cuts: whole samples, what decides, what is refused."""

from __future__ import annotations

from typing import Any

import pytest

from inspection.standards import calculate
from tests.standards.asking import checks, faults

PROFILE = {"minimum_um": 50, "maximum_um": 75, "location_value": "mean", "readings_per_location": 1}
EXTENT = {"minimum_um": 50, "maximum_um": 75, "location_value": "mean", "step_m": 2}
ZINC = {"edition": "2009", "size": "10 cm² to 2 m²", "article": "steel, not centrifuged", "steel_mm": 4}
SPRAY = {"minimum_local_um": 100, "readings_per_place": 3, "places_required": 2}


def locations(*values: float, shift: str = "pot 1") -> list[dict[str, Any]]:
    return [{"readings_um": [value], "apparatus_and_shift": shift} for value in values]


def test_each_apparatus_and_shift_needs_its_own_three_locations() -> None:
    asked = locations(60, 61, 62) + locations(63, 64, shift="pot 2")
    answer = calculate("profile-pa17", {**PROFILE, "locations": asked})
    assert answer["verdict"] == "incomplete"
    assert answer["notes"] == ["1 location still to measure for pot 2."]
    whole = calculate("profile-pa17", {**PROFILE, "locations": asked + locations(65, shift="pot 2")})
    assert whole["verdict"] == "pass"


def test_a_location_with_too_few_readings_has_no_value_and_the_others_keep_their_places() -> None:
    asked = [{"readings_um": at} for at in ([60], [61, 63], [80, 82])]
    found = checks("profile-pa17", **{**PROFILE, "readings_per_location": 2}, locations=asked)
    assert found["greatest profile"]["decided_by"] == [2]
    answer = calculate("profile-pa17", {**PROFILE, "readings_per_location": 2, "locations": asked})
    assert [row["complies"] for row in answer["locations"]] == ["no value yet", "yes", "too high"]


def test_the_number_of_readings_and_the_statistic_are_declared() -> None:
    left_out = {key: value for key, value in PROFILE.items() if key not in ("readings_per_location", "location_value")}
    assert set(faults("profile-pa17", {**left_out, "locations": locations(60)})) == {
        "readings_per_location", "location_value",
    }  # fmt: skip


def test_the_search_asks_for_its_spacing_and_speaks_of_locations() -> None:
    assert "declare the spacing" in faults("profile-pa17-extent", {**EXTENT, "step_m": None})["step_m"]
    assert "units" in faults("profile-pa17-extent", {**EXTENT, "repeating_units": True})["step_m"]
    ended = [{"direction": 1, "ended": "no further place"}] * 2
    told = faults("profile-pa17-extent", {**EXTENT, "locations": ended})
    assert told == {"locations[1].direction": "direction 1 is finished already"}


def test_units_are_counted_instead_of_metres() -> None:
    asked = {key: value for key, value in EXTENT.items() if key != "step_m"}
    answer = calculate("profile-pa17-extent", {**asked, "repeating_units": True})
    assert answer["next"] == {"direction": 1, "step": 1, "clockwise_deg": 0}


def test_the_boundary_lies_at_the_first_compliant_location_beyond_the_last_bad_one() -> None:
    spots = [{"direction": 1, "readings_um": [at]} for at in (45, 55, 44, 60, 61)]
    spots += [{"direction": other, "ended": "no further place"} for other in (2, 3, 4)]
    answer = calculate("profile-pa17-extent", {**EXTENT, "locations": spots})
    assert answer["boundary"][0] == {
        "direction": 1, "step": 4, "closed_by": "conforming spot", "distance_m": 8, "x_m": 0, "y_m": 8,
    }  # fmt: skip
    assert [point["closed_by"] for point in answer["boundary"][1:]] == ["no further place"] * 3


def test_a_short_reference_area_never_decides() -> None:
    asked = {**ZINC, "articles": [{"areas_um": [[20, 20, 20, 20]]}, {"areas_um": [[90] * 5]}]}
    answer = calculate("galvanizing-iso1461", asked)
    assert answer["verdict"] == "incomplete"
    found = checks("galvanizing-iso1461", **asked)
    assert found["readings an area"]["decided_by"] == [0]
    assert (found["local thickness"]["passed"], found["local thickness"]["decided_by"]) == (None, [0])


@pytest.mark.parametrize(
    ("name", "asked", "missing"),
    [
        ("profile-pa17", {**PROFILE, "locations": [{"readings_um": [60]}]}, "number of locations"),
        ("profile-pa17", {**PROFILE, "readings_per_location": 2, "locations": [{"readings_um": [60]}]},
         "readings a location"),
        ("galvanizing-iso1461", {**ZINC, "lot": 3, "articles": [{"areas_um": [[60] * 5]}]}, "control sample"),
        ("galvanizing-iso1461", {**ZINC, "size": "over 2 m²", "articles": [{"areas_um": [[90] * 5]}]},
         "areas an article"),
        ("thermal-spray-iso2063", {**SPRAY, "places_um": [[120, 121, 122]]}, "number of places"),
        ("thermal-spray-iso2063", {**SPRAY, "places_um": [[120, 121], [120, 121, 122]]}, "readings a place"),
        ("dft-imo-pspc", {"nominal_um": 320, "readings_um": [320] * 3, "readings_required": 5}, ""),
    ],
)  # fmt: skip
def test_what_is_still_missing_leaves_every_check_open_and_fails_none(
    name: str, asked: dict[str, Any], missing: str
) -> None:
    answer = calculate(name, asked)
    assert answer["verdict"] == "incomplete"
    found = {check["name"]: check["passed"] for check in answer["checks"]}
    assert found
    assert False not in found.values()
    assert found.get(missing) is None
    assert not missing or missing in found


def test_the_mean_of_all_areas_waits_for_the_whole_sample() -> None:
    thin = {"areas_um": [[60] * 5]}
    assert calculate("galvanizing-iso1461", {**ZINC, "lot": 3, "articles": [thin]})["verdict"] == "incomplete"
    assert calculate("galvanizing-iso1461", {**ZINC, "lot": 3, "articles": [thin] * 3})["verdict"] == "fail"


def test_a_thin_article_over_two_square_metres_fails_before_the_others_are_measured() -> None:
    asked = {**ZINC, "size": "over 2 m²", "lot": 3, "articles": [{"areas_um": [[60] * 5] * 3}]}
    assert calculate("galvanizing-iso1461", asked)["verdict"] == "fail"


@pytest.mark.parametrize(
    ("changed", "fields"),
    [
        ({"edition": "declared"}, {"local_um", "least_mean_um", "article", "steel_mm"}),
        ({"local_um": 50}, {"local_um"}),
        ({"steel_mm": None}, {"steel_mm"}),
        ({"lot": 1}, {"lot"}),
        ({"edition": "2022"}, {"edition"}),
    ],
)
def test_table_and_declared_values_exclude_one_another(changed: dict[str, Any], fields: set[str]) -> None:
    articles = [{"areas_um": [[60] * 5]}] * 2
    assert set(faults("galvanizing-iso1461", {**ZINC, "articles": articles, **changed})) == fields


def test_declared_zinc_limits_are_judged_as_declared() -> None:
    asked = {"edition": "declared", "size": "10 cm² to 2 m²", "local_um": 40, "least_mean_um": 50,
             "articles": [{"areas_um": [[45] * 5, [55] * 5]}]}  # fmt: skip
    assert calculate("galvanizing-iso1461", asked)["verdict"] == "pass"
    assert calculate("galvanizing-iso1461", {**asked, "least_mean_um": 50.1})["verdict"] == "fail"


def test_thermal_spray_without_a_whole_place_has_nothing_to_judge() -> None:
    answer = calculate("thermal-spray-iso2063", {**SPRAY, "places_um": [[20], [30, 40]]})
    assert answer["verdict"] == "incomplete"
    assert answer["local_thicknesses_um"] == []
    assert answer["notes"][-1] == "2 whole places still to measure."


def test_each_unit_area_counts_and_the_place_that_decides_is_named() -> None:
    areas = [{"remaining_pct": pct, "loose_matter": "no", "flash_rust": rust}
             for pct, rust in ((1, "none"), (6, "H heavy"), (5, "L light"))]  # fmt: skip
    found = checks("water-jetting-grade", grade="WJ-2", most_flash_rust="L light", unit_areas=areas)
    assert {name: check["decided_by"] for name, check in found.items() if not check["passed"]} == {
        "remaining matter": [1],
        "flash rust": [1],
    }


def test_light_and_moderate_flash_rust_ask_for_a_second_observer_where_light_is_the_limit() -> None:
    def told(limit: str, found: str) -> bool:
        area = {"remaining_pct": 0, "loose_matter": "no", "flash_rust": found}
        asked = {"grade": "WJ-2", "most_flash_rust": limit, "unit_areas": [area]}
        return any("second observer" in note for note in calculate("water-jetting-grade", asked)["notes"])

    assert told("L light", "L light")
    assert told("L light", "M moderate")
    assert not told("L light", "H heavy")
    assert not told("M moderate", "M moderate")


def test_an_x_cut_beyond_the_widest_rating_is_asked_again() -> None:
    cut = {"came_off": "jagged along the cuts", "either_side_mm": 3.2}
    assert calculate("adhesion-x-cut", {"scale": "ASTM D3359 method A", "cuts": [cut]})["worst"] == "2A"
    told = faults("adhesion-x-cut", {"scale": "ISO 16276-2 X-cut", "cuts": [cut]})
    assert "above 3 mm" in told["cuts[0].either_side_mm"]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"cuts": [{"came_off": "jagged along the cuts"}]}, "cuts[0].either_side_mm"),
        ({"cuts": [{"came_off": "beyond the X", "either_side_mm": 1}]}, "cuts[0].either_side_mm"),
        ({"cuts": [{"came_off": "beyond the X"}], "worst_rating": "2"}, "worst_rating"),
    ],
)
def test_an_x_cut_is_described_in_its_own_scale(given: dict[str, Any], field: str) -> None:
    assert set(faults("adhesion-x-cut", {"scale": "ASTM D3359 method A", **given})) == {field}


def test_method_a_on_a_thin_film_is_noted() -> None:
    asked = {"scale": "ASTM D3359 method A", "cuts": [{"came_off": "nothing came off"}], "worst_rating": "4A"}
    thin, thick = (calculate("adhesion-x-cut", {**asked, "dry_film_um": film})["notes"] for film in (125, 125.1))
    assert "above 125 µm" in thin[0]
    assert thick == []


SALTS = {
    "limit_mg_m2": 50, "judged_by": "each patch", "species": "mixed salts", "volume_ml": 3, "patch_cm2": 12.5,
    "blank_us_cm": 3, "reference_c": 25, "plan": "a declared number", "tests": 2,
    "patches": [{"conductivity_us_cm": 13}, {"conductivity_us_cm": 44.5}],
}  # fmt: skip


def test_salts_name_the_patch_that_decides_and_leave_out_the_one_that_lost_liquid() -> None:
    leaked = {"conductivity_us_cm": 1, "liquid_lost": "yes"}
    asked = {**SALTS, "patches": [leaked, *SALTS["patches"], {"place": "weld", "conductivity_us_cm": 45}]}
    answer = calculate("salts-patches", asked)
    assert checks("salts-patches", **asked)["each patch"]["decided_by"] == [3]
    assert [row["verdict"] for row in answer["patches"]] == [
        "no result", "within the limit", "within the limit", "above the limit",
    ]  # fmt: skip
    assert (answer["tests_valid"], answer["highest_mg_m2"]) == (3, 50.4)


def test_patches_that_all_lost_liquid_leave_nothing_to_judge() -> None:
    lost = [{"conductivity_us_cm": 40, "liquid_lost": "yes"}] * 2
    answer = calculate("salts-patches", {**SALTS, "patches": lost})
    assert answer["verdict"] == "incomplete"
    assert "highest_mg_m2" not in answer


@pytest.mark.parametrize(
    "declared", ["species", "volume_ml", "patch_cm2", "blank_us_cm", "reference_c", "judged_by", "limit_mg_m2", "plan"]
)
def test_what_decides_a_figure_of_salts_is_declared(declared: str) -> None:
    left_out = {name: value for name, value in SALTS.items() if name != declared}
    assert declared in faults("salts-patches", left_out)


def test_a_coefficient_that_leaves_no_conductivity_at_the_temperature_is_refused() -> None:
    """4 %/K at 0 °C and a reference of 25 °C would divide by nothing, and 5 %/K by less."""
    for coefficient in (4, 5):
        cold = {"conductivity_us_cm": 13, "solution_c": 0}
        asked = {**SALTS, "coefficient_pct_per_k": coefficient, "patches": [cold]}
        assert "leaves no conductivity" in faults("salts-patches", asked)["coefficient_pct_per_k"]
        alone = {**cold, "reference_c": 25, "coefficient_pct_per_k": coefficient}
        assert "leaves no conductivity" in faults("salts-bresle", alone)["coefficient_pct_per_k"]


@pytest.mark.parametrize(
    ("changed", "fields"),
    [
        ({"plan": "UFGS 09972"}, {"area_m2", "tests"}),
        ({"constant_kg_m2_s": 4}, {"constant_kg_m2_s"}),
        ({"species": "another, by a declared constant"}, {"constant_kg_m2_s"}),
        ({"coefficient_pct_per_k": 2}, {"coefficient_pct_per_k"}),
        ({"patches": [{"conductivity_us_cm": 13, "solution_c": 15}]}, {"coefficient_pct_per_k"}),
        ({"patches": [{"conductivity_us_cm": 13}, {"conductivity_us_cm": 2}]}, {"patches[1].conductivity_us_cm"}),
    ],
)
def test_what_belongs_together_in_salts_is_asked_together(changed: dict[str, Any], fields: set[str]) -> None:
    assert set(faults("salts-patches", {**SALTS, **changed})) == fields
