"""Which lots of a coat stand: those that were blasted off, or coated over whole after a failure, are history.

By m²: who blasted or coated which part of an area is not recorded, so that only what covers the whole of it counts,
done in one go, without paint between the blasts, or a failure between the lots. In doubt a lot stands.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

# Of a place: when it was begun, and how much of the area, in m².
Part = tuple[datetime, Decimal]


def whole_since(parts: Iterable[Part], breaks: Sequence[datetime], area_m2: Decimal) -> datetime | None:
    """The beginning of the last go that covered the whole area; `breaks` divide one go from the next."""
    between = sorted(breaks)
    goes: dict[int, list[Part]] = defaultdict(list)
    for begun, m2 in parts:
        goes[bisect_right(between, begun)].append((begun, m2))
    whole = [min(begun for begun, _ in go) for go in goes.values() if sum(m2 for _, m2 in go) >= area_m2]
    return max(whole, default=None)
