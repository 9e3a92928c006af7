"""What the rooms above are asked of what is observed in this one."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import BooleanField, Exists, Subquery, UUIDField, Value
from django.dispatch import Signal

# Sent with `orders`, by area the place in its system of the coat measured last (0: none): which point holds the next
# coat. A room that listens answers with the id of the first such point, by area, of those that are held.
held_at_asked = Signal()

# Sent to learn whether an area stands in spite of its failing measurement. A room that listens answers with an `Exists`
# over `OuterRef("last_record")`, the id of the measurement.
carried_asked = Signal()

# Sent to learn which repaired part of an area is to pass beside its failing measurement. A room that listens answers
# with a subquery for the id of the part's own area, over `OuterRef("last_record")`, the id of the measurement.
repair_asked = Signal()


def held_at(orders: dict[UUID, int]) -> dict[UUID, UUID]:
    """By area the point that holds it; none where no room knows of points."""
    answers: list[tuple[Any, Any]] = held_at_asked.send(sender=None, orders=orders)
    return next((found for _, found in answers), {})


def carried() -> Exists | Value:
    """The expression for that; untrue where no room knows of any."""
    answers: list[tuple[Any, Any]] = carried_asked.send(sender=None)
    return next((found for _, found in answers), Value(False, output_field=BooleanField()))


def repair() -> Subquery | Value:
    """The expression for that id; nothing where no room knows of any."""
    answers: list[tuple[Any, Any]] = repair_asked.send(sender=None)
    return next((found for _, found in answers), Value(None, output_field=UUIDField()))
