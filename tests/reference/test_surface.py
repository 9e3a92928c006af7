"""Profile, salts, dust, abrasive and cleanliness grades against standards and published examples."""

import pytest
from scipy import stats

from inspection.standards import calculate
from tests.reference.table import COMMON, COMPUTED, MEMORY, STORED, Check, from_vectors, holds, vectors

ISO_8503 = "ISO 8503-1 and -2, segments from the data sheet of a standard comparator"
D4417_B = "ASTM D4417-14 method B: ten readings a location, its maximum"
D4417_C = "ASTM D4417 method C: replicas within 0.2 mil, else a third"
UFGS = "UFGS 09971 / 09973: 50 to 75 µm (2 to 3 mil) wanted, more than 75 rejected"
YARD = "Yard specification per IMO PSPC: profile 30 to 75 µm"
SHEET = "One-page sheet on ISO 8502-6 and -9: salts as sodium chloride by conductivity"
NORSOK = "NORSOK M-501 edition 6: dust quantity and size at most 2"
PSPC_DUST = "IMO MSC.215(82) table 1: quantity 1 for size classes 3, 4, 5"
D4940 = "ASTM D4940: water at most 5 µS/cm, two means within 5 % relative"
NAMES = "ISO 8501-1 and SSPC / NACE: near equivalents"
MEAN_OF_TEN = "Trade magazine, 2018, on ASTM D4417 B: the mean of ten readings"
ALIKE = {"observed_as": "mixed salts", "limit_as": "mixed salts"}
METHOD_SHEET = "Method sheet, 3 ml on 12.5 cm²"
PATCH_3, AS_NACL = {"volume_ml": 3, "patch_cm2": 12.5}, {"species": "sodium chloride"}
PSPC_DAMAGE = "IMO MSC.215(82) table 1, 3.3, guidance on damage areas: up to 2 % of the tank St 3"
DAMAGES = ((2000, 40, 10, "St 3"), (2000, 40.1, 10, "Sa 2½"), (2000, 25, 25, "St 3"), (2000, 26, 26, "Sa 2½"),
           (500, 10, 10, "St 3"), (500, 10.1, 5, "Sa 2½"), (5000, 90, 30, "Sa 2½"))  # fmt: skip
THREE_LOCATIONS = [
    [48, 52, 61, 55, 57, 63, 50, 59, 54, 58], [60, 66, 62, 71, 58, 64, 69, 61, 65, 63],
    [72, 70, 68, 75, 66, 74, 77, 69, 71, 73],
]  # fmt: skip
TEN_READINGS = [55, 61, 48, 66, 70, 59, 52, 63, 58, 60]


def replica_vectors():
    """The second vector speaks of heights alone."""
    return [
        Check("profile-replica", row["source"], row["provenance"], row["inputs"], row["expected"], row["tolerance"])
        for row in vectors("profile-replica")
    ]


def grade(source, provenance, written, near):
    return Check("grade-equivalents", source, provenance, {"grade": written}, {"near_equivalents": near})


def dust(source, quantity, size, rule, verdict):
    inputs = {"ratings": [{"quantity": quantity, "size_class": size}], "rule": rule}
    return Check("dust-rating", source, MEMORY, inputs, {"verdict": verdict})


def abrasive(source, provenance, means, water, limit, verdict):
    method = "ISO 11127-6" if limit == "ISO 11126" else "ASTM D4940"
    inputs = {"means_us_cm": means, "water_us_cm": water, "method": method, "limit": limit}
    return Check("abrasive-conductivity", source, provenance, inputs, {"verdict": verdict})


def depth(source, provenance, value, given, expected):
    inputs = {"locations_um": [TEN_READINGS], "location_value": value, **given}
    return Check("profile-depth-micrometer", source, provenance, inputs, expected)


def salts(source, provenance, conductivity, density, given=None):
    inputs = {"conductivity_us_cm": conductivity, **(given or {})}
    return Check("salts-bresle", source, provenance, inputs, {"density_mg_m2": density}, {"density_mg_m2": 1e-9})


