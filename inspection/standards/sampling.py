"""How many areas, spots, readings or tests a standard asks for on a given surface."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from inspection.standards import imo_counts, salts_plan, thickness_iso19840
from inspection.standards.imo_counts import IMO_ANNEX_3
from inspection.standards.pa2_spots import READINGS_PER_SPOT, SPOTS_PER_AREA
from inspection.standards.registry import InputFault, Source, calculation, choice, number, result
from inspection.standards.thickness_pa2 import PA2_SPOTS

PA2_AREAS = Source("SSPC-PA 2", "society newsletter and trade press 2014", "clause 8, number of areas", "stored source")
PA9 = Source("SSPC-PA 9", "2008; 2015, study cards", "areas, spots and readings: verify", "stored source")
AS_3894 = Source(
    "AS 3894.3", "2002, comparison article of 2009, damaged text", "number of spots: check", "stored source"
)
ISO_12944_8 = Source("ISO 12944-8", "", "reference areas, recommended upper limits", "from memory")
UFGS = Source("UFGS 09971 / 09973", "", "profile and chloride tests", "stored source")
UFGS_SPRAY = Source("UFGS 09971A", "", "thermal spray thickness", "stored source")

IMO_BOUNDARY_NOTE = (
    "One reading every 2 to 3 m, as near the boundary as possible, not more than 15 mm from the edge; counted with 3 m."
)


STANDARDS = (
    "SSPC-PA 2", "ISO 19840", "IMO PSPC flat surface", "IMO PSPC complex area", "IMO PSPC tank boundary",
    "IMO PSPC stiffener", "IMO PSPC primary member", "AS 3894.3", "ISO 12944-8 reference areas", "UFGS profile tests",
    "UFGS thermal spray", "SSPC-PA 9", "UFGS salt tests", "US Navy salt tests",
)  # fmt: skip


@dataclass(frozen=True)
class Inputs:
    standard: str = choice("Standard", STANDARDS)
    area_m2: Fraction | None = number("Area", optional=True, above=0, maximum=10**7)
    area_ft2: Fraction | None = number("Area", optional=True, above=0, maximum=10**8)
    length_m: Fraction | None = number("Length", unit="m", optional=True, above=0, maximum=10**6)
    failing_tests: int = number("Tests that failed so far", default=0, minimum=0, maximum=1000)


@dataclass(frozen=True)
class Answer:
    """What a plan asks for; a plan fills what its standard speaks of."""

    areas_to_measure: int | None = result("Areas to measure", optional=True)
    spots: int | None = result("Spots", optional=True)
    spots_from: int | None = result("Spots, from", optional=True)
    spots_to: int | None = result("Spots, to", optional=True)
    minimum_readings: int | None = result("Gauge readings at least", optional=True)
    readings_required: int | None = result("Readings required", optional=True)
    repeats_allowed: int | None = result("Readings that may be repeated", optional=True)
    sets_required: int | None = result("Sets of readings", optional=True)
    tests_required: int | None = result("Tests required", optional=True)
    reference_areas: int | None = result("Reference areas", optional=True)
    reference_area_total_m2: int | None = result("Reference areas together", optional=True)
    notes: tuple[str, ...] = result("Notes")
    source: str = result("Source")


def pa2_areas(area: Fraction, tenth: int) -> int:
    """Areas to measure by SSPC-PA 2; ``tenth`` is 10 for m² and 100 for ft² (the two unit systems stand apart)."""
    if area < 3 * tenth:
        return math.ceil(area / tenth)
    return 3 + max(0, math.ceil((area - 10 * tenth) / (10 * tenth)))


def _size(inputs: Inputs) -> tuple[Fraction, int]:
    if inputs.area_ft2 is not None:
        return inputs.area_ft2, 100
    if inputs.area_m2 is not None:
        return inputs.area_m2, 10
    raise InputFault.at("area_m2", "is missing; give area_m2 or area_ft2")


def _square_metres(inputs: Inputs) -> Fraction:
    if inputs.area_m2 is None:
        raise InputFault.at("area_m2", "is missing; this plan is written in square metres")
    return inputs.area_m2


def _length(inputs: Inputs) -> Fraction:
    if inputs.length_m is None:
        raise InputFault.at("length_m", "is missing; this plan goes by length")
    return inputs.length_m


def _pa2(inputs: Inputs) -> dict[str, Any]:
    return _areas_of_spots(inputs, READINGS_PER_SPOT)


def _areas_of_spots(inputs: Inputs, readings_per_spot: int) -> dict[str, Any]:
    areas = pa2_areas(*_size(inputs))
    spots = SPOTS_PER_AREA * areas
    return {"areas_to_measure": areas, "spots": spots, "minimum_readings": readings_per_spot * spots}


def _iso_19840(inputs: Inputs) -> dict[str, Any]:
    if inputs.area_m2 is None and inputs.length_m is not None:
        size = inputs.length_m
        notes = ["Counted by length: one metre of a long narrow part as one square metre."]
    else:
        size, notes = _square_metres(inputs), []
    readings, repeats = thickness_iso19840.sampling(size)
    if size > thickness_iso19840.LARGEST_AREA_M2:
        notes.append("Divide an inspection area of more than 1000 m² into smaller ones (from memory).")
    return {"readings_required": readings, "repeats_allowed": repeats, "notes": tuple(notes)}


def _imo_flat(inputs: Inputs) -> dict[str, Any]:
    return {"readings_required": imo_counts.flat_readings(_square_metres(inputs))}


def _imo_complex(inputs: Inputs) -> dict[str, Any]:
    return {
        "readings_required": imo_counts.complex_readings(_square_metres(inputs)),
        "notes": (
            "Five readings a square metre, not fewer than three; part of a reading is counted as one (our reading).",
        ),
    }


def _imo_boundary(inputs: Inputs) -> dict[str, Any]:
    return {
        "readings_required": imo_counts.boundary_readings(_length(inputs)),
        "notes": (IMO_BOUNDARY_NOTE,),
    }


def _imo_sets(sets: int, fewest: int, readings: int, between: str) -> dict[str, Any]:
    return {
        "sets_required": sets,
        "readings_required": readings * sets,
        "notes": (
            f"One set every 2 to 3 m, not fewer than {fewest} {between}; counted here with 3 m.",
            f"A set is {readings} readings at the places of the standard's figure, on both sides.",
        ),
    }


def _imo_stiffener(inputs: Inputs) -> dict[str, Any]:
    sets = imo_counts.member_sets(_length(inputs))
    fewest, readings = imo_counts.MEMBER_FEWEST_SETS, imo_counts.MEMBER_READINGS
    return _imo_sets(sets, fewest, readings, "sets between primary supporting members")


def _imo_primary(inputs: Inputs) -> dict[str, Any]:
    sets = imo_counts.primary_sets(_length(inputs))
    return _imo_sets(sets, imo_counts.PRIMARY_FEWEST_SETS, imo_counts.PRIMARY_READINGS, "sets")


AS_3894_ROWS = ((3, 3, 9), (10, 9, 30), (20, 10, 10), (30, 15, 15), (100, 15, 15))
"""Up to so many m²: spots from, spots to. A size on a bound is read by the row before (our reading)."""


def _as_3894(inputs: Inputs) -> dict[str, Any]:
    area = _square_metres(inputs)
    unseen = (
        "Where two numbers are given, the article states a range. The acceptance rule of AS 3894.3 is not known here."
    )
    if area == 500:
        return {"spots": 35, "notes": (unseen,)}
    if not 1 <= area <= 100:
        raise InputFault.at("area_m2", "AS 3894.3 is known here for 1 to 100 m² and for 500 m² only; "
                                       "declare the plan from the project's own copy")  # fmt: skip
    low, high = next((low, high) for largest, low, high in AS_3894_ROWS if area <= largest)
    if low == high:
        return {"spots": low, "notes": (unseen,)}
    return {"spots_from": low, "spots_to": high, "notes": (unseen,)}


REFERENCE_AREA_ROWS = ((2000, 3, 12), (5000, 5, 25), (10_000, 7, 50), (25_000, 7, 75), (50_000, 9, 100))
"""Up to so many m² painted: number of reference areas, m² together."""


def _iso_12944_8(inputs: Inputs) -> dict[str, Any]:
    area = _square_metres(inputs)
    count, total = next(((n, total) for largest, n, total in REFERENCE_AREA_ROWS if area <= largest), (9, 200))
    return {
        "reference_areas": count,
        "reference_area_total_m2": total,
        "notes": ("Recommended upper limits, all from memory: check ISO 12944-8.",),
    }


def _ufgs(inputs: Inputs) -> dict[str, Any]:
    size, tenth = _size(inputs)
    tests = 3 + max(0, math.ceil((size - 10 * tenth) / (10 * tenth)))
    return {"tests_required": tests + 2 * inputs.failing_tests, "notes": ("Two more tests for each failing one.",)}


def _ufgs_salts(inputs: Inputs) -> dict[str, Any]:
    tests = salts_plan.ufgs_tests(*_size(inputs))
    welds = salts_plan.at_welds(tests)
    return {"tests_required": tests, "notes": (f"30 % of them at welds: {welds} (a part counted whole: our reading).",)}


def _navy_salts(inputs: Inputs) -> dict[str, Any]:
    size, tenth = _size(inputs)
    unit = 1000 if tenth == 100 else 90
    note = "Five tests for each 1000 ft² (90 m²) or part; a part counted whole is our reading."
    return {"tests_required": salts_plan.navy_tests(size, unit), "notes": (note,)}


def _pa9(inputs: Inputs) -> dict[str, Any]:
    notes = ("From study cards, a weak source: verify.", "Readings of a spot lie within 15 cm, 5 cm apart.")
    return {**_areas_of_spots(inputs, 3), "notes": notes}


def _thermal_spray(inputs: Inputs) -> dict[str, Any]:
    spots = 5 * math.ceil(_square_metres(inputs) / 9)
    return {
        "spots": spots,
        "minimum_readings": 5 * spots,
        "notes": (
            "Five spots for each 9 m² or part (part counted as one: our reading).",
            "A spot is the mean of five readings in line at 25 mm or within 25 cm².",
        ),
    }


@dataclass(frozen=True)
class Plan:
    """One standard's plan: the rule, and where it comes from."""

    rule: Callable[[Inputs], dict[str, Any]]
    sources: tuple[Source, ...]
    takes: tuple[str, ...]


