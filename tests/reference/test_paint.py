"""Mixing, pot life, VOC, and drying over a log against guide specifications, handbooks and worked examples."""

from __future__ import annotations

from typing import Any

import pytest

from inspection.standards import calculate
from inspection.standards.voc import LESS_WATER, WITH_WATER
from tests.reference.table import COMMON, COMPUTED, STORED, Check, holds
from tests.standards.asking import faults

LB_PER_GAL = 119.826427  # g/l; 453.59237 g over 3.785411784 l, by definition of pound and US gallon
PERCENTS = "Expert's page on VOC: 20.8 % solids, 53.0 % water, 8.52 lb/gal give 2.232 and 4.87 lb/gal"
HANDBOOK = "Metal finishing handbook: VOC of mixtures and thinner to a limit, worked examples"
DISTRICT = "US air district: 33.2 lb of VOC in 100 gal with 62.4 gal of water"
EU = "Directive 2004/42/EC: g/l ready for use; arithmetic of the mixture"
HALVING = "UFGS 09971: pot life halves for each 10 °C up; computed from the rule"
RECOAT = "UFGS 09971: polyurethane over itself, row by the highest surface temperature held for an hour"
MIX = "Arithmetic of mixing: volume ratio times densities"


def lb(name: str, gallons: float, lb_per_gal: float, water: float = 0) -> dict[str, Any]:
    """A component in the units of the handbook; the volume's unit drops out of every quotient."""
    return {"name": name, "litres": gallons, "voc_g_per_l": lb_per_gal * LB_PER_GAL, "water_litres": water}


FOUR_TO_ONE = [
    {"name": "A", "parts": 4, "density_kg_per_l": 1.5},
    {"name": "B", "parts": 1, "density_kg_per_l": 0.95},
]


def used(kg_a: float, kg_b: float) -> dict[str, Any]:
    parts = [{**one, "used": kg} for one, kg in zip(FOUR_TO_ONE, (kg_a, kg_b), strict=True)]
    return {"components": parts, "parts_by": "volume", "used_by": "mass"}


# UFGS 09971, °C and hours: 49 °C and above is left out, where the row stops.
POLYURETHANE = [
    {"temperature_c": low, "up_to_c": high, "minimum_hours": least, "maximum_hours": most}
    for low, high, least, most in ((16, 21, 8, 48), (22, 27, 6, 48), (28, 32, 4, 36), (33, 38, 3, 24), (39, 43, 2, 12))
]


def hourly(*values: float, table: Any = POLYURETHANE, gap: float = 1, **more: Any) -> dict[str, Any]:
    """A coat finished at 08:00 with a reading each full hour from then on, asked about at the last."""
    log = [{"at": f"2026-06-01T{8 + hour:02}:00+00:00", "value": value} for hour, value in enumerate(values)]
    return {
        "applied_at": log[0]["at"], "moment": log[-1]["at"], "data_sheet": table, "log_c": log,
        "longest_gap_hours": gap, **more,
    }  # fmt: skip


def greatest_hours(asked: Any) -> dict[str, Any]:
    """The greatest time that the log leads to, from the share of it that the log has used."""
    answer = calculate("drying-log", asked)
    return {"hours": (len(asked["log_c"]) - 1) * 100 / answer["maximum_used_pct"]}


RULE = "Hours at a temperature over the hours stated for it, summed to a whole"


def clocked(*steel: float) -> dict[str, Any]:
    """A coat that ended at 08:00, and the steel of each hour from then on."""
    return {
        "applied_at": "2026-06-01T08:00+00:00", "moment": "2026-06-01T08:00+00:00",
        "data_sheet": [{"temperature_c": 10, "minimum_hours": 16, "maximum_hours": 96},
                       {"temperature_c": 20, "minimum_hours": 8, "maximum_hours": 48}],
        "steel_c": [{"at": f"2026-06-01T{8 + hour:02}:00+00:00", "value": value} for hour, value in enumerate(steel)],
    }  # fmt: skip


