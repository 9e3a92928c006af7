"""Humidity, dew point, margin and drying against handbooks, published examples and PsychroLib."""

import numpy as np
import pandas as pd
import psychrolib
import pytest

from inspection.standards import calculate
from inspection.standards.climate import saturation_hpa
from inspection.standards.logged_climate import Limit, Log, dew_points_c, judge_log
from tests.reference.table import COMMON, COMPUTED, MEMORY, STORED, Check, from_vectors, holds, vectors

ASHRAE = "ASHRAE Handbook Fundamentals 2017, ch. 1, as carried in the MIT-licensed PsychroLib test suite"
CRC = "CRC Handbook of Chemistry and Physics, vapour pressure of water"
FAO = "FAO Irrigation and Drainage Paper 56 (1998)"
TM = "US Army TM 5-3610-285-14, worked conversion of wet and dry bulb"
SENSOR_NOTE = "Humidity sensor maker's application note on the Magnus formula, worked examples"
HANDBOOK = "MIL-HDBK-1110 / UFC 3-190-06, 9.6.6"
IMO = "IMO MSC.215(82) and tank guidance: not above 85 % RH nor less than 3 °C above dew point"


# Relative humidity % and dew point °C by dry bulb °C and how much colder the wet bulb is, read off the printed tables.
NEW_YORK = "Reference Tables for Physical Setting/Earth Science, New York State: relative humidity and dew point"
READ_OFF = (
    (10, 1, 88, 8), (10, 3, 66, 4), (10, 5, 44, -1), (20, 1, 91, 19), (20, 3, 74, 15), (20, 5, 58, 12),
    (20, 7, 44, 7), (30, 1, 93, 29), (30, 3, 79, 26), (30, 5, 67, 23),
)  # fmt: skip


def school_tables():
    for dry, colder, humidity, dew_point in READ_OFF:
        yield Check("dew-point", NEW_YORK, MEMORY, {"dry_bulb_c": dry, "wet_bulb_c": dry - colder},
                    {"relative_humidity_pct": humidity, "dew_point_c": dew_point},
                    {"relative_humidity_pct": 2, "dew_point_c": 1.2},
                    "whole numbers read off a printed table for a sling psychrometer")  # fmt: skip


def as_psychrometer(inputs):
    """The vectors of the psychrometer speak in Pa and know a humidity ratio we do not compute."""
    known = {name: value for name, value in inputs.items() if name != "humidity_ratio_kg_kg"}
    answer = calculate("dew-point", known)
    return {**answer, "vapour_pressure_pa": 100 * answer["vapour_pressure_hpa"]}


def psychrometer_vectors():
    for row in vectors("psychrometer"):
        expected = {name: value for name, value in row["expected"].items() if name != "humidity_ratio_kg_kg"}
        yield Check("dew-point", row["source"], row["provenance"], row["inputs"], expected, row["tolerance"],
                    row["note"], compute=as_psychrometer)  # fmt: skip


def saturation_vectors():
    for row in vectors("saturation-vapour-pressure"):
        value = row["expected"]["saturation_vapour_pressure_pa"]
        near = {"saturation_vapour_pressure_pa": value * row["tolerance"]["saturation_vapour_pressure_pa_relative"]}
        yield Check("saturation-vapour-pressure", row["source"], row["provenance"], row["inputs"], row["expected"],
                    near, row["note"])  # fmt: skip


def condensation_vectors():
    for row in vectors("condensation-rule"):
        inputs, expected = dict(row["inputs"]), dict(row["expected"])
        if "margin_f" in inputs:
            inputs = {"surface_c": 20, "dew_point_c": 10, "minimum_margin_f": inputs["margin_f"]}
            expected = {"minimum_margin_c": expected["margin_c"]}
            row["tolerance"] = {"minimum_margin_c": 0.0001}
        yield Check(
            "condensation-rule", row["source"], row["provenance"], inputs, expected, row["tolerance"], row["note"]
        )


def saturation(source, provenance, celsius, pascal, near, over="water"):
    inputs = {"temperature_c": celsius, "over": over}
    return Check("saturation-vapour-pressure", source, provenance, inputs, {"saturation_vapour_pressure_pa": pascal},
                 {"saturation_vapour_pressure_pa": pascal * near})  # fmt: skip


