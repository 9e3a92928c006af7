"""Which areas to measure: a random choice that anyone can repeat with nothing but a SHA-256 program.

Each candidate gets the SHA-256 digest of the UTF-8 text ``seed + "\\n" + name``, written as hexadecimal. Within a
block, the candidates with the smallest digests (compared as text) are chosen. SSPC-PA 2 asks for three areas in the
first 100 m² and one in each further 100 m² or part of it; candidates of about 10 m² each therefore form blocks of
ten, in the order given: three are chosen from the first block, one from each further block, and all if there are
three or fewer.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from inspection.standards.registry import InputFault, Source, calculation, choice, number, result, text, texts
from inspection.standards.sampling import PA2_AREAS

BLOCK = 10
FROM_FIRST_BLOCK = 3


@dataclass(frozen=True)
class Inputs:
    seed: str = text(
        "Seed",
        help="Agree on it before the surface is seen, and record it, for example the date and a die thrown twice.",
    )
    areas: tuple[str, ...] = texts(
        "Candidate areas in the order they lie", help="About 10 m² (100 ft²) each for SSPC-PA 2.", most=20_000
    )
    plan: str = choice("How many", ("SSPC-PA 2", "a number"), default="SSPC-PA 2")
    count: int | None = number("Number of areas to choose", optional=True, minimum=1, maximum=20_000)

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for index, name in enumerate(self.areas):
            if name in seen:
                raise InputFault.at(f"areas[{index}]", f"{name!r} is listed twice; each area needs a name of its own")
            seen.add(name)
        if (self.plan == "a number") != (self.count is not None):
            raise InputFault.at("count", 'belongs to the plan "a number", and only there')
        if self.count is not None and self.count > len(self.areas):
            raise InputFault.at("count", f"is more than the {len(self.areas)} areas listed")


@dataclass(frozen=True)
class Candidate:
    name: str
    digest: str
    block: int
    chosen: bool


@dataclass(frozen=True)
class Outputs:
    chosen: tuple[str, ...] = result("Areas to measure")
    candidates: tuple[Candidate, ...] = result("All areas with their digests")
    method: str = result("How the choice was made")


@calculation(
    "choose-areas",
    title="Which areas to measure",
    group="Thickness",
    sources=(
        PA2_AREAS,
        Source("FIPS 180-4", "2015", "SHA-256", "computed"),
    ),
    caution="The choice is only as fair as the seed: fix it before anyone has looked at the surface.",
    example={"seed": "2024-05-31 tank 4, dice 3 and 5", "areas": [f"strake {n}" for n in range(1, 13)]},
)
def choose_areas(inputs: Inputs) -> Outputs:
    """A seeded random choice of areas that an auditor can repeat: smallest SHA-256 of seed and name, by block."""
    digests = [digest(inputs.seed, name) for name in inputs.areas]
    if inputs.count is not None:
        picked = _smallest(digests, range(len(digests)), inputs.count)
        blocks = [0] * len(digests)
        how = f"the {inputs.count} smallest digests"
    else:
        picked = pa2_choice(digests)
        blocks = [index // BLOCK for index in range(len(digests))]
        how = "the three smallest digests of the first ten areas, and the smallest of each further ten or part"
    return Outputs(
        chosen=tuple(name for index, name in enumerate(inputs.areas) if index in picked),
        candidates=tuple(
            Candidate(name, digests[index], blocks[index], index in picked) for index, name in enumerate(inputs.areas)
        ),
        method=f"Digest: SHA-256 of seed, line feed (\\n) and name in UTF-8, as hexadecimal text. Chosen: {how}.",
    )


def digest(seed: str, name: str) -> str:
    """SHA-256 of seed, line feed and name, in hexadecimal."""
    return hashlib.sha256(f"{seed}\n{name}".encode()).hexdigest()


def pa2_choice(digests: Sequence[str]) -> set[int]:
    """Three areas of the first block of ten and one of each further block."""
    picked = _smallest(digests, range(min(BLOCK, len(digests))), FROM_FIRST_BLOCK)
    for start in range(BLOCK, len(digests), BLOCK):
        picked |= _smallest(digests, range(start, min(start + BLOCK, len(digests))), 1)
    return picked


def _smallest(digests: Sequence[str], among: range, count: int) -> set[int]:
    return set(sorted(among, key=lambda index: digests[index])[:count])
