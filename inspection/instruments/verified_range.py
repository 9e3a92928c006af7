"""Which thicknesses a check of a gauge speaks for. Pure: whole nanometres, as the gauge showed them."""

from __future__ import annotations

# A reading may lie this far outside the thicknesses a check covered: our declared limit, no standard gives one.
BEYOND_PCT = 10


def covers(from_nm: int, to_nm: int, nm: int) -> bool:
    """Whether the thickness lies within the covered range, widened by the allowance; exact, in whole numbers."""
    return from_nm * (100 - BEYOND_PCT) <= nm * 100 <= to_nm * (100 + BEYOND_PCT)