_AREA, _EITHER, _LENGTH_ONLY = ("area_m2",), ("area_m2", "area_ft2"), ("length_m",)
PLANS = dict(zip(STANDARDS, (
    Plan(_pa2, (PA2_AREAS, PA2_SPOTS), _EITHER),
    Plan(_iso_19840, (thickness_iso19840.PLAN_READINGS, thickness_iso19840.PLAN_REPEATS), ("area_m2", "length_m")),
    Plan(_imo_flat, (IMO_ANNEX_3,), _AREA),
    Plan(_imo_complex, (IMO_ANNEX_3,), _AREA),
    Plan(_imo_boundary, (IMO_ANNEX_3,), _LENGTH_ONLY),
    Plan(_imo_stiffener, (IMO_ANNEX_3,), _LENGTH_ONLY),
    Plan(_imo_primary, (IMO_ANNEX_3,), _LENGTH_ONLY),
    Plan(_as_3894, (AS_3894,), _AREA),
    Plan(_iso_12944_8, (ISO_12944_8,), _AREA),
    Plan(_ufgs, (UFGS,), (*_EITHER, "failing_tests")),
    Plan(_thermal_spray, (UFGS_SPRAY,), _AREA),
    Plan(_pa9, (PA9,), _EITHER),
    Plan(_ufgs_salts, (salts_plan.UFGS,), _EITHER),
    Plan(_navy_salts, (salts_plan.NAVY,), _EITHER),
), strict=True))  # fmt: skip


