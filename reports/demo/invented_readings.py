"""A physically sensible model of what a crew would read: film, profile, gauge and operator, from one seed.

A reading is the film at that place, plus what the profile adds under the probe, times the gauge's gain, plus its
offset, plus the scatter of probe and hand. Thicknesses in micrometres, temperatures in °C.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

TENTH_UM = 100


@dataclass(frozen=True)
class GaugeBehaviour:
    """How one gauge departs from the truth on a day: gain, offset in µm, and scatter of a reading in µm."""

    gain: float = 1.0
    offset_um: float = 0.0
    scatter_um: float = 0.6


@dataclass(frozen=True)
class Film:
    """A coat as applied: its mean through all layers, the spread from place to place and within a spot, in µm."""

    mean_um: float
    between_spots_um: float
    within_spot_um: float
    profile_um: float = 0.0


class Hand:
    """One seeded source of everything that scatters, so that the same seed plays the same weeks."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def on_shim(self, certified_nm: int, gauge: GaugeBehaviour, count: int = 5) -> list[int]:
        """Readings in nm of a gauge on a shim that truly is what its certificate says."""
        truth = certified_nm / 1000
        return [
            self._shown(truth * gauge.gain + gauge.offset_um + self.rng.normal(0, gauge.scatter_um))
            for _ in range(count)
        ]

    def on_film(self, film: Film, gauge: GaugeBehaviour, spots: int, per_spot: int) -> list[list[int]]:
        """Readings in nm, a list a spot. Film varies log-normally between spots: never negative, skewed as sprayed."""
        sigma = math.sqrt(math.log1p((film.between_spots_um / film.mean_um) ** 2))
        centres = self.rng.lognormal(math.log(film.mean_um) - sigma**2 / 2, sigma, spots)
        return [
            [
                self._shown(
                    (max(centre + self.rng.normal(0, film.within_spot_um), 1) + film.profile_um) * gauge.gain
                    + gauge.offset_um
                    + self.rng.normal(0, gauge.scatter_um)
                )
                for _ in range(per_spot)
            ]
            for centre in centres
        ]

    def on_steel(self, profile_um: float, locations: int, per_location: int) -> list[list[int]]:
        """Heights in nm of a depth micrometer on blasted steel, a list a location."""
        centres = self.rng.normal(profile_um, 3, locations)
        return [[self._shown(centre + self.rng.normal(0, 6)) for _ in range(per_location)] for centre in centres]

    def climate(self, local: datetime, *, mean_c: float, swing_c: float, dew_c: float) -> tuple[float, float, float]:
        """Dry bulb, wet bulb and steel for the hour: a day's wave over the mean, the air mass's own dew point."""
        wave = math.sin((local.hour + local.minute / 60 - 9) / 24 * 2 * math.pi)
        dry = mean_c + swing_c * wave + self.rng.normal(0, 0.3)
        dew = min(dew_c + self.rng.normal(0, 0.3), dry - 0.4)
        steel = dry - 0.8 + swing_c * 0.3 * wave + self.rng.normal(0, 0.3)
        return round(dry, 1), round(_wet_bulb(dry, dew), 1), round(steel, 1)

    def _shown(self, value_um: float) -> int:
        """What the display shows: tenths of a micrometre, in nm, never below zero."""
        return max(round(value_um * 10), 0) * TENTH_UM


def _wet_bulb(dry: float, dew: float) -> float:
    """The wet bulb that a ventilated psychrometer would show, by bisection on the psychrometer equation."""

    def saturation(t: float) -> float:
        return 6.112 * math.exp(17.62 * t / (243.12 + t))

    low, high = dew, dry
    for _ in range(40):
        middle = (low + high) / 2
        if saturation(middle) - 0.000662 * 1013.25 * (dry - middle) > saturation(dew):
            high = middle
        else:
            low = middle
    return (low + high) / 2
