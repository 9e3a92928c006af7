"""ISO 2063: thickness of thermally sprayed zinc and aluminium, by the least local thickness."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.completeness import UNFINISHED, count_check, judged_with_counts
from inspection.standards.registry import (
    Judged,
    Source,
    calculation,
    number,
    result,
    thickness,
    thickness_lists,
)
from inspection.standards.thickness import counted, each_at_least, mean

LEAST_LOCAL = Source("ISO 2063", "2005; 2063-1 and -2 of 2017", "least local thickness decides", "from memory")
LOWEST = Source("ISO 2064", "least thickness: lowest local one on the significant surface", "", "stored source")
UNSEEN = Source("ISO 2063", "10 readings in 1 dm² or 3 in 1 cm², uncertain: declare them", "", "from memory")


@dataclass(frozen=True, kw_only=True)
class SprayedIn:
    minimum_local_um: Fraction = thickness("Least local thickness specified", above=0)
    readings_per_place: int = number(
        "Readings asked for at each place", minimum=1, maximum=1000,
        help="From your copy of the standard; from memory, and uncertain, 10 within 1 dm² or 3 within 1 cm².",
    )  # fmt: skip
    places_required: int = number("Places asked for", minimum=1, maximum=100_000, help="From the contract.")
    places_um: tuple[tuple[Fraction, ...], ...] = thickness_lists(
        "Readings of each place", help="A group is a place.", most=100_000
    )


@dataclass(frozen=True, kw_only=True)
class SprayedOut(Judged):
    lowest_local_um: Fraction | None = result("Lowest local thickness", optional=True)
    local_thicknesses_um: tuple[Fraction, ...] = result("Local thickness of each whole place")
    mean_um: Fraction | None = result("Mean of the places, judged by nothing", optional=True)
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "thermal-spray-iso2063",
    title="Thermal spray thickness (ISO 2063)",
    group="Thickness",
    sources=(LEAST_LOCAL, LOWEST, UNSEEN, UNFINISHED),
    caution="Sprayed metal is rough: only the mean of a place is judged, and no mean over places excuses a thin one. "
    "SSPC-PA 2 is not for it.",
    example={"minimum_local_um": 100, "readings_per_place": 3, "places_required": 2,
             "places_um": [[112, 104, 121], [98, 107, 110]]},
)  # fmt: skip
def thermal_spray_iso2063(inputs: SprayedIn) -> SprayedOut:
    """The mean of the readings of every place (its local thickness) is at least the specified one; equal passes.

    In µm or mil. Readings a place and number of places are declared: the standard's are not known here. A place with
    too few readings has no local thickness; while something is missing the sample is incomplete, unless a thin place
    decides already.
    """
    short = tuple(i for i, readings in enumerate(inputs.places_um) if len(readings) < inputs.readings_per_place)
    means = tuple(mean(readings) for readings in inputs.places_um)
    values = tuple(at for i, at in enumerate(means) if i not in set(short))
    judged = [
        each_at_least(inputs.minimum_local_um, means, name="least local thickness", clause="ISO 2063 (from memory)",
                      sentence="No place is thinner than the least local thickness.", counted_in="place",
                      unfinished=frozenset(short)),
    ]  # fmt: skip
    counts = [
        count_check(inputs.readings_per_place, min(len(readings) for readings in inputs.places_um), unit="readings",
                    name="readings a place", clause="declared", counted_in="place", short=short,
                    sentence="Every place has the readings asked for."),
        count_check(inputs.places_required, len(values), name="number of places", clause="declared", unit="places",
                    counted_in="place", sentence="As many places were measured as asked for."),
    ]  # fmt: skip
    verdict, checks = judged_with_counts(judged, counts)
    notes = []
    if short:
        notes.append(f"Too few readings at {counted(len(short), 'place')}: no local thickness there yet.")
    if len(values) < inputs.places_required:
        notes.append(f"{counted(inputs.places_required - len(values), 'whole place')} still to measure.")
    return SprayedOut(
        verdict=verdict,
        rule="ISO 2063",
        edition="",
        checks=checks,
        lowest_local_um=min(values, default=None),
        local_thicknesses_um=values,
        mean_um=mean(values) if values else None,
        notes=tuple(notes),
    )
