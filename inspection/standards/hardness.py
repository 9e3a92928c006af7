"""Indentation by Buchholz: the shorter the dent that a fixed weight leaves, the greater the resistance."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    Judged,
    Source,
    calculation,
    items,
    judged,
    number,
    numbers,
    result,
    text,
)

RECIPROCAL = Source(
    "ISO 2815", "1973: a function of the reciprocal of the length, rising with the resistance", "", "stored source"
)
HUNDRED = Source("ISO 2815", "resistance is 100 over the length in mm; five dents", "", "from memory")
LEAST_FILM = Source(
    "ISO 2815", "2003, scope: valid only above a least thickness; not for strong plasticizer", "", "stored source"
)
HUNDRED_MM = 100
USUAL_DENTS = 5


@dataclass(frozen=True, kw_only=True)
class DentedPlace:
    place: str | None = text("Place", optional=True)
    lengths_mm: tuple[Fraction, ...] = numbers("Lengths of the dents", unit="mm", above=0, maximum=10)


@dataclass(frozen=True, kw_only=True)
class BuchholzIn:
    places: tuple[DentedPlace, ...] = items("Places", DentedPlace, most=1000)
    least: Fraction | None = number("Least resistance", above=0, maximum=1000, help="By the contract.", optional=True)
    dry_film_um: Fraction | None = number("Dry film", unit="µm", above=0, maximum=10_000, optional=True)
    least_film_um: Fraction | None = number(
        "Least film of the standard's annex for this length", unit="µm", above=0, maximum=10_000, optional=True
    )


@dataclass(frozen=True, kw_only=True)
class BuchholzOut(Judged):
    resistances: tuple[Fraction, ...] = result("Resistance of each place")
    lowest: Fraction = result("Lowest resistance")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "buchholz-resistance",
    title="Indentation resistance, Buchholz",
    group="Tests",
    sources=(RECIPROCAL, HUNDRED, LEAST_FILM),
    example={"places": [{"place": "web", "lengths_mm": [1.0, 1.1, 1.0, 0.9, 1.0]}], "least": 95,
             "dry_film_um": 240, "least_film_um": 20},
)  # fmt: skip
def buchholz_resistance(inputs: BuchholzIn) -> BuchholzOut:
    """100 over the mean length of the dents of each place, in mm (from memory), against the least of the contract.

    A film thinner than the annex of the standard asks for its length of dent shows the steel and not the film: then
    nothing is judged. The annex is not kept here; what it says is typed.
    """
    resistances = tuple(
        Fraction(HUNDRED_MM) * len(place.lengths_mm) / sum(place.lengths_mm, Fraction(0)) for place in inputs.places
    )
    lowest = min(resistances)
    notes = [] if inputs.least is not None else ["No least resistance was given."]
    checks: tuple[Check, ...] = ()
    if inputs.least is not None:
        least = inputs.least
        low = tuple(i for i, found in enumerate(resistances) if found < least)
        checks = (
            Check("least resistance", "contract", "No place has a lower resistance.", least, lowest, not low,
                  low or (resistances.index(lowest),), counted_in="place"),
        )  # fmt: skip
    if any(len(place.lengths_mm) < USUAL_DENTS for place in inputs.places):
        notes.append("Five dents of a place are usual.")
    if too_thin := _too_thin(inputs):
        notes.append(too_thin)
    return BuchholzOut(
        verdict=judged(checks) if checks and not too_thin else "not judged", rule="ISO 2815", edition="",
        checks=checks, resistances=resistances, lowest=lowest, notes=tuple(notes),
    )  # fmt: skip


def _too_thin(inputs: BuchholzIn) -> str:
    film, least = inputs.dry_film_um, inputs.least_film_um
    if film is None or least is None or film >= least:
        return ""
    return "The film is thinner than the standard asks for dents of this length, so the result is not valid."