def edge(given, verdict):
    source = "IMO MSC.215(82): edges of 2 mm radius or three grinding passes"
    return Check("edge-preparation", source, MEMORY, given, {"verdict": verdict})


CHECKS = [
    *from_vectors("profile-grade"),
    *from_vectors("profile-correction"),
    *replica_vectors(),
    *from_vectors("salts-bresle"),
    *from_vectors("salts-decision"),
    Check("profile-correction", "ISO 19840:2012 Annex A: no correction after adjusting on the rough surface", MEMORY,
          {"grade": "coarse", "gauge_adjusted_on": "blasted surface"}, {"correction_um": 0}),
    Check("profile-correction", "ISO 19840:2012 clause 7, fine", MEMORY, {"grade": "fine"}, {"correction_um": 10}),
    Check("profile-grade", ISO_8503, STORED, {"profile_um": 60, "abrasive": "grit"},
          {"grade": "medium", "from_um": 60, "below_um": 100}),
    Check("profile-comparator", ISO_8503, STORED, {"abrasive": "shot", "segments": [0, 1, 2, 3, 4]},
          {"grades": ["finer than fine", "fine", "medium", "coarse", "coarser than coarse"], "grade": "mixed"}),
    Check("profile-replica", D4417_C, MEMORY, {"heights_mil": [2.4, 2.6]}, {"agree": True, "location_mean_mil": 2.5}),
    Check("profile-replica", D4417_C, MEMORY, {"heights_mil": [2.4, 2.7, 2.6]},
          {"agree": True, "location_mean_mil": 2.65}, {"location_mean_mil": 1e-9}, "the third agrees with the second"),
    Check("profile-replica", UFGS, STORED, {"gauge_readings_mil": [4.9, 5.0], "backing_mil": 2.0, "maximum_mil": 3},
          {"verdict": "pass", "location_mean_mil": 2.95}, {"location_mean_mil": 1e-9}),
    Check("profile-replica", UFGS, STORED, {"gauge_readings_um": [127, 126], "backing_um": 50, "maximum_um": 75},
          {"verdict": "fail"}),
    depth(D4417_B, STORED, "mean", {}, {"location_values_um": [59.2], "verdict": "not judged"}),
    depth(D4417_B, STORED, "maximum", {}, {"location_values_um": [70]}),
    Check("profile-depth-micrometer", MEAN_OF_TEN, STORED, {"locations_um": THREE_LOCATIONS, "location_value": "mean"},
          {"location_values_um": [55.7, 63.9, 71.5], "mean_um": 191.1 / 3}, {"mean_um": 1e-9}),
    Check("profile-depth-micrometer", D4417_B, STORED, {"locations_um": THREE_LOCATIONS, "location_value": "maximum"},
          {"location_values_um": [63, 71, 77], "mean_um": 70.333}, {"mean_um": 0.0005}),
    Check("profile-depth-micrometer", MEAN_OF_TEN + ", every location from 50 to 75 µm", MEMORY,
          {"locations_um": THREE_LOCATIONS, "location_value": "mean", "minimum_um": 50, "maximum_um": 75},
          {"verdict": "pass"}),
    Check("profile-depth-micrometer", D4417_B + ", every location from 50 to 75 µm", MEMORY,
          {"locations_um": THREE_LOCATIONS, "location_value": "maximum", "minimum_um": 50, "maximum_um": 75},
          {"verdict": "fail"}),
    depth(YARD, STORED, "maximum", {"minimum_um": 30, "maximum_um": 75}, {"verdict": "pass"}),
    depth(YARD, STORED, "mean", {"minimum_um": 60, "maximum_um": 75}, {"verdict": "fail"}),
    Check("profile-depth-micrometer", D4417_B, STORED, {"locations_um": [TEN_READINGS[:9]], "location_value": "mean"},
          {"verdict": "incomplete", "location_values_um": [None]}, note="nine readings are too few"),
    Check("profile-stylus", "ISO 8503-4: five sampling lengths a trace", MEMORY,
          {"traces_um": [[52, 60, 57, 49, 66], [61, 58, 70, 55, 62]]},
          {"trace_means_um": [56.8, 61.2], "mean_um": 59, "verdict": "not judged"}),
    Check("profile-stylus", "ISO 8503-4: five sampling lengths a trace", MEMORY, {"traces_um": [[50, 60, 55, 70, 65]]},
          {"mean_um": 60}),
    Check("profile-stylus", "ISO 8503-4: range 20 to 200 µm", STORED,
          {"traces_um": [[19, 20, 18, 19, 20]], "minimum_um": 10}, {"verdict": "not judged"}),
    salts(SHEET, STORED, 4, 24),
    salts(SHEET, STORED, 6, 36),
    salts(SHEET, STORED, 12, 72),
    salts("Public program text of the ISO 8502-9 formula, factor 1.2 at 3 ml", STORED, 10, 12, {"volume_ml": 3}),
    salts("Public program text of the ISO 8502-9 formula, factor 1.0 at 2.5 ml", STORED, 10, 10, {"volume_ml": 2.5}),
    Check("salts-bresle", "Bridge study: 1 µg/cm² is 10 mg/m²", STORED, {"conductivity_us_cm": 10},
          {"density_ug_cm2": 6}),
    Check("salts-bresle", "Article on the patch method: blank at most 5 µS/cm", STORED,
          {"conductivity_us_cm": 10, "blank_us_cm": 5.1}, {"blank_clean": False}),
    Check("salts-decision", "NACE SP0508, 1.1.3: ±8.2 mg/m² from 30 to 80 mg/m²", STORED,
          {**ALIKE, "observed_mg_m2": 50, "limit_mg_m2": 50},
          {"probability_above_limit": 0.5, "verdict": "pass", "precision_known": True}),
    Check("salts-decision", "NACE SP0508, 1.1.3: ±8.2 mg/m² from 30 to 80 mg/m²", STORED,
          {**ALIKE, "observed_mg_m2": 15, "limit_mg_m2": 20}, {"precision_known": False}),
    Check("salts-decision", "IMO MSC.215(82): at most 50 mg/m²", STORED,
          {**ALIKE, "observed_mg_m2": 50.1, "limit_mg_m2": 50}, {"verdict": "fail"}),
    Check("salts-decision", "Method sheet on the patch: 3 ml on 12.5 cm², 1.2 mg/m² per µS/cm of mixed salts, 1.1 as "
          "sodium chloride", STORED,
          {"observed_mg_m2": 54, "observed_as": "mixed salts", "limit_mg_m2": 50, "limit_as": "sodium chloride"},
          {"verdict": "pass", "compared_mg_m2": 49.5}),
    Check("salts-decision", "Method sheet on the patch: 3 ml on 12.5 cm², 1.2 mg/m² per µS/cm of mixed salts, 1.1 as "
          "sodium chloride", STORED,
          {"observed_mg_m2": 49.5, "observed_as": "sodium chloride", "limit_mg_m2": 50, "limit_as": "mixed salts"},
          {"verdict": "fail", "compared_mg_m2": 54}),
    dust(NORSOK, 2, 2, "NORSOK M-501", "pass"),
    dust(NORSOK, 3, 2, "NORSOK M-501", "fail"),
    dust(NORSOK, 2, 3, "NORSOK M-501", "fail"),
    dust(PSPC_DUST, 1, 5, "IMO PSPC", "pass"),
    dust(PSPC_DUST, 2, 3, "IMO PSPC", "fail"),
    dust(PSPC_DUST + "; finer removed if visible", 1, 2, "IMO PSPC", "fail"),
    dust(PSPC_DUST + "; finer removed if visible", 4, 1, "IMO PSPC", "pass"),
    abrasive(D4940, STORED, [100, 104], 5, "SSPC-AB 1", "pass"),
    abrasive(D4940, STORED, [100, 105], 5, "SSPC-AB 1", "pass"),
    abrasive(D4940, STORED, [100, 106], 5, "SSPC-AB 1", "not judged"),
    abrasive(D4940, STORED, [100, 104], 5.1, "SSPC-AB 1", "not judged"),
    abrasive("SSPC-AB 1: at most 1000 µS/cm", MEMORY, [1000], 1, "SSPC-AB 1", "pass"),
    abrasive("ISO 11126 by ISO 11127-6: 25 mS/m, which is 250 µS/cm", STORED, [250.5], 1, "ISO 11126", "fail"),
    grade(NAMES, MEMORY, "Sa 2½", ["SSPC-SP 10", "NACE No. 2"]),
    grade(NAMES, MEMORY, "SSPC-SP 6", ["Sa 2", "NACE No. 3"]),
    grade(NAMES, MEMORY, "NACE No. 1", ["Sa 3", "SSPC-SP 5"]),
    grade(NAMES, MEMORY, "SSPC-SP 11", []),
    edge({"radius_mm": 2}, "pass"),
    edge({"radius_mm": 1.9, "grinding_passes": 3}, "pass"),
    edge({"radius_mm": 1.9}, "fail"),
    Check("dust-rating", "Limits declared by a specification", COMMON,
          {"ratings": [{"quantity": 3, "size_class": 2}], "maximum_quantity": 3}, {"verdict": "pass"}),
    salts(METHOD_SHEET + ", mixed salts 1.2", STORED, 48, 54.0, {**PATCH_3, "blank_us_cm": 3}),
    salts(METHOD_SHEET + ", as sodium chloride 1.1", STORED, 48, 49.5, {**PATCH_3, "blank_us_cm": 3, **AS_NACL}),
    salts("Forum answer: chloride 0.275 mg/l per µS/cm", STORED, 30, 16.5,
          {**PATCH_3, "blank_us_cm": 5, "species": "chloride, if all salt is sodium chloride"}),
    salts("ISO 8502 Guide 15: automatic cell of 10 ml on 12.5 cm², mixed salts", STORED, 25, 80.0,
          {"volume_ml": 10, "blank_us_cm": 5}),
    *(Check("salts-bresle", "Instrument handbook, KCl standard of 84 µS/cm at 25 °C", STORED,
            {"conductivity_us_cm": shown, "solution_c": at, "reference_c": 25, "coefficient_pct_per_k": alpha},
            {"conductivity_at_reference_us_cm": 84.0}, {"conductivity_at_reference_us_cm": 0.04})
      for shown, at, alpha in ((67.61, 15, 1.95), (75.80, 20, 1.95), (92.19, 30, 1.95), (100.92, 35, 2.01))),
    *(Check("erection-damage", PSPC_DAMAGE, STORED,
            {"tank_m2": tank, "damaged_m2": damaged, "largest_m2": largest}, {"least_grade": grade})
      for tank, damaged, largest, grade in DAMAGES),
    Check("salts-bresle", "5 × 15 / 12.5 by hand", COMPUTED, {"conductivity_us_cm": 1}, {"factor_mg_m2_per_us_cm": 6}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)


def test_probability_above_the_salt_limit_agrees_with_scipy():
    for observed in (30, 38.5, 46, 50, 57.2, 80):
        ours = calculate("salts-decision", {**ALIKE, "observed_mg_m2": observed, "limit_mg_m2": 50})
        theirs = stats.norm.sf(50, loc=observed, scale=8.2 / stats.norm.ppf(0.975))
        assert ours["probability_above_limit"] == pytest.approx(theirs, abs=1e-12)
        assert ours["sure_below_mg_m2"] == pytest.approx(50 - stats.norm.ppf(0.95) * 8.2 / stats.norm.ppf(0.975))
