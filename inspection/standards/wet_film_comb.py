"""Wet film read with a comb, beside the film to aim at."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.film import WET_DRY, WetFilmIn, wet_film
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
    thickness,
)

COMB = Source("ISO 2808", "comb gauge: the wet film lies between the last tooth wetted and the next", "",
              "from memory")  # fmt: skip
AT_ONCE = Source("Read at once after application, within a minute", "", "", "common practice, no source")
GUIDE = "A comb guides the applicator: low places are gone over while they are wet. It never accepts a coat."


@dataclass(frozen=True, kw_only=True)
class CombIn:
    readings_um: tuple[Fraction, ...] = numbers("Teeth wetted, µm", minimum=0, maximum=10_000)
    dry_film_um: Fraction = thickness("Dry film to reach", above=0)
    most_dry_film_um: Fraction | None = thickness("Most dry film", above=0, optional=True)
    volume_solids_pct: Fraction = number("Volume solids", above=0, maximum=100)
    thinner_pct: Fraction = number(
        "Thinner added", help="Percent by volume of the unthinned paint.", minimum=0, maximum=200, default=0
    )

    def __post_init__(self) -> None:
        if self.most_dry_film_um is not None and self.most_dry_film_um < self.dry_film_um:
            raise InputFault.at("most_dry_film_um", "must not be below dry_film_um")


@dataclass(frozen=True, kw_only=True)
class CombOut(Judged):
    aim_um: Fraction = result("Wet film to aim at")
    most_um: Fraction | None = result("Most wet film", optional=True)
    lowest_um: Fraction = result("Lowest reading")
    mean_um: Fraction = result("Mean reading")
    low: tuple[int, ...] = result("Readings below, from 1")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "wet-film-comb",
    title="Wet film by comb, beside the film to aim at",
    group="Film",
    sources=(WET_DRY, COMB, AT_ONCE),
    example={"readings_um": [150, 175, 125], "dry_film_um": 80, "volume_solids_pct": 65, "thinner_pct": 10},
    caution=GUIDE,
)
def wet_film_comb(inputs: CombIn) -> CombOut:
    """Which readings lie below the wet film that dries to what is to be reached: dry × (1 + thinner) / volume solids.

    A reading is the last tooth wetted, so the film is at least that and below the next tooth: a reading that reaches
    the aim passes. Readings and films in µm, thinner in % by volume of the unthinned paint.
    """
    solids = {"volume_solids_pct": inputs.volume_solids_pct, "thinner_pct": inputs.thinner_pct}
    aim = wet_film(WetFilmIn(dry_film_um=inputs.dry_film_um, **solids)).wet_film_um
    most = inputs.most_dry_film_um and wet_film(WetFilmIn(dry_film_um=inputs.most_dry_film_um, **solids)).wet_film_um
    low = tuple(place for place, reading in enumerate(inputs.readings_um) if reading < aim)
    lowest = min(inputs.readings_um)
    checks = [
        Check("wet film", "film arithmetic", "Every reading must reach the wet film to aim at.", aim, lowest, not low,
              low or (inputs.readings_um.index(lowest),), unit="um")
    ]  # fmt: skip
    thick = sum(most is not None and reading > most for reading in inputs.readings_um)
    notes = [GUIDE] + ([f"{thick} of them above what dries to the most that is specified."] if thick else [])
    return CombOut(
        verdict=judged(checks),
        rule="wet film that dries to what is specified",
        edition="",
        checks=tuple(checks),
        aim_um=aim,
        most_um=most,
        lowest_um=lowest,
        mean_um=sum(inputs.readings_um, Fraction(0)) / len(inputs.readings_um),
        low=tuple(place + 1 for place in low),
        notes=tuple(notes),
    )