CHECKS = [
    Check("voc-content", PERCENTS, STORED,
          {"density_kg_per_l": 8.52 * LB_PER_GAL / 1000, "solids_pct": 20.8, "water_pct": 53},
          {"with_water_lb_per_gal": 2.232, "less_water_lb_per_gal": 4.87},
          {"with_water_lb_per_gal": 0.0005, "less_water_lb_per_gal": 0.008}),
    Check("voc-content", PERCENTS, COMPUTED,
          {"density_kg_per_l": 8.52 * LB_PER_GAL / 1000, "solids_pct": 20.8, "water_pct": 53,
           "water_density_kg_per_l": 8.33 * LB_PER_GAL / 1000}, {"less_water_lb_per_gal": 4.875},
          {"less_water_lb_per_gal": 0.001}, "water of 8.33 lb/gal as on the page; the page prints 4.87"),
    Check("voc-content", DISTRICT + ": without water the two formulas agree", STORED,
          {"density_kg_per_l": 1.2, "solids_pct": 70}, {"with_water_g_per_l": 360, "less_water_g_per_l": 360}),
    Check("voc-as-applied", HANDBOOK, STORED, {"poured": [lb("paint", 1, 2.5), lb("thinner", 0.25, 6.8)]},
          {"with_water_lb_per_gal": 3.36, "less_water_lb_per_gal": 3.36},
          {"with_water_lb_per_gal": 1e-6, "less_water_lb_per_gal": 1e-6}),
    Check("voc-as-applied", HANDBOOK, STORED,
          {"poured": [lb("paint", 5, 15.9 / 5)], "limit_g_per_l": 3.5 * LB_PER_GAL, "limit_is": WITH_WATER,
           "thinner_voc_g_per_l": 6.4 * LB_PER_GAL}, {"most_thinner_litres": 0.5517, "verdict": "pass"},
          {"most_thinner_litres": 0.0001}, "gallons there"),
    Check("voc-as-applied", DISTRICT, STORED, {"poured": [lb("paint", 100, 0.332, 62.4)]},
          {"with_water_lb_per_gal": 0.332, "less_water_lb_per_gal": 0.883},
          {"with_water_lb_per_gal": 1e-6, "less_water_lb_per_gal": 0.0005}),
    Check("voc-as-applied", HANDBOOK, COMPUTED,
          {"poured": [lb("A", 3, 3.1), lb("B", 1, 1.8), {**lb("water", 7, 0), "water_litres": 7}]},
          {"less_water_lb_per_gal": 2.775}, {"less_water_lb_per_gal": 1e-6}, "the handbook prints 2.75"),
    Check("voc-as-applied", EU, COMPUTED,
          {"poured": [{"name": "paint", "litres": 100, "voc_g_per_l": 340},
                      {"name": "thinner", "litres": 10, "voc_g_per_l": 870}]},
          {"with_water_g_per_l": 388.2, "verdict": "not judged"}, {"with_water_g_per_l": 0.05}),
    Check("voc-as-applied", EU, COMPUTED,
          {"poured": [{"name": "paint", "litres": 100, "voc_g_per_l": 340}], "limit_g_per_l": 420,
           "limit_is": WITH_WATER, "thinner_voc_g_per_l": 870}, {"most_thinner_litres": 17.78},
          {"most_thinner_litres": 0.005}),
    Check("mixing-ratio", MIX, COMPUTED,
          {"components": FOUR_TO_ONE, "parts_by": "volume", "mixed_litres": 20},
          {"ratio_by_volume": [4, 1], "ratio_by_mass": [6.316, 1],
           "amounts": [{"litres": 16, "kg": 24}, {"litres": 4, "kg": 3.8}]}, {"ratio_by_mass": 0.0005}),
    Check("mixing-ratio", MIX, COMPUTED,
          {"components": [{"name": "A", "parts": 100, "density_kg_per_l": 1.5},
                          {"name": "B", "parts": 15.83, "density_kg_per_l": 0.95}], "parts_by": "mass"},
          {"ratio_by_volume": [4, 1]}, {"ratio_by_volume": 0.002}, "100:15.83 by mass is 4:1 by volume"),
    Check("mixing-check", MIX, COMPUTED, used(12.0, 1.9), {"ratio_used": [6.316, 1], "verdict": "not judged"},
          {"ratio_used": 0.0005}),
    Check("mixing-check", MIX, COMPUTED, {**used(12.0, 2.1), "tolerance_pct": 10},
          {"verdict": "fail", "components": [{"deviation_pct": 0}, {"deviation_pct": 10.526}]}, {"components": 0.001}),
    Check("mixing-check", MIX, COMPUTED, {**used(12.0, 1.9), "tolerance_pct": 1}, {"verdict": "pass"}),
    *(Check("pot-life-estimate", HALVING, COMPUTED,
            {"reference_hours": hours, "reference_c": 21, "temperature_c": at}, {"pot_life_hours": life},
            {"pot_life_hours": 0.00005})
      for hours, at, life in ((4, 31, 2), (4, 11, 8), (4, 26, 2.8284), (4, 41, 1), (2, 36, 0.7071))),
    Check("pot-life-estimate", HALVING, COMPUTED,
          {"reference_hours": 4, "reference_c": 21, "temperature_c": 31,
           "stays": [{"temperature_c": 21, "hours": 1}, {"temperature_c": 31, "hours": 1}]},
          {"used_pct": 75, "left_hours": 0.5}),
    Check("pot-life", "Data sheet as declared: the warmer row for pot life, the colder for induction", COMMON,
          {"paint_c": 25, "data_sheet": [{"temperature_c": 20, "pot_life_hours": 4, "induction_minutes": 15},
                                         {"temperature_c": 30, "pot_life_hours": 2, "induction_minutes": 10}]},
          {"pot_life_hours": 2, "induction_minutes": 15},
          note="UFGS 09971 has about 2.83 h at 26 °C for 4 h at 21: the row is the careful one"),
    *(Check("recoat-clock", f"{RULE}: {told}", how, clocked(*steel), {"opens_at": opens, "closes_at": closes})
      for told, how, steel, opens, closes in (
          ("at a stated temperature the stated hours", COMPUTED, (20,), "2026-06-01T16:00:00+00:00",
           "2026-06-03T08:00:00+00:00"),
          ("half of 8 h at 20 °C and half of 16 h at 10 °C", COMMON, (20, 20, 20, 20, 10), "2026-06-01T20:00:00+00:00",
           "2026-06-05T04:00:00+00:00"),
          ("at 15 °C, half way between 10 and 20 °C, 12 h and 72 h", COMMON, (15,), "2026-06-01T20:00:00+00:00",
           "2026-06-04T08:00:00+00:00"),
      )),
    Check("recoat-clock", f"{RULE}: nothing beyond the stated temperatures", COMMON, clocked(9.9),
          {"state": "not known"}),
    *(Check("drying-log", RECOAT, STORED, hourly(*log), {"hours": most}, compute=greatest_hours)
      for log, most in (((18, 19, 24, 20), 48), ((18, 18), 48), ((30, 34, 22), 24))),
    Check("drying-log", "Sum of the shares of time at each temperature: half of 8 h and half of 6 h", COMMON,
          hourly(20, 20, 20, 20, 20, 25, 25, 25, gap=1), {"dried_pct": 5 * 100 / 8 + 2 * 100 / 6},
          {"dried_pct": 1e-9}, "an interval counts at its colder end: five hours at 20 °C, two at 25 °C"),
    Check("drying-log", "A coat of 8 h at a steady 20 °C is dry after 8 h", COMPUTED, hourly(*[20] * 9),
          {"verdict": "pass", "opens_at": "2026-06-01T16:00:00+00:00", "dried_pct": 100}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check: Check) -> None:
    holds(check)


# --- mixing -----------------------------------------------------------------------------------------------------------
def test_a_part_kit_is_told_and_a_whole_one_is_not() -> None:
    """UFGS 09971 (stored source): no partial kits."""
    whole = {"components": FOUR_TO_ONE, "parts_by": "volume", "mixed_litres": 40, "kit_litres": 20}
    assert calculate("mixing-ratio", whole)["notes"] == []
    assert "part kit" in calculate("mixing-ratio", {**whole, "mixed_litres": 30})["notes"][0]


def test_litres_against_a_ratio_by_mass_need_every_density() -> None:
    light = [{"name": "A", "parts": 4, "used": 4}, {"name": "B", "parts": 1, "used": 1}]
    told = faults("mixing-check", {"components": light, "parts_by": "mass", "used_by": "volume"})
    assert "density of every component" in told["used_by"]
    by_volume = {"components": light, "parts_by": "volume", "used_by": "volume", "tolerance_pct": 1}
    assert calculate("mixing-check", by_volume)["verdict"] == "pass"


def test_a_component_taken_for_the_other_is_far_off() -> None:
    """Component B poured as A: 4 parts of it to 1 of A."""
    answer = calculate("mixing-check", {**used(1.9, 12.0), "tolerance_pct": 10})
    assert (answer["verdict"], answer["components"][1]["deviation_pct"] > 1000) == ("fail", True)


# --- pot life ---------------------------------------------------------------------------------------------------------
SHEET = [
    {"temperature_c": 10, "pot_life_hours": 8, "induction_minutes": 30},
    {"temperature_c": 20, "pot_life_hours": 4, "induction_minutes": 15},
]


def test_pot_life_runs_from_mixing_and_stays_within_the_table() -> None:
    answer = calculate("pot-life", {"paint_c": 20, "data_sheet": SHEET, "mixed_at": "2026-06-01T08:00+02:00"})
    assert (answer["usable_from"], answer["usable_until"]) == ("2026-06-01T08:15:00+02:00", "2026-06-01T12:00:00+02:00")
    for outside in (9.9, 20.1):
        assert "nothing is guessed beyond" in faults("pot-life", {"paint_c": outside, "data_sheet": SHEET})["paint_c"]


def test_pot_life_that_grows_with_warmth_is_refused() -> None:
    odd = [*SHEET, {"temperature_c": 30, "pot_life_hours": 5, "induction_minutes": 5}]
    assert "does not grow" in faults("pot-life", {"paint_c": 15, "data_sheet": odd})["data_sheet"]


def test_the_rule_of_halving_is_refused_far_from_its_reference() -> None:
    asked = {"reference_hours": 4, "reference_c": 21, "temperature_c": 41.1}
    assert "too rough" in faults("pot-life-estimate", asked)["temperature_c"]


def test_a_used_up_pot_life_leaves_nothing() -> None:
    asked = {"reference_hours": 4, "reference_c": 21, "temperature_c": 21, "stays": [{"temperature_c": 31, "hours": 2}]}
    answer = calculate("pot-life-estimate", asked)
    assert (answer["left_hours"], answer["notes"]) == (0, ["The pot life is used up: throw the paint away."])


# --- VOC --------------------------------------------------------------------------------------------------------------
def test_which_formula_a_limit_means_decides_and_is_declared() -> None:
    """US air district (stored source): with water the regulatory value is higher than the actual one."""
    watery = {"poured": [lb("paint", 100, 0.332, 62.4)], "limit_g_per_l": 0.5 * LB_PER_GAL}
    assert calculate("voc-as-applied", {**watery, "limit_is": WITH_WATER})["verdict"] == "pass"
    assert calculate("voc-as-applied", {**watery, "limit_is": LESS_WATER})["verdict"] == "fail"
    assert "belong together" in faults("voc-as-applied", watery)["limit_is"]


def test_a_paint_already_above_its_limit_takes_no_thinner() -> None:
    asked = {
        "poured": [lb("paint", 5, 4)], "limit_g_per_l": 420, "limit_is": WITH_WATER, "thinner_voc_g_per_l": 870,
    }  # fmt: skip
    assert calculate("voc-as-applied", asked)["most_thinner_litres"] == 0


def test_percents_beyond_the_whole_are_refused() -> None:
    assert (
        "more than 100 %"
        in faults("voc-content", {"density_kg_per_l": 1, "solids_pct": 60, "water_pct": 41})["solids_pct"]
    )
    heavy = {"density_kg_per_l": 2, "solids_pct": 20, "water_pct": 60}
    assert "leaves no volume" in faults("voc-content", heavy)["water_pct"]


# --- drying over a log ------------------------------------------------------------------------------------------------
PLAIN = [{"temperature_c": 10, "minimum_hours": 8}, {"temperature_c": 20, "minimum_hours": 4}]


def test_between_two_rows_the_colder_one_counts_for_the_least_time() -> None:
    assert calculate("drying-log", hourly(19, 19, 19, table=PLAIN))["dried_pct"] == 25


def test_what_dries_below_the_table_is_not_counted_and_told() -> None:
    answer = calculate("drying-log", hourly(9, 9, 9, table=PLAIN))
    assert answer["dried_pct"] == 0
    assert "2 h colder than 10 °C" in answer["notes"][0]


def test_a_gap_dries_nothing_and_is_told() -> None:
    asked = hourly(20, 20, 20, 20, 20, table=PLAIN)
    del asked["log_c"][2]
    answer = calculate("drying-log", asked)
    assert (answer["dried_pct"], answer["gap_hours"], answer["verdict"]) == (50, 2, "fail")
    assert answer["notes"] == [
        "No readings from 2026-06-01T09:00:00+00:00 to 2026-06-01T11:00:00+00:00: nothing counts as dried there."
    ]


def test_a_log_that_begins_late_or_ends_early_leaves_a_gap_too() -> None:
    asked = {**hourly(20, 20, table=PLAIN), "applied_at": "2026-06-01T05:00+00:00", "moment": "2026-06-01T12:00+00:00"}
    answer = calculate("drying-log", asked)
    assert (answer["gap_hours"], answer["dried_pct"]) == (6, 25)


def test_in_a_gap_the_greatest_time_runs_by_the_hottest_row() -> None:
    asked = hourly(18, 18, 18, 18)
    del asked["log_c"][1:3]
    assert calculate("drying-log", asked)["maximum_used_pct"] == 25, "three hours of the 12 at 39 to 43 °C"


def test_the_hottest_reading_closes_earlier_than_summed_shares() -> None:
    log = (18, 34, 18, 18, 18, 18)
    careful, summed = (
        calculate("drying-log", hourly(*log, closing_by=how)) for how in ("hottest reading", "summed shares")
    )
    assert careful["maximum_used_pct"] == pytest.approx(100 * 5 / 24)
    assert summed["maximum_used_pct"] == pytest.approx(100 * (2 / 24 + 3 / 48))


def test_hotter_than_the_table_nobody_knows_the_greatest_time() -> None:
    asked = hourly(*[20] * 8, 44, 20)
    answer = calculate("drying-log", asked)
    assert (answer["verdict"], "maximum_used_pct" in answer) == ("not judged", False)
    assert "greatest time is unknown" in answer["notes"][-1]


def test_a_window_that_closed_says_when() -> None:
    table = [{"temperature_c": 20, "minimum_hours": 1, "maximum_hours": 2}]
    answer = calculate("drying-log", hourly(20, 20, 20, 20, table=table))
    assert (answer["verdict"], answer["state"]) == ("fail", "past its greatest time")
    assert answer["closed_at"] == "2026-06-01T10:00:00+00:00"


def test_readings_out_of_order_and_without_offset_are_refused() -> None:
    asked = hourly(20, 20, 20, table=PLAIN)
    asked["log_c"][1]["at"] = asked["log_c"][0]["at"]
    assert "later than the reading before" in faults("drying-log", asked)["log_c[1]"]
    asked["log_c"][1]["at"] = "2026-06-01T09:00"
    assert "offset from UTC" in faults("drying-log", asked)["log_c[1]"]


def test_two_weeks_of_readings_each_ten_minutes_is_summed_well_within_a_second() -> None:
    from datetime import UTC, datetime, timedelta
    from time import process_time

    start = datetime(2026, 1, 1, tzinfo=UTC)
    log = [{"at": (start + n * timedelta(minutes=10)).isoformat(), "value": 10 + n % 11} for n in range(6 * 24 * 14)]
    asked = {**hourly(20, table=PLAIN), "applied_at": log[0]["at"], "moment": log[-1]["at"], "log_c": log}
    begun = process_time()
    assert calculate("drying-log", asked)["verdict"] == "pass"
    assert process_time() - begun < 1
