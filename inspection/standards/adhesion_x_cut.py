"""Adhesion by an X-cut and tape: ratings of ASTM D3359 method A and of ISO 16276-2, which run opposite ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    Fault,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    items,
    judged,
    number,
    result,
    text,
    thickness,
)
from inspection.standards.units import shown

D3359_SEEN = Source("ASTM D3359", "2002 text and training pages", "method A: 5A, 4A, 3A and use", "stored source")
D3359_RECALLED = Source("ASTM D3359", "method A: 2A at 3.2 mm, 1A, 0A", "", "from memory")
ISO_RECALLED = Source("ISO 16276-2", "2007, X-cut ratings 0 to 5, 1.5 and 3 mm", "", "from memory")
NO_RATINGS = Source("ISO 16276-2", "names no rating for any coating: the contract does", "abstract", "stored source")

ASTM, ISO = "ASTM D3359 method A", "ISO 16276-2 X-cut"
NOTHING, TRACE, JAGGED = "nothing came off", "traces along the cuts or at their crossing", "jagged along the cuts"
MOST_OF_X, BEYOND = "most of the X under the tape", "beyond the X"
SEEN = (NOTHING, TRACE, JAGGED, MOST_OF_X, BEYOND)
# Jagged removal up to so many millimetres on either side of the cut, and the rating it has.
JAGGED_MM: Mapping[str, tuple[tuple[Fraction, str], ...]] = {
    ASTM: ((Fraction(16, 10), "3A"), (Fraction(32, 10), "2A")),
    ISO: ((Fraction(15, 10), "2"), (Fraction(3), "3")),
}
OTHERS = {
    ASTM: {NOTHING: "5A", TRACE: "4A", MOST_OF_X: "1A", BEYOND: "0A"},
    ISO: {NOTHING: "0", TRACE: "1", MOST_OF_X: "4", BEYOND: "5"},
}
BEST_FIRST = {ASTM: ("5A", "4A", "3A", "2A", "1A", "0A"), ISO: ("0", "1", "2", "3", "4", "5")}
ASTM_ABOVE_UM = 125


@dataclass(frozen=True, kw_only=True)
class XCut:
    place: str | None = text("Place", optional=True)
    came_off: str = choice("What came off with the tape", SEEN)
    either_side_mm: Fraction | None = number(
        "Widest on either side of a cut", minimum=0, maximum=100, optional=True, help="For jagged removal."
    )

    def __post_init__(self) -> None:
        if (self.came_off == JAGGED) != (self.either_side_mm is not None):
            need = "is needed for jagged removal" if self.came_off == JAGGED else "belongs only to jagged removal"
            raise InputFault.at("either_side_mm", need)


def rating(scale: str, cut: XCut) -> str | None:
    """The rating of one X-cut; None for jagged removal wider than any rating of the scale describes."""
    if cut.either_side_mm is None:
        return OTHERS[scale][cut.came_off]
    return next((name for most, name in JAGGED_MM[scale] if cut.either_side_mm <= most), None)


@dataclass(frozen=True, kw_only=True)
class XCutIn:
    scale: str = choice("Scale", (ASTM, ISO))
    worst_rating: str | None = choice(
        "Worst rating allowed", (*BEST_FIRST[ASTM], *BEST_FIRST[ISO]), optional=True,
        help="By the contract, in the scale chosen: 5A to 0A for ASTM, 0 to 5 for ISO. Empty: nothing is judged.",
    )  # fmt: skip
    dry_film_um: Fraction | None = thickness("Total dry film", above=0, optional=True)
    cuts: tuple[XCut, ...] = items("X-cuts", XCut, most=1000)

    def __post_init__(self) -> None:
        faults = []
        if self.worst_rating is not None and self.worst_rating not in BEST_FIRST[self.scale]:
            faults.append(Fault("worst_rating", f"is no rating of {self.scale}: the two scales run opposite ways"))
        for index, cut in enumerate(self.cuts):
            if rating(self.scale, cut) is None:
                widest, name = JAGGED_MM[self.scale][-1]
                faults.append(Fault(f"cuts[{index}].either_side_mm", f"is above {shown(widest)} mm, the widest that "
                                    f"{name} describes: look again whether most of the X came off"))  # fmt: skip
        if faults:
            raise InputFault(faults)


@dataclass(frozen=True, kw_only=True)
class XCutRow:
    place: str
    rating: str


@dataclass(frozen=True, kw_only=True)
class XCutOut(Judged):
    ratings: tuple[XCutRow, ...] = result("Ratings")
    worst: str = result("Worst rating found")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "adhesion-x-cut",
    title="Adhesion by X-cut and tape",
    group="Tests",
    sources=(D3359_SEEN, D3359_RECALLED, ISO_RECALLED, NO_RATINGS),
    caution="Destructive: repair the place. Sharp blades: cut away from the hand. Cut to the metal and never deepen a "
    "cut: make a new X. Ratings of the two scales, and of the lattice, do not compare: keep scale and edition with "
    "every rating. A 2025 edition of ISO 16276-2 exists; its scale is not known here.",
    example={"scale": ASTM, "worst_rating": "4A", "dry_film_um": 320, "cuts": [
        {"place": "web", "came_off": NOTHING}, {"place": "flange", "came_off": TRACE},
    ]},
)  # fmt: skip
def adhesion_x_cut(inputs: XCutIn) -> XCutOut:
    """Rating of every X-cut by what the tape took off, and the worst against the rating that the contract allows.

    Widths in mm on either side of a cut, limits included. ASTM D3359 A: 5A best, 0A worst. ISO 16276-2: 0 best, 5
    worst. There are no ratings in between; removal wider than a rating describes is asked again, not rounded.
    """
    order = BEST_FIRST[inputs.scale]
    found = [rating(inputs.scale, cut) or "" for cut in inputs.cuts]
    worst = max(found, key=order.index)
    checks = []
    if inputs.worst_rating is not None:
        allowed = order.index(inputs.worst_rating)
        beyond = tuple(i for i, name in enumerate(found) if order.index(name) > allowed)
        nearest = tuple(i for i, name in enumerate(found) if name == worst)
        checks.append(
            Check("worst rating", "contract", "No X-cut is rated worse than the contract allows.", inputs.worst_rating,
                  worst, not beyond, beyond or nearest, "", "X-cut")
        )  # fmt: skip
    return XCutOut(
        verdict=judged(checks) if checks else "not judged",
        rule=inputs.scale,
        edition="",
        checks=tuple(checks),
        ratings=tuple(
            XCutRow(place=cut.place or str(number_), rating=name)
            for number_, (cut, name) in enumerate(zip(inputs.cuts, found, strict=True), start=1)
        ),
        worst=worst,
        notes=_notes(inputs),
    )


def _notes(inputs: XCutIn) -> tuple[str, ...]:
    notes = []
    if inputs.worst_rating is None:
        notes.append("No rating is asked for: nothing was judged.")
    if inputs.scale == ASTM and inputs.dry_film_um is not None and inputs.dry_film_um <= ASTM_ABOVE_UM:
        notes.append("Method A is meant mainly for films above 125 µm; up to there the lattice (method B) is usual.")
    return tuple(notes)
