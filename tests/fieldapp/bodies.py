"""What is sent of every kind of record and of every act: what the told forms are held against, one of each."""

from __future__ import annotations

from typing import Any

from tests.cast import MORNING
from tests.fieldwork.samples import SAMPLES

HOLE = {"place": "frame 12", "seen": "pinhole"}
# After paint and of the climate; those of the bare steel declare their questions and have their sample beside them.
OTHERS: dict[str, dict[str, Any]] = {
    "climate": {
        "dry_bulb_c": 20, "wet_bulb_c": 15.5, "surface_c": 18, "wind_m_s": 3.2, "rain": "none",
        "dehumidifier_on": True,
    },
    "profile": {
        "method": "stylus", "location_value": "maximum", "locations": [{"readings_um": [60, 62.5, 70]}],
        "abrasive": "grit", "base_metal_um": [3, 4.5], "base_metal_gauge": "{gauge}",
    },
    "wetfilm": {"readings": [{"place": "frame 12", "um": 150}, {"um": 125}], "thinner_pct": 10},
    "wetsponge": {
        "standard": "ASTM D5162", "dry_film_um": 300, "voltage_v": 67.5, "wetting_agent": True, "earth_proven": True,
        "tested_m2": 8, "holidays": [HOLE],
    },
    "highvoltage": {
        "standard": "NACE SP0274", "dry_film_um": 1500, "voltage_v": 9600, "voltmeter_v": 9500, "earth_proven": True,
        "tested_m2": 8, "holidays": [], "cured_h": 168, "dielectric_strength_kv_per_mm": 15,
    },
    "pulloff": {
        "method": "ISO 16276-1", "tests": [
            {"place": "web", "strength_mpa": 8.2, "failures_pct": {"B": 60, "B/C": 40}, "seconds": 25},
            {"place": "flange", "strength_psi": 1300, "failures_pct": {"B": 100}},
        ],
        "tests_wanted": 2, "minimum_mean_mpa": 6, "minimum_single_mpa": 5, "contract_instrument": "hydraulic, 20 mm",
        "used_instrument": "Hydraulic, 20 mm", "dolly_mm": 20, "steel_mm": 12, "film_cut": True,
    },
    "cuttest": {
        "scale": "ISO 2409", "edition": "2020", "cuts": [{"place": "web", "rating": "1"}], "worst_rating": "1",
        "dry_film_um": 180, "spacing_mm": 3, "cuts_wanted": 1, "substrate": "hard",
    },
    "cure": {
        "method": "ASTM D4752", "places": [{"place": "web", "rating": 4}], "least": 4, "cured_h": 48, "solvent": "MEK",
    },
    "hardness": {
        "method": "ASTM D3363 gouge", "places": [{"place": "web", "pencils": ["H", "2H"]}], "least_pencil": "H",
        "cured_h": 168, "pencil_set": "Set 4",
    },
    "defects": {"defects": [{"kind": "runs", "extent": "3", "place": "frame 12", "acceptable": False}]},
}  # fmt: skip
RECORDS: dict[str, dict[str, Any]] = SAMPLES | OTHERS

NOW = MORNING.isoformat()
DAY = f"{MORNING:%Y-%m-%d}"
# Names in braces are ids of what the test laid out.
ACTS: dict[str, dict[str, Any]] = {
    "lot": {
        "activity": "coat", "coat": "{coat}", "crew": "{crew}", "method": "airless", "begun_at": NOW,
        "places": [{"area": "{area}", "share_pct": 50}], "tip": "0.021",
    },
    "lot-end": {"ended_at": "2026-03-04T09:30:00+00:00", "drawn_l": 12.5},
    "mix": {"mixed_at": NOW, "stirred": "power", "paint_c": 21.5, "parts": [{"batch": "{batch}", "amount": 4}]},
    "mix-use": {"used_from": NOW, "used_until": "2026-03-04T08:00:00+00:00"},
    "batch": {
        "product": "Paint", "component": "base", "number": "K-77", "received": 160, "unit": "l", "containers": 4,
        "expires_on": "2027-01-31", "received_at": NOW,
    },
    "station-reading": {"dry_bulb_c": 20, "wet_bulb_c": 15, "surface_c": 18, "taken_at": NOW, "coats": ["{coat}"]},
    "rework": {"area": "{area}", "coat": "{coat}", "what": "runs", "place": "frame 12, inside"},
    "rework-done": {"what": "ground and coated again", "done_by": "Days", "done_at": NOW},
    "rework-looked": {"in_order": True},
    "attendance": {"attended": True, "note": "With the owner's engineer"},
    "notice-outcome": {"outcome": "not_held", "why": "not_ready"},
    "drop": {"at": NOW, "what": "Fell from a board"},
    "hand-over": {"to": "{person}", "at": NOW},
    "receipt": {},
    "hand-over-standard": {"to": "{person}", "at": NOW},
    "receipt-standard": {},
    "nonconformance": {"title": "No light on the scaffold", "against": "area", "area": "{area}", "coat": "{coat}"},
    "diary-crew": {"day": DAY, "organisation": "Riggers", "people": 4, "hours": 8.5, "text": "scaffold"},
    "diary-equipment": {"day": DAY, "who": "Compressor 2", "state": "working", "hours": 6},
    "diary-visitor": {"day": DAY, "who": "A. Caller", "organisation": "Owner", "clock": "14:05", "text": "a look"},
    "diary-instruction": {"day": DAY, "who": "A. Caller", "way": "spoken", "text": "stop at the weld"},
    "diary-delay": {"day": DAY, "cause": "weather", "hours": 1.5, "text": "rain"},
    "diary-narrative": {"day": DAY, "text": "Blasting went on."},
    "diary-plan": {"day": DAY, "text": "Primer on A2."},
    "diary-handover": {"day": DAY, "text": "Shim S-50 is in the store."},
}  # fmt: skip
