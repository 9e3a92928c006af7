"""What is sent of each kind that declares its questions; the action and the API take the same names."""

from __future__ import annotations

from typing import Any

SAMPLES: dict[str, dict[str, Any]] = {
    "cleanliness": {"found": "Sa 2½", "start_condition": "B", "light_lx": 600, "compared_with": "Photographs 1 to 4"},
    "salts": {
        "conductivity_unit": "us_cm", "blank": 3, "volume_ml": 3, "patch_cm2": 12.5, "reference_c": "25",
        "salt": "nacl", "patches": [{"place": "Frame 3", "conductivity": 30}, {"place": "Frame 4", "lost": "lost"}],
        "patch_batch": "Lot 11",
    },
    "dust": {
        "tapes": [{"place": "Frame 3", "quantity": 1, "size_class": 2}, {"quantity": 2, "size_class": 2}],
        "pressed_by": "Thumb",
    },
}  # fmt: skip
