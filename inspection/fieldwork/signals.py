"""What the rooms above are asked of what is observed in this one."""

from __future__ import annotations

from typing import Any

from django.db.models import BooleanField, Exists, Subquery, UUIDField, Value
from django.dispatch import Signal

# Sent to learn which point holds the next coat of an area. A room that listens answers with a subquery for the id of
# the first such point, over `OuterRef("pk")`, the area's, and `OuterRef("last_order")`, the place in the system of its
# coat measured last.
held_at_asked = Signal()

# Sent to learn whether an area stands in spite of its failing measurement. A room that listens answers with an `Exists`
# over `OuterRef("last_record")`, the id of the measurement.
carried_asked = Signal()


def held_at() -> Subquery | Value:
    """The expression for that id; nothing where no room knows of points."""
    answers: list[tuple[Any, Any]] = held_at_asked.send(sender=None)
    return next((found for _, found in answers), Value(None, output_field=UUIDField()))


def carried() -> Exists | Value:
    """The expression for that; untrue where no room knows of any."""
    answers: list[tuple[Any, Any]] = carried_asked.send(sender=None)
    return next((found for _, found in answers), Value(False, output_field=BooleanField()))
