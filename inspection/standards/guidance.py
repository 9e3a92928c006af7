"""Where to take thickness readings on plates, pipes, beams, edges, welds, panels and parts; what is unknown says so."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.registry import InputFault, Source, calculation, choice, number, result

STORED, MEMORY, UNKNOWN = "stored source", "from memory", "unknown"
PIPE_SPACING_FT = 10
FT_PER_M = Fraction(10_000, 3048)
PIPE_SPOTS = ((12, 4), (24, 6))
"""Up to so many inches of diameter: spots around; 8 above. From memory and uncertain."""

PA2, IMO = "SSPC-PA 2, May 2012", "IMO MSC.215(82), annex 3"

FEATURES = ("plate", "pipe", "beam", "edge", "weld", "test panel", "parts laid down", "ballast tank")


@dataclass(frozen=True)
class Sentence:
    text: str
    source: str
    provenance: str


SENTENCES = {
    "plate": (
        Sentence(
            "A spot is the mean of three or more readings in a circle of 4 cm (1.5 in); move the probe for each.",
            PA2,
            STORED,
        ),
        Sentence("Five spots over each 10 m² (100 ft²); which areas: see the sampling plan.", PA2, STORED),
        Sentence(
            "Stay at least 25 mm (1 in) from edges and corners; the maker's figure governs.", "MIL-HDBK-1110", STORED
        ),
        Sentence(
            "By ISO 19840 the places are random over the inspection area.", "a national paint quality body", STORED
        ),
    ),
    "pipe": (
        Sentence(
            "Sets of spots around, every 3 m (10 ft): 4 to 12 in, 6 for 14 to 24 in, 8 above 24 in; uncertain.",
            "SSPC-PA 2, appendix 7",
            MEMORY,
        ),
        Sentence(
            "The text of the appendix was not seen: take the numbers from the project's own copy.",
            "SSPC-PA 2, appendix 7",
            UNKNOWN,
        ),
    ),
    "beam": (
        Sentence("PA 2 has a method of its own for beams and girders.", "SSPC-PA 2, appendix 2, title", STORED),
        Sentence(
            "The beam is seen as 12 surfaces (flange tops, undersides, edges, web sides); uncertain.",
            "SSPC-PA 2, appendix 2",
            MEMORY,
        ),
        Sentence(
            "How many spots on which length is not known here: declare it from the project's own copy.",
            "SSPC-PA 2, appendix 2",
            UNKNOWN,
        ),
    ),
    "edge": (
        Sentence(
            "Stay at least 25 mm (1 in) from edges and corners in ordinary spots; the maker's figure governs.",
            "MIL-HDBK-1110",
            STORED,
        ),
        Sentence("PA 2 has a rule of its own for edges with type 2 gages.", "SSPC-PA 2, appendix 6, title", STORED),
        Sentence("Its numbers are not known here.", "SSPC-PA 2, appendix 6", UNKNOWN),
        Sentence("Along tank boundaries: one reading every 2 to 3 m, not more than 15 mm from the edge.", IMO, STORED),
    ),
    "weld": (
        Sentence(
            "Welds, edges, corners and brackets are treated separately by agreement, with more readings.",
            "ISO 19840, annex C",
            MEMORY,
        ),
        Sentence("How many more is not known here: agree on it.", "ISO 19840, annex C", UNKNOWN),
        Sentence(
            "Extra readings at thin places, taken to plan a repair, do not enter the mean.",
            "a national paint quality body, on ISO 19840",
            STORED,
        ),
    ),
    "test panel": (
        Sentence(
            "PA 2 has rules of its own for small test panels and for thin films on blasted panels.",
            "SSPC-PA 2, appendices 4 and 5, titles",
            STORED,
        ),
        Sentence("Their numbers are not known here.", "SSPC-PA 2, appendices 4 and 5", UNKNOWN),
    ),
    "parts laid down": (
        Sentence("PA 2 has a rule of its own for parts coated laid down.", "SSPC-PA 2, appendix 3, title", STORED),
        Sentence("Parts coated in one shift may count as one area; uncertain.", "SSPC-PA 2, appendix 3", MEMORY),
    ),
    "ballast tank": (
        Sentence("Flat surface: one reading per 5 m².", IMO, STORED),
        Sentence(
            "Stiffeners: one set every 2 to 3 m, not fewer than two sets between primary supports; a set is two.",
            IMO,
            STORED,
        ),
        Sentence(
            "Primary members: one set every 2 to 3 m, not fewer than three sets; a set is three, on both sides.",
            IMO,
            STORED,
        ),
        Sentence("Openings: one on each side. Complex areas: five per m², not fewer than three.", IMO, STORED),
        Sentence("Anywhere the inspector thinks needful: extra spot checks.", IMO, STORED),
    ),
}


@dataclass(frozen=True)
class Inputs:
    feature: str = choice("Where", FEATURES)
    length_m: Fraction | None = number("Length of the pipe", unit="m", optional=True, above=0, maximum=10**6)
    diameter_in: Fraction | None = number(
        "Nominal diameter of the pipe", unit="in", optional=True, above=0, maximum=1000
    )

    def __post_init__(self) -> None:
        if (self.length_m is None) != (self.diameter_in is None):
            missing = "length_m" if self.length_m is None else "diameter_in"
            raise InputFault.at(missing, "is missing; length_m and diameter_in belong together")
        if self.length_m is not None and self.feature != "pipe":
            raise InputFault.at("length_m", "is asked for a pipe only")


@dataclass(frozen=True)
class Outputs:
    guidance: tuple[Sentence, ...] = result("Guidance")
    unknown: tuple[str, ...] = result("Not known here")
    pipe_sets: int | None = result("Sets along the pipe (uncertain, from memory)", optional=True)
    pipe_spots: int | None = result("Spots in all (uncertain, from memory)", optional=True)


@calculation(
    "measuring-guidance",
    title="Where to measure",
    group="Thickness",
    sources=(
        Source("SSPC-PA 2", "May 2012", "words and clause 8", "stored source"),
        Source("SSPC-PA 2", "2012 to 2018 editions", "appendices 2, 3 and 7", "from memory"),
        Source("ISO 19840", "2012", "annex C", "from memory"),
        Source("IMO MSC.215(82)", "2006", "annex 3", "stored source"),
        Source("MIL-HDBK-1110", "", "distance from edges", "stored source"),
    ),
    caution="Advice to plan by, not a rule to judge by. Work at height and in tanks follows local codes and permits.",
    example={"feature": "pipe", "length_m": 24, "diameter_in": 16},
)
def measuring_guidance(inputs: Inputs) -> Outputs:
    """What the standards say about the place, each sentence with how it is known; unknown numbers are named so."""
    sentences = SENTENCES[inputs.feature]
    sets = spots = None
    if inputs.length_m is not None and inputs.diameter_in is not None:
        diameter = inputs.diameter_in
        sets = math.ceil(inputs.length_m * FT_PER_M / PIPE_SPACING_FT)
        spots = sets * next((around for largest, around in PIPE_SPOTS if diameter <= largest), 8)
    return Outputs(
        guidance=tuple(sentence for sentence in sentences if sentence.provenance != UNKNOWN),
        unknown=tuple(sentence.text for sentence in sentences if sentence.provenance == UNKNOWN),
        pipe_sets=sets,
        pipe_spots=spots,
    )
