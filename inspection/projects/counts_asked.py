"""Whether two sizes of an area ask for the same number of readings, by the rules of its coats."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from inspection.projects.models import Coat, CoatingSystem
from inspection.standards import InputFault, calculate

PLANS = {Coat.Rule.PA2: "SSPC-PA 2", Coat.Rule.ISO_19840: "ISO 19840"}
COUNTED = ("minimum_readings", "areas_to_measure", "readings_required", "repeats_allowed", "least_readings")


def asks_otherwise(system: CoatingSystem, one: Decimal, other: Decimal) -> bool:
    """Whether some coat of the system asks for another number of readings on an area of the other size, in m²."""
    return any(_asked(coat, one) != _asked(coat, other) for coat in system.coats.all())


def _asked(coat: Coat, area_m2: Decimal) -> Any:
    if declared := coat.declaration:
        return declared.readings_asked(area_m2)
    plan = PLANS.get(Coat.Rule(coat.rule))
    try:
        if plan:
            found = calculate("sampling-plan", {"standard": plan, "area_m2": float(area_m2)})
        else:
            found = calculate("dft-imo-counts", {"flat_m2": [float(area_m2)]})
    except InputFault:
        # Of a size that the standard does not cover it asks for none.
        return None
    return [found.get(name) for name in COUNTED]
