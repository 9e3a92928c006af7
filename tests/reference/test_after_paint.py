"""Holidays found, cuts rated, cure and hardness, and defects seen, against what the standards and the trade say."""

from __future__ import annotations

from typing import Any

import pytest

from inspection.standards.visual_defects import extent_told
from tests.reference.table import COMMON, COMPUTED, MEMORY, STORED, Check, holds
from tests.standards.asking import faults


def sponge(**changes: Any) -> dict[str, Any]:
    return {"dry_film_um": 200, "standard": "ASTM D5162", "voltage_v": 67.5, "earth_proven": True, "holidays": 0,
            "tested_m2": 40, **changes}  # fmt: skip


def high(**changes: Any) -> dict[str, Any]:
    return {"dry_film_um": 508, "standard": "NACE SP0188", "voltage_v": 2500, "voltmeter_v": 2500, "earth_proven": True,
            "holidays": 0, "tested_m2": 40, **changes}  # fmt: skip


def cuts(scale: str, *ratings: str, **more: Any) -> dict[str, Any]:
    rated = [{"place": "web", "rating": rating} for rating in ratings]
    return {"scale": scale, "cuts": rated, "dry_film_um": 100, "spacing_mm": 2, **more}


B, A, ISO, X = "ASTM D3359 method B", "ASTM D3359 method A", "ISO 2409", "ISO 16276-2 X-cut"
D5162 = "ASTM D5162-21: wet sponge to 0.5 mm (20 mil)"
G62 = "ASTM G62, method A: wetting agent from 0.254 to 0.508 mm"
AS = "AS 3894.2:2002: wet sponge for films under 250 µm"
TABLE = "NACE SP0188-2006, table of suggested voltages"
NONE = "Contract: none allowed unless it says so"
ISO_TEXT = "ISO 2409:2020: total thickness not over 250 µm, not for textured films"
SPACING = "ISO 2409: 1 mm to 60 µm (hard), 2 mm to 120, 3 mm to 250"
B_FORM = "ASTM D3359 B: to 50 µm 1 mm, to 125 µm 2 mm apart, wider only if agreed"
RUBS = "ASTM D5402: fixes no solvent, no number of rubs and no result; all are agreed"
AGREED = {"solvent": "MEK", "double_rubs": 50, "agreed_double_rubs": 50, "agreed_result": "no colour"}
BARCOL = "Resin maker's guide: 10 to 12 Barcol readings, highest and lowest dropped, mean of the rest"
NINETY = "90 % of the resin maker's value"
TEN = [32, 34, 35, 35, 36, 36, 37, 38, 39, 44]
SCALE = "ASTM D3363: 6B to 6H, HB softer than F, F softer than H"

BUCHHOLZ = "ISO 2815: resistance is 100 over the length of the dent in mm"
RECIPROCAL = "ISO 2815: a function of the reciprocal of the length, rising with the resistance"
LEAST_FILM = "ISO 2815:2003: valid only above a least thickness"


def dents(*lengths_mm: float, **more: float) -> dict[str, Any]:
    return {"places": [{"lengths_mm": list(lengths_mm)}], **more}


def pencils(*found: str, least: str) -> dict[str, Any]:
    return {"places": [{"pencil": pencil} for pencil in found], "least": least}


