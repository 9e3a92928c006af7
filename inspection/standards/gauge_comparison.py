"""Two gauges that measured the same places: do they agree within their uncertainties?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    items,
    judged,
    number,
    result,
    text,
    thickness,
)

EN = Source(
    "ISO 13528; ISO/IEC 17043", "En score, as stated by a statistics institute and a glossary", "", "stored source"
)
MOST_EN = 1
COMMON_K = 2
"""Both uncertainties are brought to this coverage factor, that of En's usual 95 %."""


@dataclass(frozen=True, kw_only=True)
class ComparedPlace:
    place: str | None = text("Place", optional=True)
    first_um: Fraction = thickness("First gauge")
    first_expanded_um: Fraction = thickness("Expanded uncertainty of the first")
    second_um: Fraction = thickness("Second gauge")
    second_expanded_um: Fraction = thickness("Expanded uncertainty of the second")

    def __post_init__(self) -> None:
        if not self.first_expanded_um and not self.second_expanded_um:
            raise InputFault(
                [Fault("first_expanded_um", "at least one of the two gauges must have an uncertainty above 0")]
            )


@dataclass(frozen=True, kw_only=True)
class ComparisonIn:
    first_coverage_factor: Fraction = number(
        "Coverage factor of the first gauge's uncertainties", above=0, maximum=100, default=COMMON_K
    )
    second_coverage_factor: Fraction = number(
        "Coverage factor of the second gauge's uncertainties", above=0, maximum=100, default=COMMON_K
    )
    places: tuple[ComparedPlace, ...] = items(
        "Places measured by both", ComparedPlace, most=1000,
        help="The mean of each gauge at the same place, with its expanded uncertainty.",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PlaceOut:
    place: str
    difference_um: Fraction
    allowed_um: float
    en_score: float


@dataclass(frozen=True, kw_only=True)
class ComparisonOut(Judged):
    largest_en: float = result("Largest |En|")
    places: tuple[PlaceOut, ...] = result("Places")


@calculation(
    "gauges-compared",
    title="Two gauges compared (En)",
    group="Metrology",
    sources=(EN,),
    caution="En says whether two results agree within what each claims of itself, not which is right: generous "
    "uncertainties agree with everything. Gauges adjusted on the same shims share part of their uncertainty, and En is "
    "then too small.",
    example={"places": [
        {"place": "web 1", "first_um": 250, "first_expanded_um": 4, "second_um": 254, "second_expanded_um": 3},
        {"place": "web 2", "first_um": 212, "first_expanded_um": 4, "second_um": 209, "second_expanded_um": 3},
    ]},
)  # fmt: skip
def gauges_compared(inputs: ComparisonIn) -> ComparisonOut:
    """En = difference / √(U₁² + U₂²) at each place, with expanded uncertainties; they agree where |En| ≤ 1.

    Thicknesses and uncertainties in µm or mil. Uncertainties stated with another coverage factor are brought to k = 2.
    The comparison takes no root: squares are compared, so a difference exactly as large as allowed agrees.
    """
    first, second = COMMON_K / inputs.first_coverage_factor, COMMON_K / inputs.second_coverage_factor
    rows, agreeing = [], []
    for number_, at in enumerate(inputs.places, start=1):
        difference = at.first_um - at.second_um
        allowed_squared = (first * at.first_expanded_um) ** 2 + (second * at.second_expanded_um) ** 2
        allowed = math.sqrt(allowed_squared)
        rows.append(PlaceOut(place=at.place or str(number_), difference_um=difference, allowed_um=allowed,
                             en_score=float(difference) / allowed))  # fmt: skip
        agreeing.append(difference**2 <= allowed_squared)
    largest = max(abs(row.en_score) for row in rows)
    apart = tuple(index for index, agrees in enumerate(agreeing) if not agrees)
    nearest = tuple(index for index, row in enumerate(rows) if abs(row.en_score) == largest)
    check = Check("En", "En score", "The two gauges agree at every place: |En| is at most 1.", MOST_EN, largest,
                  not apart, apart or nearest, counted_in="place")  # fmt: skip
    return ComparisonOut(
        verdict=judged([check]), rule="En score", edition="", checks=(check,), largest_en=largest, places=tuple(rows)
    )
