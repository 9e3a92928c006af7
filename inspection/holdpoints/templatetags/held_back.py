"""The points that a nonconformance belongs to, on its page."""

from __future__ import annotations

from typing import Any

from django import template

from accounts.models import Person
from inspection.holdpoints.queries import points_held_by
from inspection.nonconformance.models import Nonconformance

register = template.Library()
MOST_SHOWN = 20


@register.inclusion_tag("holdpoints/held_back.html")
def points_held_back(user: Person, nonconformance: Nonconformance) -> dict[str, Any]:
    """The points of its area and coat, and how each stands; an open one holds them back."""
    rows = points_held_by(user, nonconformance).select_related("area", "coat").order_by("planned_at", "pk")
    return {"points": rows[:MOST_SHOWN], "holds": nonconformance.state == Nonconformance.State.OPEN}