@calculation(
    "sampling-plan",
    title="How much to measure",
    group="Thickness",
    sources=(PA2_AREAS, PA2_SPOTS, thickness_iso19840.PLAN_READINGS, thickness_iso19840.PLAN_REPEATS, IMO_ANNEX_3,
             AS_3894, ISO_12944_8, UFGS, UFGS_SPRAY, PA9, salts_plan.UFGS, salts_plan.NAVY),
    caution="A contract may set other numbers; it governs.",
    example={"standard": "SSPC-PA 2", "area_m2": 250},
)  # fmt: skip
def sampling_plan(inputs: Inputs) -> Answer:
    """Areas, spots, readings or tests by the chosen standard; square metres and square feet have their own limits."""
    plan = PLANS[inputs.standard]
    for name in ("area_m2", "area_ft2", "length_m", "failing_tests"):
        if getattr(inputs, name) and name not in plan.takes:
            raise InputFault.at(name, f"is not part of this plan; it goes by {' or '.join(plan.takes)}")
    if inputs.area_m2 is not None and (inputs.area_ft2 is not None or inputs.length_m is not None):
        raise InputFault.at("area_m2", "give one size only")
    answer: dict[str, Any] = {"notes": (), **plan.rule(inputs)}
    return Answer(**answer, source="; ".join(str(source) for source in plan.sources))
