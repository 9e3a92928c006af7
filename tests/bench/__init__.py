"""Speed, always as a ratio to something bare that is timed in the same run on the same machine.

A ``bench_*.py`` here has one function ``run() -> list[Ratio]``; ``make bench`` runs them all on a PostgreSQL of their
own, with Django set up and migrated.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import Any


@dataclass(frozen=True)
class Ratio:
    """Seconds that ours took over seconds that the bare way took. `at_most` is the aim; None where there is none."""

    name: str
    against: str
    ours_s: float
    bare_s: float
    at_most: float | None = None

    @property
    def value(self) -> float:
        return self.ours_s / self.bare_s

    @property
    def met(self) -> bool:
        return self.at_most is None or self.value <= self.at_most


def seconds(work: Callable[[], Any], times: int = 5) -> float:
    """The median time of the work, after once unmeasured."""
    work()
    taken = []
    for _ in range(times):
        started = time.perf_counter()
        work()
        taken.append(time.perf_counter() - started)
    return median(taken)
