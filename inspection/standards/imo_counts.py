"""IMO MSC.215(82), annex 3: how many thickness readings a ballast tank needs, counted from its sizes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import Fault, InputFault, Source, calculation, number, numbers, result

IMO_ANNEX_3 = Source("IMO MSC.215(82)", "2006", "annex 3", "stored source")
ROUNDING = Source("Each part of a step, square metre or set begun counts as one", "", "", "common practice, no source")

SHORTEST_STEP_M, LONGEST_STEP_M = 2, 3
"""One reading or set every 2 to 3 m: the longer step gives the least number, the shorter one the most."""
FLAT_M2_A_READING = 5
COMPLEX_A_M2, COMPLEX_FEWEST = 5, 3
MEMBER_READINGS, MEMBER_FEWEST_SETS = 2, 2
PRIMARY_READINGS, PRIMARY_FEWEST_SETS = 3, 3


def flat_readings(area_m2: Fraction) -> int:
    """One for each 5 m² of flat surface or part of it."""
    return math.ceil(area_m2 / FLAT_M2_A_READING)


def complex_readings(area_m2: Fraction) -> int:
    """Five a square metre of a complex area, such as a large bracket, and not fewer than three."""
    return max(COMPLEX_FEWEST, math.ceil(COMPLEX_A_M2 * area_m2))


def boundary_readings(length_m: Fraction, step_m: int = LONGEST_STEP_M) -> int:
    """One for each step of a tank boundary or part of it."""
    return math.ceil(length_m / step_m)


def member_sets(length_m: Fraction, step_m: int = LONGEST_STEP_M) -> int:
    """Sets on a stiffener between primary members: one a step, not fewer than two."""
    return max(MEMBER_FEWEST_SETS, math.ceil(length_m / step_m))


def primary_sets(length_m: Fraction, step_m: int = LONGEST_STEP_M) -> int:
    """Sets on a primary supporting member: one a step, not fewer than three."""
    return max(PRIMARY_FEWEST_SETS, math.ceil(length_m / step_m))


@dataclass(frozen=True, kw_only=True)
class TankIn:
    flat_m2: tuple[Fraction, ...] | None = numbers(
        "Flat surfaces", unit="m²", above=0, maximum=10**6, optional=True, help="Each by itself."
    )
    boundaries_m: tuple[Fraction, ...] | None = numbers(
        "Lengths along tank boundaries", unit="m", above=0, maximum=10**5, optional=True
    )
    stiffeners_m: tuple[Fraction, ...] | None = numbers(
        "Stiffeners, length of each between primary members", unit="m", above=0, maximum=10**4, optional=True
    )
    primary_members_m: tuple[Fraction, ...] | None = numbers(
        "Primary members, length of each", unit="m", above=0, maximum=10**4, optional=True,
        help="Girders and transverses.",
    )  # fmt: skip
    openings: int | None = number("Openings", minimum=1, maximum=100_000, optional=True)
    sides_of_an_opening: int | None = number(
        "Sides measured of an opening", minimum=1, maximum=20, optional=True,
        help="The text says one reading from each side; how many sides a round opening has, the parties say.",
    )  # fmt: skip
    complex_m2: tuple[Fraction, ...] | None = numbers(
        "Complex areas, such as large brackets",
        unit="m²",
        above=0,
        maximum=10**5,
        optional=True,
        help="Each by itself.",
    )
    spot_checks: int | None = number("Further places the inspector wants", minimum=0, maximum=100_000, optional=True)

    def __post_init__(self) -> None:
        given = (self.flat_m2, self.boundaries_m, self.stiffeners_m, self.primary_members_m, self.openings,
                 self.complex_m2)  # fmt: skip
        faults = []
        if all(part is None for part in given):
            faults.append(Fault("flat_m2", "give at least one kind of surface"))
        if (self.openings is None) != (self.sides_of_an_opening is None):
            missing = "openings" if self.openings is None else "sides_of_an_opening"
            faults.append(Fault(missing, "is needed: openings and their sides come together"))
        if faults:
            raise InputFault(faults)


@dataclass(frozen=True, kw_only=True)
class CountRow:
    where: str
    how_many: int
    least_readings: int
    most_readings: int
    least_sets: int | None = None
    most_sets: int | None = None


@dataclass(frozen=True, kw_only=True)
class TankOut:
    least_readings: int = result("Readings at least, with 3 m from one to the next")
    most_readings: int = result("Readings with 2 m from one to the next")
    rows: tuple[CountRow, ...] = result("By kind of surface")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "dft-imo-counts",
    title="Readings in a ballast tank (IMO annex 3)",
    group="Thickness",
    sources=(IMO_ANNEX_3, ROUNDING),
    caution="The least the annex asks for. The inspector adds spot checks wherever needed; lengths must be those of "
    "the tank, not of a drawing without its brackets and cut-outs.",
    example={"flat_m2": [120], "boundaries_m": [12, 12], "stiffeners_m": [6, 6, 9], "primary_members_m": [12],
             "openings": 2, "sides_of_an_opening": 2, "complex_m2": [0.6, 1.2]},
)  # fmt: skip
def dft_imo_counts(inputs: TankIn) -> TankOut:
    """Readings for flat surfaces, boundaries, stiffeners, primary members, openings and complex areas of a tank.

    Areas in m², lengths in m, all above 0. Along a length there is one reading or set every 2 to 3 m, so two numbers
    are told; a part begun counts as one (our reading: the text fixes no rounding).
    """
    rows = [
        *_by_area("flat surfaces", inputs.flat_m2, flat_readings),
        *_along("tank boundaries", inputs.boundaries_m, boundary_readings, 1, in_sets=False),
        *_along("stiffeners", inputs.stiffeners_m, member_sets, MEMBER_READINGS, in_sets=True),
        *_along("primary members", inputs.primary_members_m, primary_sets, PRIMARY_READINGS, in_sets=True),
        *_counted("openings", inputs.openings, inputs.sides_of_an_opening or 0),
        *_by_area("complex areas", inputs.complex_m2, complex_readings),
        *_counted("further places", inputs.spot_checks, 1),
    ]
    return TankOut(
        least_readings=sum(row.least_readings for row in rows),
        most_readings=sum(row.most_readings for row in rows),
        rows=tuple(rows),
        notes=_notes(inputs),
    )


def _by_area(where: str, areas: Sequence[Fraction] | None, rule: Callable[[Fraction], int]) -> list[CountRow]:
    if not areas:
        return []
    readings = sum(rule(area) for area in areas)
    return [CountRow(where=where, how_many=len(areas), least_readings=readings, most_readings=readings)]


def _along(
    where: str,
    lengths: Sequence[Fraction] | None,
    rule: Callable[[Fraction, int], int],
    readings: int,
    *,
    in_sets: bool,
) -> list[CountRow]:
    if not lengths:
        return []
    least, most = (sum(rule(length, step) for length in lengths) for step in (LONGEST_STEP_M, SHORTEST_STEP_M))
    return [
        CountRow(where=where, how_many=len(lengths), least_readings=readings * least, most_readings=readings * most,
                 least_sets=least if in_sets else None, most_sets=most if in_sets else None)
    ]  # fmt: skip


def _counted(where: str, count: int | None, readings: int) -> list[CountRow]:
    if not count:
        return []
    return [CountRow(where=where, how_many=count, least_readings=readings * count, most_readings=readings * count)]


def _notes(inputs: TankIn) -> tuple[str, ...]:
    notes = []
    if inputs.boundaries_m:
        notes.append("Along a boundary as near to it as possible, not more than 15 mm from the edge.")
    if inputs.stiffeners_m or inputs.primary_members_m:
        notes.append("A set is two readings on a stiffener and three on a primary member, at the places of the annex's "
                     "figure, on both sides.")  # fmt: skip
    return tuple(notes)
