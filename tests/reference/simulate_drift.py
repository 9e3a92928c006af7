"""How often simulated gauges are found outside tolerance on the days that drift-forecast and interval-advice name.

``python -m tests.reference.simulate_drift`` prints the table that stands in docs/reference/climate-surface-film.md.
Every gauge drifts by a straight line and is checked each quarter with normal scatter; the seed is fixed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

TOLERANCE_UM = 3.0
EVERY_DAYS = 91
LONGEST_DAYS = 3652
HORIZON_DAYS = 50 * 365.25
GAUGES = 10_000
SEED = 20261125
# Checks so far, scatter of one check and drift a year, in µm.
SETTINGS = (
    (5, 0.1, 0.67), (5, 0.6, 0.67), (8, 0.1, 0.67), (8, 0.6, 0.67), (12, 0.1, 0.67), (12, 0.3, 0.67), (12, 0.6, 0.67),
    (8, 0.6, 0.2), (12, 0.6, 0.2),
)  # fmt: skip


@dataclass(frozen=True)
class Left:
    """Shares, in percent, of gauges found outside: by a check on the earliest day, and on the due day advised.

    ``band`` is the share on the day on which the confidence band of the line, instead, reaches the tolerance.
    """

    checks: int
    scatter_um: float
    drift_um: float
    earliest: float
    due: float
    band: float


def simulate(checks: int, scatter_um: float, drift_um: float, gauges: int = GAUGES) -> Left:
    rng = np.random.default_rng([SEED, checks, round(1000 * scatter_um), round(1000 * drift_um)])
    x = EVERY_DAYS * np.arange(checks)
    errors = drift_um / 365.25 * x + rng.normal(0, scatter_um, (gauges, checks))
    fits = Fits.through(x, errors)
    ahead = (abs(errors[:, -1]) <= TOLERANCE_UM) & (abs(fits.at(x[-1])) <= TOLERANCE_UM)
    fits = fits.of(ahead)
    later = rng.normal(0, scatter_um, int(ahead.sum()))

    def found_outside(days: np.ndarray) -> float:
        seen = np.isfinite(days)
        found = abs(drift_um / 365.25 * days[seen] + later[seen]) > TOLERANCE_UM
        return round(100 * float(found.mean()), 1) if seen.any() else 0.0

    earliest = fits.reaches(one_check=True)
    due = np.where(np.isfinite(earliest), np.minimum(earliest, x[-1] + LONGEST_DAYS), x[-1] + LONGEST_DAYS)
    return Left(checks, scatter_um, drift_um, found_outside(earliest), found_outside(due),
                found_outside(fits.reaches(one_check=False)))  # fmt: skip


@dataclass(frozen=True)
class Fits:
    """Least-squares lines of many gauges at once, written apart from the calculation they are held against."""

    x: np.ndarray
    mean: np.ndarray
    slope: np.ndarray
    scatter: np.ndarray

    @classmethod
    def through(cls, x: np.ndarray, errors: np.ndarray) -> Fits:
        (slope, start), residuals, *_ = np.polyfit(x, errors.T, 1, full=True)
        return cls(x, start + slope * x.mean(), slope, np.sqrt(residuals / (len(x) - 2)))

    def of(self, some: np.ndarray) -> Fits:
        return Fits(self.x, self.mean[some], self.slope[some], self.scatter[some])

    def at(self, days: np.ndarray | float) -> np.ndarray:
        return np.asarray(self.mean + self.slope * (days - self.x.mean()))

    def reaches(self, *, one_check: bool) -> np.ndarray:
        """Whole days until an edge of the 95 % interval passes the tolerance; infinite where it never does."""
        factor = stats.t.ppf(0.975, len(self.x) - 2)

        def past(days: np.ndarray) -> np.ndarray:
            share = one_check + 1 / len(self.x) + (days - self.x.mean()) ** 2 / ((self.x - self.x.mean()) ** 2).sum()
            return np.asarray(abs(self.at(days)) + factor * self.scatter * np.sqrt(share) > TOLERANCE_UM)

        low = np.full(len(self.mean), float(self.x[-1]))
        high = low + HORIZON_DAYS
        never, at_once = ~past(high), past(low)
        for _ in range(40):
            middle = (low + high) / 2
            beyond = past(middle)
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        high[at_once] = self.x[-1]
        return np.asarray(np.where(never & ~at_once, np.inf, np.floor(high)))


def table() -> list[str]:
    """The rows of the documented table, at its full size."""
    rows = []
    for setting in SETTINGS:
        left = simulate(*setting)
        shares = (left.earliest, left.due, left.band)
        cells = [f"{left.checks}", f"{left.scatter_um:g}", f"{left.drift_um:g}", *(f"{one:.1f} %" for one in shares)]
        rows.append(f"| {' | '.join(cells)} |")
    return rows


if __name__ == "__main__":
    print("\n".join(table()))
