"""What is sent of each kind that declares its questions; the action and the API take the same names."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.cast import MORNING

SAMPLES: dict[str, dict[str, Any]] = {
    "steelwork": {
        "imperfections": [
            {"place": "Seam 4", "type": "undercut", "grade": "P3"},
            {"place": "Flange", "type": "rolled-edge", "grade": "P3", "radius_mm": 2.5},
        ],
    },
    "air": {"compressor": "C-2", "oil": "no", "water": "no", "held_s": 60, "distance_cm": 50,
            "consumable_batch": "Blotters 5"},
    "abrasive": {
        "product": "Garnet 30/60", "delivery": "D-17", "use": "new", "method": "D4940", "conductivity_unit": "us_cm",
        "water": 2, "leachates": [{"conductivity": 180}, {"place": "Hopper", "conductivity": 186}], "limit": "AB1",
        "oil": "none", "papers": "Declaration 5",
    },
    "look": {
        "blasted_at": MORNING - timedelta(hours=2), "flash_rust": "none", "contamination": "none",
        "condensation": "none",
    },
    "cleanliness": {"found": "Sa 2½", "start_condition": "B", "light_lx": 600, "compared_with": "Photographs 1 to 4"},
    "salts": {
        "conductivity_unit": "us_cm", "blank": 3, "volume_ml": 3, "patch_cm2": 12.5, "reference_c": "25",
        "salt": "nacl", "patches": [{"place": "Frame 3", "conductivity": 30}, {"place": "Frame 4", "lost": "lost"}],
        "patch_batch": "Lot 11",
    },
    "dust": {
        "tapes": [{"place": "Frame 3", "quantity": 1, "size_class": 2}, {"quantity": 2, "size_class": 2}],
        "pressed_by": "Thumb", "consumable_batch": "Roll 7",
    },
}  # fmt: skip
