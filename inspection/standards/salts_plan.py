"""How many salt tests a surface needs, by the plans that are known."""

from __future__ import annotations

import math
from fractions import Fraction

from inspection.standards.registry import Source

UFGS = Source("UFGS 09972", "", "chloride tests: 3 to 100 m², one for each further 200 m²", "stored source")
NAVY = Source(
    "US Navy practice", "white paper and public page", "5 tests for 1000 ft² (90 m²), less area also 5", "stored source"
)
UFGS_AT_WELDS_PCT = 30
NAVY_TESTS = 5


def ufgs_tests(size: Fraction, tenth: int) -> int:
    """Three tests in the first 100 m² (1000 ft²), one for each further 200 m² (2000 ft²) or part.

    ``tenth`` is 10 for m² and 100 for ft².
    """
    return 3 + max(0, math.ceil((size - 10 * tenth) / (20 * tenth)))


def navy_tests(size: Fraction, unit: int) -> int:
    """Five for each 1000 ft² or 90 m² (``unit``), a part counted whole (our reading); a smaller area also five."""
    return NAVY_TESTS * math.ceil(size / unit)


def at_welds(tests: int) -> int:
    """How many of the tests UFGS asks for at welds: 30 %, a part counted whole (our reading)."""
    return math.ceil(Fraction(tests * UFGS_AT_WELDS_PCT, 100))