def limits(given, verdict, note):
    reading = {"dry_bulb_c": 20, "maximum_relative_humidity_pct": 85}
    return Check("climate-limits", IMO, STORED, {**reading, **given}, {"verdict": verdict}, note=note)


def condensation(source, provenance, given, allowed):
    return Check("condensation-rule", source, provenance, given, {"allowed": allowed})


CHECKS = [
    *from_vectors("dew-point"),
    *psychrometer_vectors(),
    *saturation_vectors(),
    *condensation_vectors(),
    # The Magnus form over ice is within 0.03 % of the handbook table.
    saturation(ASHRAE + ", table 3, over ice", STORED, -20, 103.24, 0.0005, "ice"),
    saturation(ASHRAE + ", table 3, over ice", STORED, -5, 401.74, 0.0005, "ice"),
    # Over water it is up to 0.31 % off between 10 and 60 °C: 0.05 °C of dew point.
    *(
        saturation(CRC, MEMORY, celsius, 1000 * kilopascal, 0.0032)
        for celsius, kilopascal in ((10, 1.2281), (20, 2.3388), (30, 4.2455), (40, 7.3814), (50, 12.344), (60, 19.932))
    ),
    saturation(FAO + ", example 3, as quoted by a library's documentation", STORED, 15.0, 1705, 0.003),
    saturation(FAO + ", example 3, as quoted by a library's documentation", STORED, 24.5, 3075, 0.003),
    Check("dew-point", FAO + ", example 4, ventilated psychrometer at 1200 m", MEMORY,
          {"dry_bulb_c": 25.6, "wet_bulb_c": 19.5, "pressure_hpa": 879}, {"vapour_pressure_hpa": 19.1},
          {"vapour_pressure_hpa": 0.05}, "printed 1.91 kPa"),
    Check("dew-point", ASHRAE + ", example 1", STORED, {"dry_bulb_c": 40, "wet_bulb_c": 20},
          {"relative_humidity_pct": 14, "dew_point_c": 7}, {"relative_humidity_pct": 1, "dew_point_c": 0.5},
          "read from the chart; thermodynamic wet bulb"),
    Check("dew-point", ASHRAE + ", wet bulb of -5 °C over ice at 500 m", STORED,
          {"dry_bulb_c": -1, "wet_bulb_c": -5, "wet_bulb_over": "ice", "pressure_hpa": 954.61},
          {"vapour_pressure_hpa": 1.844}, {"vapour_pressure_hpa": 0.06},
          "humidity ratio 0.001204; thermodynamic and psychrometer wet bulb differ by 3 % here"),
    Check("dew-point", "PsychroLib documentation, 25 °C and 80 %", STORED,
          {"dry_bulb_c": 25, "relative_humidity_pct": 80}, {"dew_point_c": 21.3094}, {"dew_point_c": 0.01}),
    *school_tables(),
    Check("dew-point", TM, STORED, {"dry_bulb_c": 20.0, "wet_bulb_c": 16.667}, {"relative_humidity_pct": 71},
          {"relative_humidity_pct": 1.0}, "68 °F and 62 °F give 71 %"),
    Check("dew-point", SENSOR_NOTE, MEMORY, {"dry_bulb_c": 25, "relative_humidity_pct": 10}, {"dew_point_c": -8.77},
          {"dew_point_c": 0.006}),
    Check("dew-point", SENSOR_NOTE, MEMORY, {"dry_bulb_c": 50, "relative_humidity_pct": 90}, {"dew_point_c": 47.90},
          {"dew_point_c": 0.006}),
    Check("dew-point", "Instrument maker's humidity conversion formulas, worked example", MEMORY,
          {"dry_bulb_c": 40, "relative_humidity_pct": 50}, {"dew_point_c": 27.6, "vapour_pressure_hpa": 36.88},
          {"dew_point_c": 0.05, "vapour_pressure_hpa": 0.06}, "another fit of the saturation curve there"),
    Check("dew-point", "Lawrence 2005, BAMS 86: dew point falls 1 °C for each 5 % below saturation", MEMORY,
          {"dry_bulb_c": 20, "relative_humidity_pct": 85}, {"dew_point_c": 17}, {"dew_point_c": 1.0}, "rule of thumb"),
    condensation("FHWA-RD-98-084: steel at least 3 °C above dew point", STORED,
                 {"surface_c": 8.1, "dew_point_c": 5.1}, True),
    condensation("FHWA-RD-98-084: steel at least 3 °C above dew point", STORED,
                 {"surface_c": 8.0, "dew_point_c": 5.1}, False),
    condensation(HANDBOOK + ": 5 °F", STORED, {"surface_c": 12.8, "dew_point_c": 10, "minimum_margin_f": 5}, True),
    condensation(HANDBOOK + ": 5 °F", STORED, {"surface_c": 12.7, "dew_point_c": 10, "minimum_margin_f": 5}, False),
    Check("condensation-rule", "ISO 8502-4:2017: least steel temperature from the dew point", STORED,
          {"surface_c": 20, "dew_point_c": 15.2}, {"least_surface_c": 18.2}),
    limits({"relative_humidity_pct": 85, "surface_c": 25}, "pass", "85 % is not above 85 %"),
    limits({"relative_humidity_pct": 85.1, "surface_c": 25}, "fail", "above 85 %"),
    limits({"dew_point_c": 12.3, "surface_c": 15.3}, "pass", "3 °C is not less than 3 °C"),
    limits({"dew_point_c": 12.3, "surface_c": 15.2}, "fail", "less than 3 °C"),
    limits({"relative_humidity_pct": 85, "surface_c": 20}, "fail", "85 % with steel at air temperature breaks 3 °C"),
    Check("climate-limits", HANDBOOK + ".2: coldest and warmest surface within the limits", STORED,
          {"dry_bulb_c": 20, "relative_humidity_pct": 40, "surface_c": 18, "warmest_surface_c": 46,
           "maximum_surface_c": 45}, {"verdict": "fail"}),
    Check("recoat-window", "Data-sheet overcoating window, 12 h to 72 h", COMMON,
          {"applied_at": "2026-05-31T08:00+02:00", "moment": "2026-05-31T19:59+02:00", "minimum_hours": 12,
           "maximum_hours": 72}, {"state": "not yet open", "opens_at": "2026-05-31T20:00:00+02:00"}),
    Check("recoat-window", "Data-sheet overcoating window, 12 h to 72 h", COMMON,
          {"applied_at": "2026-05-31T08:00+02:00", "moment": "2026-05-31T18:00+00:00", "minimum_hours": 12,
           "maximum_hours": 72}, {"state": "open"}, note="the same moment as 20:00 in summer time"),
    Check("drying-time", "Log-linear between 16 h at 10 °C and 8 h at 20 °C: geometric mean midway", COMPUTED,
          {"temperature_c": 15, "data_sheet": [{"temperature_c": 10, "hours": 16}, {"temperature_c": 20, "hours": 8}]},
          {"hours": 11.3137}, {"hours": 0.0001}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


@pytest.fixture
def ashrae():
    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib


def test_saturation_agrees_with_psychrolib_over_the_whole_range(ashrae):
    """Accepted: 0.35 % over water, 0.02 % over ice. PsychroLib carries the ASHRAE formulation (0.03 %); the Magnus
    form of WMO-No. 8 is simpler and leaves out the last 0.3 %, which is 0.05 °C of dew point."""
    for celsius in np.arange(0.5, 60.25, 0.25):
        assert 100 * saturation_hpa(celsius) == pytest.approx(ashrae.GetSatVapPres(celsius), rel=0.0035)
    for celsius in np.arange(-20, 0.25, 0.25):
        assert 100 * saturation_hpa(celsius, "ice") == pytest.approx(ashrae.GetSatVapPres(celsius), rel=0.0002)


def test_dew_and_frost_point_agree_with_psychrolib(ashrae):
    """Accepted: 0.09 °C, which the two saturation curves differ by at most. Below 0 °C PsychroLib gives the point over
    ice, which is our frost point."""
    compared = 0
    for dry in np.arange(0.5, 60.1, 2.5):
        for humidity in range(5, 101, 5):
            ours = calculate("dew-point", {"dry_bulb_c": float(dry), "relative_humidity_pct": humidity})
            theirs = ashrae.GetTDewPointFromRelHum(float(dry), humidity / 100)
            assert ours.get("frost_point_c", ours["dew_point_c"]) == pytest.approx(theirs, abs=0.09)
            compared += 1
    assert compared == 480


def test_humidity_by_wet_bulb_agrees_with_psychrolib(ashrae):
    """Accepted: 1.3 points of humidity. PsychroLib knows the thermodynamic wet bulb; a ventilated psychrometer reads
    a little differently, and its coefficient is a choice."""
    compared = 0
    for dry in range(5, 61, 5):
        for depression in np.arange(0.5, 25, 1.5):
            wet = float(dry - depression)
            if wet <= 1:
                continue
            ratio = ashrae.GetHumRatioFromTWetBulb(dry, wet, 101325)
            theirs = 100 * ashrae.GetRelHumFromHumRatio(dry, ratio, 101325) if ratio > 1e-4 else 0
            if theirs < 10:
                continue
            ours = calculate("dew-point", {"dry_bulb_c": dry, "wet_bulb_c": wet})["relative_humidity_pct"]
            assert ours == pytest.approx(theirs, abs=1.3)
            compared += 1
    assert compared > 120


def test_time_within_limits_agrees_with_a_count_of_seconds_by_pandas():
    """Accepted: one second at each crossing. pandas interpolates a log to every second and counts those within."""
    random = np.random.default_rng(20260304)
    at = np.cumsum(random.integers(120, 900, 400)).astype(float)
    gap = 600.0
    columns = [15 + 5 * np.sin(at / 9e3), 70 + 25 * np.sin(at / 7e3), 14 + 6 * np.sin(at / 9e3 - 0.5)]
    log = Log(at, *(column + random.normal(0, 0.5, at.size) for column in columns), np.full(at.size, np.nan))
    limits = [Limit("margin_c", 3, is_least=True), Limit("humidity_pct", 85, is_least=False)]
    begins, ends = at[20] + 17.0, at[-20] + 5.0
    ours = judge_log(log, begins, ends, limits, gap)
    frame = pd.DataFrame({"margin": log.margin_c, "humidity": log.humidity_pct}, index=pd.to_timedelta(at, unit="s"))
    seconds = pd.to_timedelta(np.arange(np.ceil(begins), np.floor(ends)), unit="s")
    every = frame.reindex(frame.index.union(seconds)).interpolate("time").loc[seconds]
    place = np.searchsorted(at, seconds.total_seconds(), side="right")
    known = at[place] - at[place - 1] <= gap
    is_in = ((every["margin"] >= 3) & (every["humidity"] <= 85)).to_numpy()
    crossings = 2 * (len(ours.breaches) + len(ours.gaps)) + 2
    assert ours.all.within_s == pytest.approx((is_in & known).sum(), abs=crossings)
    assert ours.all.unknown_s == pytest.approx((~known).sum(), abs=crossings)
    out = pd.Series(~is_in & known)
    runs = out.groupby((out != out.shift()).cumsum()).sum()
    begin, end = ours.longest_breach
    assert end - begin == pytest.approx(runs.max(), abs=2)
    mean = every["humidity"].to_numpy()[known].mean()
    assert ours.found["humidity_pct"].mean == pytest.approx(mean, abs=0.01)


def test_dew_points_of_a_log_agree_with_psychrolib(ashrae):
    """Accepted: 0.1 °C above freezing; PsychroLib uses the Hyland-Wexler formulas of the ASHRAE handbook."""
    air, humidity = (each.ravel() for each in np.meshgrid(np.arange(10, 41, 5.0), np.arange(60, 100, 5.0)))
    theirs = [ashrae.GetTDewPointFromRelHum(t, rh / 100) for t, rh in zip(air, humidity, strict=True)]
    assert dew_points_c(air, humidity) == pytest.approx(theirs, abs=0.1)
