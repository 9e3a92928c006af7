"""Speed, always as a ratio to something bare that is timed in the same run on the same machine.

A ``bench_*.py`` here has one function ``run()`` that returns rows of name, ratio and aim ("≤ 2", "≥ 5", or "" where
nothing is aimed at). ``make bench`` runs them all on a PostgreSQL of their own, with Django set up and migrated.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import Any

Row = tuple[str, float, str]


def best_of(contestants: Mapping[str, Callable[[], Any]], rounds: int = 5) -> dict[str, float]:
    """Seconds of each contestant's best round. They take turns, so that a busy moment meets them all alike."""
    best = dict.fromkeys(contestants, float("inf"))
    for _ in range(rounds):
        for name, contestant in contestants.items():
            started = time.perf_counter()
            contestant()
            best[name] = min(best[name], time.perf_counter() - started)
    return best


def met(row: Row) -> bool:
    """Whether the ratio keeps its aim. Raises ValueError for an aim that is not "≤ n", "≥ n" or empty."""
    _, ratio, aim = row
    if not aim:
        return True
    sign, _, limit = aim.partition(" ")
    if sign not in {"≤", "≥"}:
        raise ValueError(f"{aim!r} is no aim")
    return ratio <= float(limit) if sign == "≤" else ratio >= float(limit)
