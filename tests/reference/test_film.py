"""Wet film, coverage and paint used against the examples of paint makers' sheets."""

import pytest

from inspection.standards.film import kept_share
from inspection.standards.units import exact, plain
from tests.reference.table import COMPUTED, STORED, Check, from_vectors, holds

SHEET = "Paint maker's general information sheet"
LOSS_PAGE = "Paint maker's page on losses: 9.310489 l / 0.7 = 13.3 l"
BLOG = "Article on theoretical and practical coverage, worked example"
PAGE = "Instrument maker's page on paint consumption, worked example"


def litres_with_loss(inputs):
    return {"litres": plain(exact(inputs["theoretical_litres"]) / kept_share(exact(inputs["loss_pct"]), "share"))}


CHECKS = [
    *from_vectors("wet-film"),
    *from_vectors("coverage"),
    Check("wet-film", PAGE, STORED, {"dry_film_um": 50, "volume_solids_pct": 50}, {"wet_film_um": 100}),
    Check("wet-film", PAGE, STORED, {"wet_film_um": 100, "volume_solids_pct": 50}, {"dry_film_um": 50}),
    Check("wet-film-comb", PAGE, STORED, {"readings_um": [100, 99], "dry_film_um": 50, "volume_solids_pct": 50},
          {"aim_um": 100, "low": [2], "verdict": "fail"}),
    Check("wet-film-comb", "Wet film = dry film × (100 + thinner) / volume solids: 80 × 110 / 65", COMPUTED,
          {"readings_um": [125, 150], "dry_film_um": 80, "volume_solids_pct": 65, "thinner_pct": 10},
          {"aim_um": 135.3846, "low": [1], "lowest_um": 125, "mean_um": 137.5}, {"aim_um": 0.0001}),
    Check("wet-film-comb", "Paint without solvent loses nothing: wet film is dry film", COMPUTED,
          {"readings_um": [300], "dry_film_um": 300, "volume_solids_pct": 100, "most_dry_film_um": 400},
          {"aim_um": 300, "most_um": 400, "low": [], "verdict": "pass"}),
    Check("coverage", SHEET + ": a litre of 100 % solids covers 1000 m² at 1 µm", STORED,
          {"dry_film_um": 1, "volume_solids_pct": 100}, {"theoretical_m2_per_l": 1000}),
    Check("coverage", SHEET + ": a gallon of 100 % solids covers 1604 ft² at 1 mil", STORED,
          {"dry_film_mil": 1, "volume_solids_pct": 100}, {"theoretical_ft2_per_gal": 1604}),
    Check("coverage", BLOG, STORED, {"dry_film_um": 60, "volume_solids_pct": 45.45, "loss_pct": 30},
          {"theoretical_m2_per_l": 7.57, "practical_m2_per_l": 5.299},
          {"theoretical_m2_per_l": 0.006, "practical_m2_per_l": 0.005}, "cut to 7.57 there before the loss"),
    Check("coverage", LOSS_PAGE, STORED, {"theoretical_litres": 9.310489, "loss_pct": 30}, {"litres": 13.3},
          {"litres": 0.01}, compute=litres_with_loss),
    Check("coverage", "Surcharge on theory: 19.231 l × 1.3", COMPUTED,
          {"dry_film_um": 125, "volume_solids_pct": 65, "area_m2": 100, "loss_pct": 30, "loss_meaning": "surcharge"},
          {"litres": 25.0}),
    Check("paint-consumption", SHEET + ": 65 % at 125 µm covers 5.2 m²/l", STORED,
          {"area_m2": 520, "volume_solids_pct": 65, "dry_film_um": 125, "used_litres": 100},
          {"expected_litres": 100, "implied_mean_um": 125, "verdict": "pass"}),
    Check("paint-consumption", SHEET + ": 65 % at 125 µm covers 5.2 m²/l", STORED,
          {"area_m2": 520, "volume_solids_pct": 65, "dry_film_um": 125, "used_litres": 100, "loss_pct": 30,
           "measured_mean_um": 100},
          {"expected_litres": 142.857, "implied_mean_um": 87.5, "greatest_mean_um": 125, "implied_loss_pct": 20,
           "verdict": "fail"}, {"expected_litres": 0.001}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
