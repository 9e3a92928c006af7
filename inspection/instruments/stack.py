"""A standard, or a stack of them, as the standards core takes it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Protocol

from inspection.foundation.units import um


class Stated(Protocol):
    """What a certificate states of one standard."""

    @property
    def value_nm(self) -> int | None: ...
    @property
    def expanded_uncertainty_nm(self) -> int | None: ...
    @property
    def coverage_factor(self) -> Decimal | float: ...


def stack_input(parts: Sequence[Stated]) -> dict[str, Any]:
    """Certified values and expanded uncertainties of the parts. Where they state different k, the smallest is used.

    Bringing an uncertainty to another k changes its multiple, not the standard uncertainty (JCGM 100, 6.2.1).
    """
    k = min(Decimal(str(part.coverage_factor)) for part in parts)
    return {
        "certified_um": [um(part.value_nm or 0) for part in parts],
        "expanded_uncertainty_um": [_at(k, part) for part in parts],
        "coverage_factor": float(k),
    }


def _at(k: Decimal, part: Stated) -> int | float:
    own = Decimal(str(part.coverage_factor))
    stated = part.expanded_uncertainty_nm or 0
    return um(stated) if own == k else float(stated * k / own / 1000)
