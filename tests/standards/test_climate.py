"""What must hold of humidity, dew point, the margin and drying, whatever is read on site."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from inspection.standards import InputFault, calculate

unhurried = settings(deadline=None, derandomize=True)

temperatures = st.decimals(-20, 60, places=1).map(float)
humidities = st.decimals("1", "100", places=1).map(float)


def air(dry, **more):
    return calculate("dew-point", {"dry_bulb_c": dry, **more})


def answer_or_skip(dry, **more):
    try:
        return air(dry, **more)
    except InputFault as wrong:
        assume("formula ends" not in str(wrong) and "cannot occur" not in str(wrong))
        raise


@unhurried
@given(temperatures, humidities)
def test_dew_point_is_never_above_the_air(dry, humidity):
    answer = answer_or_skip(dry, relative_humidity_pct=humidity)
    assert answer["dew_point_c"] <= dry + 1e-9
    if "frost_point_c" in answer:
        assert answer["dew_point_c"] <= answer["frost_point_c"] <= 0


@unhurried
@given(temperatures, humidities)
def test_humidity_and_dew_point_lead_back_to_each_other(dry, humidity):
    dew = min(answer_or_skip(dry, relative_humidity_pct=humidity)["dew_point_c"], dry)
    assert air(dry, dew_point_c=dew)["relative_humidity_pct"] == pytest.approx(humidity, abs=1e-6)


@unhurried
@given(temperatures, humidities, humidities)
def test_more_humid_air_has_the_higher_dew_point(dry, one, other):
    assume(one < other)
    drier = answer_or_skip(dry, relative_humidity_pct=one)
    assert drier["dew_point_c"] < air(dry, relative_humidity_pct=other)["dew_point_c"]


@unhurried
@given(st.decimals(1, 60, places=1).map(float), st.decimals(0, 20, places=1).map(float))
def test_a_greater_depression_of_the_wet_bulb_means_drier_air(dry, depression):
    wet = dry - depression
    assume(wet > 0.2)
    answer = answer_or_skip(dry, wet_bulb_c=wet)
    nearer = air(dry, wet_bulb_c=min(dry, wet + 0.1))
    assert answer["relative_humidity_pct"] <= nearer["relative_humidity_pct"] <= 100 + 1e-9


@unhurried
@given(temperatures, humidities, st.decimals(-20, 60, places=1).map(float))
def test_water_condenses_exactly_when_the_surface_is_below_the_dew_point(dry, humidity, surface):
    answer = answer_or_skip(dry, relative_humidity_pct=humidity, surface_c=surface)
    assume(abs(answer["margin_c"]) > 1e-9)
    assert (answer["surface_relative_humidity_pct"] > 100) == (answer["margin_c"] < 0)


@unhurried
@given(st.integers(-200, 900), st.integers(0, 500))
def test_the_margin_is_compared_as_typed(surface, dew):
    """Tenths of a degree: binary floating point would lose some margins of exactly 3."""
    answer = calculate("condensation-rule", {"surface_c": surface / 10, "dew_point_c": dew / 10})
    assert answer["allowed"] == (surface - dew >= 30)


@unhurried
@given(temperatures, humidities)
def test_a_reading_inside_all_limits_stays_inside_when_limits_are_widened(dry, humidity):
    reading = {"dry_bulb_c": dry, "relative_humidity_pct": humidity, "surface_c": min(dry + 5, 60)}
    tight = {"minimum_air_c": 5, "maximum_relative_humidity_pct": 80, "minimum_margin_c": 4}
    wide = {"minimum_air_c": 0, "maximum_relative_humidity_pct": 85, "minimum_margin_c": 3}
    answer_or_skip(dry, relative_humidity_pct=humidity)
    if calculate("climate-limits", {**reading, **tight})["verdict"] == "pass":
        assert calculate("climate-limits", {**reading, **wide})["verdict"] == "pass"


@pytest.mark.parametrize(
    ("given_", "field", "words"),
    [
        ({"wet_bulb_c": 20.1}, "wet_bulb_c", "cannot be above the air temperature"),
        ({"dew_point_c": 20.1}, "dew_point_c", "cannot be above the air temperature"),
        ({"relative_humidity_pct": 0}, "relative_humidity_pct", "more than 0"),
        ({"relative_humidity_pct": 100.1}, "relative_humidity_pct", "at most 100"),
        ({}, "wet_bulb_c", "give one of"),
        ({"wet_bulb_c": 15, "relative_humidity_pct": 60}, "relative_humidity_pct", "only one"),
        ({"wet_bulb_c": 2}, "wet_bulb_c", "cannot occur together"),
        ({"wet_bulb_c": 15, "wet_bulb_over": "ice"}, "wet_bulb_over", "no ice"),
        ({"wet_bulb_c": -1}, "wet_bulb_over", "water or ice"),
        ({"dew_point_c": -45.1}, "dew_point_c", "at least -45"),
    ],
)
def test_impossible_air_is_refused_by_name(given_, field, words):
    with pytest.raises(InputFault) as wrong:
        air(20, **given_)
    assert any(fault.field == field and words in fault.message for fault in wrong.value.faults), str(wrong.value)


def test_the_coefficient_and_pressure_are_kept_with_the_result():
    over_water, over_ice = air(5, wet_bulb_c=3), air(-3, wet_bulb_c=-4, wet_bulb_over="ice")
    assert (over_water["psychrometer_coefficient_per_k"], over_water["pressure_hpa"]) == (0.000662, 1013.25)
    assert over_ice["psychrometer_coefficient_per_k"] == 0.000583
    chosen = air(23, wet_bulb_c=18, psychrometer_coefficient_per_k=0.000621, pressure_hpa=900)
    assert (chosen["psychrometer_coefficient_per_k"], chosen["pressure_hpa"]) == (0.000621, 900)
    assert "pressure_hpa" not in air(23, relative_humidity_pct=60)


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"minimum_air_c": 30, "maximum_air_c": 10}, "maximum_air_c"),
        ({"minimum_surface_c": 30, "maximum_surface_c": 10}, "maximum_surface_c"),
        ({"minimum_relative_humidity_pct": 60, "maximum_relative_humidity_pct": 50}, "maximum_relative_humidity_pct"),
        ({"warmest_surface_c": 14}, "warmest_surface_c"),
        ({"minimum_margin_c": 3, "minimum_margin_f": 5}, "minimum_margin_f"),
    ],
)
def test_contradictory_limits_are_refused_by_name(given_, field):
    reading = {"dry_bulb_c": 18, "relative_humidity_pct": 60, "surface_c": 15}
    with pytest.raises(InputFault) as wrong:
        calculate("climate-limits", {**reading, **given_})
    assert field in {fault.field for fault in wrong.value.faults}


def test_every_limit_broken_is_a_check_failed():
    answer = calculate(
        "climate-limits",
        {
            "dry_bulb_c": 4, "relative_humidity_pct": 90, "surface_c": 3, "warmest_surface_c": 51, "minimum_air_c": 5,
            "maximum_relative_humidity_pct": 85, "minimum_surface_c": 5, "maximum_surface_c": 50,
        },
    )  # fmt: skip
    assert answer["verdict"] == "fail"
    assert {check["name"] for check in answer["checks"] if not check["passed"]} == {
        "least air temperature", "greatest relative humidity", "least surface temperature",
        "greatest surface temperature", "margin above dew point",
    }  # fmt: skip


WINDOW = {"applied_at": "2026-05-31T08:00+02:00", "minimum_hours": 12, "maximum_hours": 72}


@pytest.mark.parametrize(
    ("moment", "state", "verdict"),
    [
        ("2026-05-31T08:00+02:00", "not yet open", "fail"),
        ("2026-05-31T19:59:59+02:00", "not yet open", "fail"),
        ("2026-05-31T20:00+02:00", "open", "pass"),
        ("2026-06-03T03:59+02:00", "open", "pass"),
        ("2026-06-03T04:00+02:00", "closing", "pass"),
        ("2026-06-03T08:00+02:00", "closing", "pass"),
        ("2026-06-03T08:00:01+02:00", "closed", "fail"),
    ],
)
def test_the_window_opens_closes_and_includes_both_ends(moment, state, verdict):
    answer = calculate("recoat-window", {**WINDOW, "moment": moment})
    assert (answer["state"], answer["verdict"]) == (state, verdict)


def test_the_window_is_read_between_the_temperatures_of_the_data_sheet():
    rows = [
        {"temperature_c": 10, "minimum_hours": 16, "maximum_hours": 96},
        {"temperature_c": 20, "minimum_hours": 8, "maximum_hours": 48},
    ]
    asked = {"applied_at": WINDOW["applied_at"], "moment": "2026-05-31T20:00+02:00", "data_sheet": rows}
    warm = calculate("recoat-window", {**asked, "temperature_c": 20})
    between = calculate("recoat-window", {**asked, "temperature_c": 15, "interpolation": "linear"})
    assert (warm["minimum_hours"], warm["maximum_hours"], warm["state"]) == (8, 48, "open")
    assert between["minimum_hours"] == 12
    assert between["maximum_hours"] == pytest.approx((48 * 96) ** 0.5), "the shorter of both: 67.9 h, not 72 h"
    late = calculate("recoat-window", {**asked, "temperature_c": 15, "interpolation": "linear",
                                       "moment": "2026-06-03T05:00+02:00"})  # fmt: skip
    assert late["state"] == "closed"
    with pytest.raises(InputFault, match=r"temperature_c: the data sheet reaches from 10 to 20 °C"):
        calculate("recoat-window", {**asked, "temperature_c": 9.9})


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"moment": "2026-05-31T07:59+02:00"}, "moment"),
        ({"moment": "2026-06-01T07:59"}, "moment"),
        ({"moment": "yesterday"}, "moment"),
        ({"moment": "9999-12-31T07:59+00:00"}, "moment"),
        ({"moment": "2026-06-01T07:59Z", "maximum_hours": 11}, "maximum_hours"),
    ],
)
def test_moments_and_times_that_cannot_be_are_refused(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("recoat-window", {**WINDOW, **given_})
    assert [fault.field for fault in wrong.value.faults] == [field]


@unhurried
@given(st.decimals(5, 35, places=1).map(float), st.decimals(5, 35, places=1).map(float))
def test_warmer_never_dries_slower_and_linear_is_the_longer_guess(one, other):
    sheet = [{"temperature_c": t, "hours": h} for t, h in ((5, 30), (10, 18), (20, 8), (35, 4))]

    def hours(celsius, interpolation):
        asked = {"temperature_c": celsius, "data_sheet": sheet, "interpolation": interpolation}
        return calculate("drying-time", asked)["hours"]

    cool, warm = sorted((one, other))
    for interpolation in ("logarithmic", "linear"):
        assert hours(cool, interpolation) >= hours(warm, interpolation) - 1e-9
    assert hours(one, "logarithmic") <= hours(one, "linear") + 1e-9


def test_a_stated_temperature_gives_the_stated_time():
    sheet = [{"temperature_c": 20, "hours": 8}, {"temperature_c": 10, "hours": 16.5}]
    for row in sheet:
        asked = {"temperature_c": row["temperature_c"], "data_sheet": sheet}
        assert calculate("drying-time", asked)["hours"] == row["hours"]


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        ([{"temperature_c": 10, "hours": 8}, {"temperature_c": 20, "hours": 9}], "longer than"),
        ([{"temperature_c": 10, "hours": 8}, {"temperature_c": 10, "hours": 7}], "stated twice"),
        ([{"temperature_c": 10, "hours": 8}], "at least 2"),
    ],
)
def test_a_data_sheet_that_contradicts_itself_is_refused(sheet, words):
    with pytest.raises(InputFault, match=f"data_sheet: .*{words}"):
        calculate("drying-time", {"temperature_c": 10, "data_sheet": sheet})


def test_zero_degrees_belongs_to_ice_and_water_alike():
    assert calculate("saturation-vapour-pressure", {"temperature_c": 0, "over": "ice"})[
        "saturation_vapour_pressure_hpa"
    ] == pytest.approx(6.112)
    with pytest.raises(InputFault, match="no ice above 0"):
        calculate("saturation-vapour-pressure", {"temperature_c": 0.1, "over": "ice"})
    with pytest.raises(InputFault, match="wet_bulb_over"):
        air(1, wet_bulb_c=0)
    assert air(1, wet_bulb_c=0, wet_bulb_over="ice")["psychrometer_coefficient_per_k"] == 0.000583
    assert "frost_point_c" not in air(1, dew_point_c=0)
    assert air(-20, dew_point_c=-45)["dew_point_c"] == -45


def test_cold_steel_is_shown_above_dew_point_and_frost_point():
    answer = air(-2, relative_humidity_pct=80, surface_c=-3)
    assert answer["margin_c"] == pytest.approx(-3 - answer["dew_point_c"])
    assert answer["frost_margin_c"] == pytest.approx(-3 - answer["frost_point_c"])
    assert answer["frost_margin_c"] < answer["margin_c"]


def test_the_judged_reading_shows_the_same_air_as_the_dew_point():
    reading = {"dry_bulb_c": 18, "relative_humidity_pct": 60, "surface_c": 15}
    alone, judged = calculate("dew-point", reading), calculate("climate-limits", reading)
    for name in ("dew_point_c", "relative_humidity_pct", "margin_c", "surface_relative_humidity_pct"):
        assert judged[name] == alone[name]
    assert judged["least_surface_c"] == pytest.approx(alone["dew_point_c"] + 3)


def test_every_limit_of_a_product_is_inclusive():
    at_the_limits = {
        "dry_bulb_c": 18, "relative_humidity_pct": 60, "surface_c": 15, "warmest_surface_c": 15, "minimum_air_c": 18,
        "maximum_air_c": 18, "minimum_surface_c": 15, "maximum_surface_c": 15, "minimum_relative_humidity_pct": 60,
        "maximum_relative_humidity_pct": 60,
    }  # fmt: skip
    assert calculate("climate-limits", at_the_limits)["verdict"] == "pass"
    for limit, just_outside in (("minimum_air_c", 18.1), ("minimum_relative_humidity_pct", 60.1)):
        tightened = {**at_the_limits, limit: just_outside, limit.replace("minimum", "maximum"): just_outside}
        assert calculate("climate-limits", tightened)["verdict"] == "fail"


ROWS = [{"temperature_c": 10, "minimum_hours": 16}, {"temperature_c": 20, "minimum_hours": 16}]
SHEET = {"applied_at": WINDOW["applied_at"], "moment": "2026-06-01T00:00+02:00", "temperature_c": 12}


def test_a_time_that_does_not_change_with_temperature_is_taken_as_stated():
    answer = calculate("recoat-window", {**SHEET, "data_sheet": ROWS})
    assert (answer["minimum_hours"], answer["state"]) == (16, "open")
    assert "maximum_hours" not in answer


def test_a_window_of_one_moment_and_the_first_and_last_year_are_allowed():
    once = calculate("recoat-window", {**WINDOW, "moment": "2026-05-31T20:00+02:00", "maximum_hours": 12})
    assert once["state"] == "closing"
    for year in (1900, 2200):
        moments = {"applied_at": f"{year}-05-31T08:00+00:00", "moment": f"{year}-05-31T09:00+00:00"}
        assert calculate("recoat-window", {**WINDOW, **moments})["state"] == "not yet open"


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"data_sheet": [{**ROWS[0], "maximum_hours": 20}, ROWS[1]]}, "data_sheet"),
        ({"data_sheet": [{**ROWS[0], "maximum_hours": 15}, {**ROWS[1], "maximum_hours": 16}]},
         "data_sheet[0].maximum_hours"),
        ({"data_sheet": ROWS, "minimum_hours": 5}, "minimum_hours"),
        ({"data_sheet": ROWS, "maximum_hours": 50}, "maximum_hours"),
        ({"data_sheet": ROWS, "temperature_c": None}, "temperature_c"),
        ({}, "minimum_hours"),
    ],
)  # fmt: skip
def test_a_window_stated_twice_or_by_halves_is_refused_by_name(given_, field):
    with pytest.raises(InputFault) as wrong:
        calculate("recoat-window", {**SHEET, **given_})
    assert [fault.field for fault in wrong.value.faults] == [field]


def test_equal_least_and_greatest_times_in_a_row_are_a_window_of_one_moment():
    rows = [{**row, "maximum_hours": 16} for row in ROWS]
    assert calculate("recoat-window", {**SHEET, "data_sheet": rows})["state"] == "closing"


def test_below_zero_the_margin_is_taken_from_the_frost_point():
    """WMO-No. 8: over ice the same vapour saturates at a higher temperature than over water."""
    dew = -10.0
    frost = air(0, dew_point_c=dew)["frost_point_c"]
    assert frost == pytest.approx(-8.9, abs=0.05), "as humidity tables have it (from memory)"
    steel = round(dew + 3.5, 1)  # 3.5 °C above the dew point, 2.4 °C above the frost point
    limits = {"dry_bulb_c": 0, "dew_point_c": dew, "surface_c": steel, "maximum_relative_humidity_pct": 85}
    judged = calculate("climate-limits", limits)
    assert judged["verdict"] == "fail"
    assert judged["margin_c"] == pytest.approx(steel - frost)
    assert judged["frost_point_c"] == pytest.approx(frost)
    assert judged["checks"][-1]["name"] == "margin above frost point"
    assert "frost and ice" in judged["notes"][0]
    rule = calculate("condensation-rule", {"surface_c": steel, "dew_point_c": dew})
    assert (rule["verdict"], rule["frost_point_c"]) == ("fail", pytest.approx(frost))
    assert rule["least_surface_c"] == pytest.approx(frost + 3)
    mild = calculate("climate-limits", {**limits, "dry_bulb_c": 20, "dew_point_c": 5, "surface_c": 9})
    assert "frost_point_c" not in mild


def test_humidity_without_a_declared_limit_is_told():
    reading = {"dry_bulb_c": 18, "relative_humidity_pct": 97, "surface_c": 25}
    told = calculate("climate-limits", reading)
    assert told["verdict"] == "pass"
    assert "97 % found was not judged" in told["notes"][0]
    assert calculate("climate-limits", {**reading, "maximum_relative_humidity_pct": 98})["notes"] == []
