"""Drawings on the pages of rooms below this one."""

from __future__ import annotations

from typing import Any

from django import template

from accounts.models import Person
from inspection.drawings import queries
from inspection.projects.models import InspectionArea

register = template.Library()


@register.inclusion_tag("drawings/of_area.html")
def drawings_of_area(user: Person, area: InspectionArea) -> dict[str, Any]:
    """Those that show the area, with the revision of each that stands."""
    return {"rows": queries.of_area(user, area)}
