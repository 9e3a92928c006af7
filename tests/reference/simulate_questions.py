"""How often honest records are asked about, by simulation: `python -m tests.reference.simulate_questions 100000`.

Honest readings: spots that drift along the steel (a first-order autoregressive film), scatter within a spot, a gauge
with scatter of its own that shows in its checks too, a display of 0.1, 1 or 5 µm, 20 to 300 readings.
"""

from __future__ import annotations

import sys
from collections import Counter
from typing import Any

import numpy as np

from inspection.standards.reading_questions import (
    little_scatter,
    longest_repeat,
    prints_of,
    run_to_ask_of,
    uneven_digits,
)

STEPS_NM = (100, 1_000, 5_000)


def honest(draw: np.random.Generator, count: int, step: int) -> tuple[Any, Any, list[list[int]]]:
    """Readings in nm, their spots, and the gauge's readings on four standards."""
    each = int(draw.choice((1, 3)))
    spots = np.repeat(np.arange(-(-count // each)), each)[:count]
    mean, scatter = draw.uniform(60_000, 400_000), draw.uniform(2_000, 25_000)
    along = draw.uniform(0, 0.9)
    new = draw.normal(size=spots[-1] + 1) * scatter * np.sqrt(1 - along**2)
    film = np.empty_like(new)
    last = draw.normal() * scatter
    for at, value in enumerate(new):
        film[at] = last = along * last + value
    gauge = draw.uniform(200, 3_000)
    # The worst case for scatter is a film that has none of its own within a spot.
    within = draw.choice((0, 1_500, 5_000))
    read = mean + film[spots] + draw.normal(size=count) * np.hypot(gauge, within)
    values = np.maximum(np.rint(read / step), 1).astype(np.int64) * step
    checks = np.rint((draw.uniform(50_000, 500_000, size=(4, 1)) + draw.normal(size=(4, 3)) * gauge) / step) * step
    return values, spots, [[int(nm) for nm in row] for row in checks]


def asked_of(records: int, seed: int = 1) -> Counter[str]:
    """How many of so many honest records are asked about, by question; repeats are sought among all of them."""
    draw = np.random.default_rng(seed)
    found: Counter[str] = Counter()
    seen: dict[int, tuple[Any, int]] = {}
    compared = 0
    for number in range(records):
        values, spots, checks = honest(draw, int(draw.integers(20, 301)), STEPS_NM[number % 3])
        found["scatter"] += little_scatter(values, spots, checks) is not None
        found["digits"] += uneven_digits(values, spots) is not None
        length = run_to_ask_of(values, compared)
        compared += len(values)
        repeated = False
        for code, at in prints_of(values):
            if code in seen and length is not None:
                other, other_at = seen[code]
                repeated |= longest_repeat(values, other, at, other_at).length >= length
            seen[code] = (values, at)
        found["repeated"] += repeated
    return found


if __name__ == "__main__":
    MANY = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    for question, times in sorted(asked_of(MANY).items()):
        print(f"{question}: {times} of {MANY} honest records, {1000 * times / MANY:.2f} in 1,000")