CHECKS = [
    # --- wet sponge
    Check("holiday-sponge-found", D5162, STORED, sponge(), {"verdict": "pass", "per_m2": 0}),
    Check("holiday-sponge-found", D5162, STORED, sponge(dry_film_um=520, wetting_agent=True),
          {"verdict": "not judged"}),
    Check("holiday-sponge-found", NONE, COMMON, sponge(holidays=2), {"verdict": "fail", "per_m2": 0.05}),
    Check("holiday-sponge-found", "Contract: 0.05 holidays on a m² allowed", COMMON,
          sponge(holidays=2, most_per_m2=0.05), {"verdict": "pass"}),
    Check("holiday-sponge-found", G62, STORED, sponge(dry_film_um=300), {"verdict": "not judged"}),
    Check("holiday-sponge-found", G62, STORED, sponge(dry_film_um=300, wetting_agent=True), {"verdict": "pass"}),
    Check("holiday-sponge-found", AS, STORED, sponge(standard="AS 3894.2", dry_film_um=250, as_specified=True),
          {"verdict": "not judged"}),
    Check("holiday-sponge-found", AS, STORED, sponge(standard="AS 3894.2", dry_film_um=249, as_specified=True),
          {"verdict": "pass"}),
    Check("holiday-sponge-found", "ASTM D5162; NACE SP0188: below 75 V", MEMORY, sponge(voltage_v=90),
          {"verdict": "not judged"}),
    Check("holiday-sponge-found", "A hole found by a test that is not judged is a hole", COMMON,
          sponge(voltage_v=90, holidays=1), {"verdict": "fail"}),
    Check("holiday-sponge-found", "ISO 29601: the voltage is that of one's own copy", STORED,
          sponge(standard="ISO 29601", voltage_v=9), {"verdict": "not judged"}),
    Check("holiday-sponge-found", "The earth is proven first", COMMON, sponge(earth_proven=False),
          {"verdict": "not judged"}),
    # --- high voltage
    Check("holiday-high-found", TABLE, MEMORY, high(), {"verdict": "pass", "named_v": 2500}),
    Check("holiday-high-found", TABLE, MEMORY, high(dry_film_um=533.4, voltage_v=3000, voltmeter_v=3000),
          {"verdict": "pass", "named_v": 3000}),
    Check("holiday-high-found", "NACE SP0188-2006: nothing between the rows, never filled", MEMORY,
          high(dry_film_um=290), {"verdict": "not judged"}),
    Check("holiday-high-found", TABLE, MEMORY, high(voltage_v=2000, voltmeter_v=2000), {"verdict": "not judged"}),
    Check("holiday-high-found", "Voltmeter within 5 % of what is set", MEMORY, high(voltmeter_v=2375),
          {"verdict": "pass"}),
    Check("holiday-high-found", "Voltmeter within 5 % of what is set", MEMORY, high(voltmeter_v=2374),
          {"verdict": "not judged"}),
    Check("holiday-high-found", "Upper bound: dielectric strength times the thinnest film (8 kV/mm, 0.25 mm: 2000 V)",
          STORED, high(thinnest_film_um=250, dielectric_strength_kv_per_mm=8), {"verdict": "not judged"}),
    Check("holiday-high-found", NONE, COMMON, high(holidays=1, voltmeter_v=None), {"verdict": "fail"}),
    # --- cuts
    Check("adhesion-cut-ratings", ISO_TEXT, STORED, cuts(ISO, "0", dry_film_um=260, worst_rating="1"),
          {"verdict": "not judged"}),
    Check("adhesion-cut-ratings", ISO_TEXT, STORED, cuts(ISO, "0", textured=True, worst_rating="1"),
          {"verdict": "not judged"}),
    Check("adhesion-cut-ratings", "ISO 2409: 0 best to 5 worst", STORED, cuts(ISO, "0", "1", worst_rating="1"),
          {"verdict": "pass", "worst": "1"}),
    Check("adhesion-cut-ratings", "ISO 2409: 0 best to 5 worst", STORED, cuts(ISO, "0", "2", worst_rating="1"),
          {"verdict": "fail", "worst": "2"}),
    Check("adhesion-cut-ratings", "ASTM D3359 B: 5B best to 0B worst", STORED, cuts(B, "5B", "3B", worst_rating="4B"),
          {"verdict": "fail", "worst": "3B"}),
    Check("adhesion-cut-ratings", "ASTM D3359 A: 5A best to 0A worst", STORED, cuts(A, "5A", "4A", worst_rating="4A"),
          {"verdict": "pass", "worst": "4A"}),
    Check("adhesion-cut-ratings", "ISO 16276-2 X-cut: 0 best to 5 worst", MEMORY, cuts(X, "2", worst_rating="1"),
          {"verdict": "fail"}),
    *(Check("adhesion-cut-ratings", SPACING, MEMORY,
            cuts(ISO, "0", worst_rating="1", dry_film_um=film, spacing_mm=mm), {"verdict": "pass"})
      for film, mm in ((60, 1), (61, 2), (120, 2), (121, 3), (250, 3))),
    Check("adhesion-cut-ratings", SPACING, MEMORY, cuts(ISO, "0", worst_rating="1", dry_film_um=180, spacing_mm=2),
          {"verdict": "not judged"}),
    Check("adhesion-cut-ratings", B_FORM, STORED, cuts(B, "5B", worst_rating="4B", dry_film_um=50, spacing_mm=1),
          {"verdict": "pass"}),
    Check("adhesion-cut-ratings", B_FORM, STORED, cuts(B, "5B", worst_rating="4B", dry_film_um=126, spacing_mm=3),
          {"verdict": "not judged"}),
    Check("adhesion-cut-ratings", B_FORM, STORED,
          cuts(B, "5B", worst_rating="4B", dry_film_um=126, spacing_mm=3, spacing_agreed=True), {"verdict": "pass"}),
    Check("adhesion-cut-ratings", "Contract: three cuts asked for", COMMON,
          cuts(ISO, "0", worst_rating="1", cuts_wanted=3), {"verdict": "incomplete"}),
    # --- cure
    Check("solvent-rub-agreed", RUBS, STORED, {**AGREED, "places": [{"as_agreed": True}]}, {"verdict": "pass"}),
    Check("solvent-rub-agreed", RUBS, STORED, {**AGREED, "places": [{"as_agreed": False}]}, {"verdict": "fail"}),
    Check("solvent-rub-agreed", RUBS, STORED, {**AGREED, "solvent": None, "places": [{"as_agreed": True}]},
          {"verdict": "not judged"}),
    Check("solvent-rub-agreed", RUBS, STORED, {**AGREED, "double_rubs": 25, "places": [{"as_agreed": True}]},
          {"verdict": "not judged"}),
    Check("indentation-hardness", BARCOL, STORED, {"method": "Barcol", "places": [{"readings": TEN}], "least": 36},
          {"means": [36.25], "verdict": "pass"}),
    Check("indentation-hardness", NINETY, MEMORY, {"method": "Barcol", "places": [{"readings": TEN}], "least": 36.9},
          {"verdict": "fail"}),
    Check("indentation-hardness", "Mean of all readings", COMPUTED,
          {"method": "Shore D", "places": [{"readings": [70, 74, 75]}], "least": 73},
          {"lowest": 73, "verdict": "pass"}),
    *(Check("pencil-hardness", SCALE, MEMORY, pencils(found, least="H"), {"verdict": verdict})
      for found, verdict in (("F", "fail"), ("H", "pass"), ("2H", "pass"), ("HB", "fail"))),
    # --- hardness by Buchholz
    Check("buchholz-resistance", BUCHHOLZ, MEMORY, dents(1, least=100), {"lowest": 100, "verdict": "pass"}),
    Check("buchholz-resistance", BUCHHOLZ, MEMORY, dents(1.25, 1.25, least=81), {"lowest": 80, "verdict": "fail"}),
    # The resistance rises as the dent shortens.
    Check("buchholz-resistance", RECIPROCAL, STORED, dents(0.8), {"lowest": 125, "verdict": "not judged"}),
    Check("buchholz-resistance", LEAST_FILM, STORED, dents(1, least=90, dry_film_um=15, least_film_um=20),
          {"verdict": "not judged"}),
    # --- visual
    Check("visual-defects", "Whoever looked decides", COMMON,
          {"defects": [{"kind": "runs", "place": "web", "extent": "3", "acceptable": True}]},
          {"verdict": "pass", "not_acceptable": 0}),
    Check("visual-defects", "Whoever looked decides", COMMON,
          {"defects": [{"kind": "rusting", "place": "web", "extent": "Ri 3", "acceptable": False}]},
          {"verdict": "fail", "not_acceptable": 1}),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check: Check) -> None:
    holds(check)


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [
        # Scales are never converted: a rating of one is none of another (ASTM D3359, ISO 2409; stored sources).
        ("adhesion-cut-ratings", cuts(ISO, "5B"), "cuts[0].rating"),
        ("adhesion-cut-ratings", cuts(B, "4A"), "cuts[0].rating"),
        ("adhesion-cut-ratings", cuts(A, "4A", worst_rating="1"), "worst_rating"),
        ("adhesion-cut-ratings", cuts(ISO, "1", spacing_mm=None), "spacing_mm"),
        # Fewer than three Barcol readings leave none after the highest and the lowest (arithmetic).
        ("indentation-hardness", {"method": "Barcol", "places": [{"readings": [35, 36]}]}, "places[0].readings"),
        ("holiday-sponge-found", {**sponge(), "voltage_v": None}, "voltage_v"),
        ("holiday-high-found", high(thinnest_film_um=600), "thinnest_film_um"),
    ],
)  # fmt: skip
def test_what_a_scale_or_rule_does_not_hold_is_refused(name: str, given: dict[str, Any], field: str) -> None:
    assert field in faults(name, given)


@pytest.mark.parametrize(
    # ISO 4628 notation density(Ssize) and Ri (from memory, stored source); plain extents are the trade's.
    ("kind", "extent", "words"),
    [("runs", "3", "3 pieces"), ("misses", "0,4 m2", "0,4 m²"), ("dry spray", "2 %", "2 %"),
     ("blistering", "2(S3)", "clearly visible"), ("rusting", "Ri 3", "1 % rust")],
)  # fmt: skip
def test_an_extent_is_read_as_it_is_written(kind: str, extent: str, words: str) -> None:
    assert words in extent_told(kind, extent)


@pytest.mark.parametrize(("kind", "extent"), [("runs", "2(S3)"), ("runs", "some"), ("runs", "101 %"), ("runs", "0"),
                                              ("blistering", "0(S3)"), ("rusting", "Ri 6")])  # fmt: skip
def test_an_extent_that_no_scale_holds_is_refused(kind: str, extent: str) -> None:
    given = {"defects": [{"kind": kind, "place": "web", "extent": extent, "acceptable": True}]}
    assert faults("visual-defects", given)
