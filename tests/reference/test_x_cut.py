"""X-cut ratings of ASTM D3359 method A and ISO 16276-2."""

import pytest

from tests.reference.table import MEMORY, STORED, Check, holds

SEEN = "ASTM D3359 method A (training pages): 5A no peeling, 4A trace, 3A jagged to 1.6 mm on either side"
RECALLED = "ASTM D3359 method A: 2A to 3.2 mm, 1A most of the X, 0A beyond the X"
ISO = "ISO 16276-2 (2007) X-cut: 0 none, 1 traces, 2 to 1.5 mm, 3 to 3 mm, 4 most of the X, 5 beyond"
TRACE, JAGGED = "traces along the cuts or at their crossing", "jagged along the cuts"
MOST, BEYOND = "most of the X under the tape", "beyond the X"
ASTM_SCALE, ISO_SCALE = "ASTM D3359 method A", "ISO 16276-2 X-cut"


def rated(source, provenance, scale, came_off, rating, either_side_mm=None, **expected):
    cut = {"came_off": came_off} | ({} if either_side_mm is None else {"either_side_mm": either_side_mm})
    given = {"worst_rating": expected.pop("allowed")} if "allowed" in expected else {}
    return Check("adhesion-x-cut", source, provenance, {"scale": scale, "cuts": [cut], **given},
                 {"worst": rating, **expected})  # fmt: skip


CHECKS = [
    rated(SEEN, STORED, ASTM_SCALE, "nothing came off", "5A", verdict="not judged"),
    rated(SEEN, STORED, ASTM_SCALE, TRACE, "4A"),
    rated(SEEN, STORED, ASTM_SCALE, JAGGED, "3A", 1.6),
    rated(RECALLED, MEMORY, ASTM_SCALE, JAGGED, "2A", 1.7),
    rated(RECALLED, MEMORY, ASTM_SCALE, JAGGED, "2A", 3.2),
    rated(RECALLED, MEMORY, ASTM_SCALE, MOST, "1A"),
    rated(RECALLED, MEMORY, ASTM_SCALE, BEYOND, "0A"),
    rated(ISO, MEMORY, ISO_SCALE, "nothing came off", "0"),
    rated(ISO, MEMORY, ISO_SCALE, TRACE, "1"),
    rated(ISO, MEMORY, ISO_SCALE, JAGGED, "2", 1.5),
    rated(ISO, MEMORY, ISO_SCALE, JAGGED, "3", 1.6),
    rated(ISO, MEMORY, ISO_SCALE, MOST, "4"),
    rated(ISO, MEMORY, ISO_SCALE, BEYOND, "5"),
    rated("ASTM D3359 A: a higher digit is better", STORED, ASTM_SCALE, TRACE, "4A", allowed="3A", verdict="pass"),
    rated("ASTM D3359 A: a higher digit is better", STORED, ASTM_SCALE, TRACE, "4A", allowed="5A", verdict="fail"),
    rated("ISO 16276-2: a lower digit is better", MEMORY, ISO_SCALE, TRACE, "1", allowed="2", verdict="pass"),
    rated("ISO 16276-2: a lower digit is better", MEMORY, ISO_SCALE, TRACE, "1", allowed="0", verdict="fail"),
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_agrees_with_its_source(check):
    holds(check)
