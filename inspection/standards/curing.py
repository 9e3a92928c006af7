"""Cure of zinc silicate by rubbing with solvent."""

from __future__ import annotations

from dataclasses import dataclass

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    judged,
    number,
    numbers,
    result,
)

RUBS = Source("ASTM D4752", "MEK double rubs on ethyl silicate zinc; one forward and back", "", "stored source")
RATINGS = Source("ASTM D4752", "ratings 5 to 0; 50 double rubs", "", "from memory")
NORSOK = Source("NORSOK M-501", "edition 6, rating 4 or 5", "Table", "from memory")

MEANINGS = {
    5: "no effect",
    4: "burnished, slight",
    3: "some marring",
    2: "heavy marring",
    1: "heavy depression in the film",
    0: "through to the steel in 50 double rubs or fewer",
}
FULL_RUBS = 50


@dataclass(frozen=True, kw_only=True)
class SolventRubIn:
    ratings: tuple[int, ...] = numbers("Rating of each place", minimum=0, maximum=5)
    double_rubs: int = number("Double rubs made", minimum=1, maximum=1000, default=FULL_RUBS)
    least_rating: int = number("Least rating", minimum=0, maximum=5, default=4)

    def __post_init__(self) -> None:
        if self.double_rubs < FULL_RUBS and any(rating != 0 for rating in self.ratings):
            raise InputFault.at("double_rubs", "a rating above 0 needs the full 50 double rubs")


@dataclass(frozen=True, kw_only=True)
class SolventRubOut(Judged):
    lowest_rating: int = result("Lowest rating")
    meaning: str = result("Which means")


@calculation(
    "solvent-rub",
    title="Cure by solvent rub",
    group="Tests",
    sources=(RUBS, RATINGS, NORSOK),
    example={"ratings": [5, 4]},
    caution="The solvent is flammable and harmful: gloves, eye protection, air, no source of ignition. Follow its "
    "safety data sheet and local rules.",
)
def solvent_rub(inputs: SolventRubIn) -> SolventRubOut:
    """Judge the resistance ratings of zinc silicate to 50 double rubs with MEK (ASTM D4752)."""
    low = tuple(i for i, rating in enumerate(inputs.ratings) if rating < inputs.least_rating)
    lowest = min(inputs.ratings)
    check = Check(
        "cure", "ASTM D4752; NORSOK M-501 (from memory)", "No place may have a lower rating.", inputs.least_rating,
        lowest, not low, low or (inputs.ratings.index(lowest),), counted_in="place",
    )  # fmt: skip
    return SolventRubOut(
        verdict=judged([check]),
        rule="ASTM D4752",
        edition="",
        checks=(check,),
        lowest_rating=lowest,
        meaning=MEANINGS[lowest],
    )
