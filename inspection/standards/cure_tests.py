"""Cure and hardness where one rule reads them: solvent rubs of organic films, pencils, and indentation by readings."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import (
    Check,
    InputFault,
    Judged,
    Source,
    calculation,
    choice,
    flag,
    items,
    judged,
    number,
    numbers,
    result,
    text,
)

D5402 = Source("ASTM D5402", "2019: fixes no solvent, no number of rubs, no result; all three are agreed", "",
               "stored source")  # fmt: skip
D3363 = Source("ASTM D3363", "pencil hardness, done twice", "", "stored source")
PENCIL_SCALE = Source("ASTM D3363", "6B to 6H, 14 steps", "", "from memory")
BARCOL = Source("Resin maker's guide", "Barcol: 10 to 12 readings, drop highest and lowest, mean the rest", "",
                "stored source")  # fmt: skip
SHORE = Source("ASTM D2240; ISO 868", "Shore hardness 0 to 100, mean of readings", "", "from memory")

PENCILS = ("6B", "5B", "4B", "3B", "2B", "B", "HB", "F", "H", "2H", "3H", "4H", "5H", "6H")
FEWEST_BARCOL, USUAL_BARCOL = 3, 10
NOT_ALONE = "Neither hardness nor solvent resistance alone shows that a film has cured (AS 3894.4)."


@dataclass(frozen=True, kw_only=True)
class RubbedPlace:
    place: str | None = text("Place", optional=True)
    as_agreed: bool = flag("The result is as agreed")


@dataclass(frozen=True, kw_only=True)
class RubsIn:
    solvent: str | None = text("Solvent", help="As agreed.", optional=True)
    double_rubs: int | None = number("Double rubs made", minimum=1, maximum=1000, optional=True)
    agreed_double_rubs: int | None = number("Double rubs agreed", minimum=1, maximum=1000, optional=True)
    agreed_result: str | None = text("Result agreed", help="In words, such as no colour on the cloth.", optional=True)
    places: tuple[RubbedPlace, ...] = items("Places", RubbedPlace, most=1000)


@dataclass(frozen=True, kw_only=True)
class NotedOut(Judged):
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "solvent-rub-agreed",
    title="Solvent rub of an organic film, as agreed",
    group="Tests",
    sources=(D5402,),
    example={"solvent": "MEK", "double_rubs": 50, "agreed_double_rubs": 50, "agreed_result": "no colour on the cloth",
             "places": [{"place": "web", "as_agreed": True}]},
    caution="The solvent is flammable and harmful: gloves, eye protection, air, no source of ignition. Follow its "
    "safety data sheet and local rules.",
)  # fmt: skip
def solvent_rub_agreed(inputs: RubsIn) -> NotedOut:
    """Judge solvent rubs of an organic film (ASTM D5402) where solvent, number of rubs and result are agreed.

    The practice fixes none of the three, so that without one of them, or with fewer rubs than agreed, nothing is
    judged. A place that is not as agreed fails with as many rubs as agreed or fewer.
    """
    lacking = [
        what for what, given in (
            ("solvent", inputs.solvent), ("number of double rubs", inputs.agreed_double_rubs),
            ("result", inputs.agreed_result), ("double rubs made", inputs.double_rubs),
        ) if given is None
    ]  # fmt: skip
    bad = tuple(i for i, place in enumerate(inputs.places) if not place.as_agreed)
    many = len(inputs.places)
    check = Check("as agreed", "contract", "Every place is as agreed.", many, many - len(bad), not bad, bad,
                  counted_in="place")  # fmt: skip
    notes = [f"Cannot be judged without: {', '.join(lacking)}."] if lacking else []
    made, agreed = inputs.double_rubs or 0, inputs.agreed_double_rubs or 0
    if not lacking and made < agreed and not bad:
        notes.append(f"{made} of {agreed} double rubs were made, which shows nothing yet.")
    if not lacking and made > agreed and bad:
        notes.append(f"{made} double rubs are more than the {agreed} agreed: what came off after those shows nothing.")
    return NotedOut(
        verdict="not judged" if notes else judged([check]), rule="ASTM D5402, as agreed", edition="", checks=(check,),
        notes=(*notes, NOT_ALONE),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class PencilPlace:
    place: str | None = text("Place", optional=True)
    pencil: str = choice("Hardest pencil that leaves the film whole", PENCILS)


@dataclass(frozen=True, kw_only=True)
class PencilIn:
    places: tuple[PencilPlace, ...] = items("Places", PencilPlace, most=1000)
    least: str | None = choice("Least hardness", PENCILS, help="By the contract.", optional=True)


@calculation(
    "pencil-hardness",
    title="Pencil hardness",
    group="Tests",
    sources=(D3363, PENCIL_SCALE),
    example={"places": [{"place": "web", "pencil": "H"}, {"place": "flange", "pencil": "2H"}], "least": "H"},
)
def pencil_hardness(inputs: PencilIn) -> NotedOut:
    """The softest place against the least hardness: 6B softest, 6H hardest (ASTM D3363; scale from memory)."""
    if inputs.least is None:
        return NotedOut(verdict="not judged", rule="ASTM D3363", edition="", checks=(),
                        notes=("No least hardness was given.",))  # fmt: skip
    ranks = [PENCILS.index(place.pencil) for place in inputs.places]
    least, softest = PENCILS.index(inputs.least), min(ranks)
    low = tuple(i for i, rank in enumerate(ranks) if rank < least)
    check = Check("least hardness", "contract", "No place is softer than the contract allows.", inputs.least,
                  PENCILS[softest], not low, low or (ranks.index(softest),), counted_in="place")  # fmt: skip
    return NotedOut(verdict=judged([check]), rule="ASTM D3363", edition="", checks=(check,), notes=(NOT_ALONE,))


@dataclass(frozen=True, kw_only=True)
class IndentedPlace:
    place: str | None = text("Place", optional=True)
    readings: tuple[Fraction, ...] = numbers("Readings", minimum=0, maximum=100)


@dataclass(frozen=True, kw_only=True)
class IndentedIn:
    method: str = choice("Method", ("Barcol", "Shore A", "Shore D"))
    places: tuple[IndentedPlace, ...] = items("Places", IndentedPlace, most=1000)
    least: Fraction | None = number("Least mean", minimum=0, maximum=100, help="By the contract.", optional=True)

    def __post_init__(self) -> None:
        few = [i for i, place in enumerate(self.places) if len(place.readings) < FEWEST_BARCOL]
        if self.method == "Barcol" and few:
            raise InputFault.at(f"places[{few[0]}].readings", "give at least 3; highest and lowest are left out")


@dataclass(frozen=True, kw_only=True)
class IndentedOut(Judged):
    means: tuple[Fraction, ...] = result("Mean of each place")
    lowest: Fraction = result("Lowest mean")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "indentation-hardness",
    title="Barcol or Shore hardness",
    group="Tests",
    sources=(BARCOL, SHORE),
    example={"method": "Barcol", "places": [{"place": "web", "readings": [32, 34, 35, 35, 36, 36, 37, 38, 39, 44]}],
             "least": 36},
)  # fmt: skip
def indentation_hardness(inputs: IndentedIn) -> IndentedOut:
    """Mean hardness of each place against the least mean; of Barcol readings the highest and the lowest are left out.

    Readings 0 to 100. Of Barcol 10 to 12 readings are usual (stored source); Shore takes the mean of all (from memory).
    """
    means = tuple(_mean(inputs.method, place.readings) for place in inputs.places)
    lowest = min(means)
    checks = []
    if inputs.least is not None:
        least = inputs.least
        low = tuple(i for i, mean in enumerate(means) if mean < least)
        checks.append(Check("least mean", "contract", "No place has a lower mean.", least, lowest, not low,
                            low or (means.index(lowest),), counted_in="place"))  # fmt: skip
    notes = [] if checks else ["No least hardness was given."]
    if inputs.method == "Barcol" and any(len(place.readings) < USUAL_BARCOL for place in inputs.places):
        notes.append("10 to 12 readings of a place are usual.")
    return IndentedOut(
        verdict=judged(checks) if checks else "not judged", rule=inputs.method, edition="", checks=tuple(checks),
        means=means, lowest=lowest, notes=(*notes, NOT_ALONE),
    )  # fmt: skip


def _mean(method: str, readings: tuple[Fraction, ...]) -> Fraction:
    kept = sorted(readings)[1:-1] if method == "Barcol" else readings
    return sum(kept, Fraction(0)) / len(kept)
