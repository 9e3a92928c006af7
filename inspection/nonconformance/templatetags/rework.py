"""Items of rework on the pages of rooms below this one: of an area, and of the projects of the day."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.db.models import Count

from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.nonconformance.actions.rework_items import LEAVE_SOMETHING
from inspection.nonconformance.models import ReworkItem
from inspection.nonconformance.rework import rework_items, versions_upto
from inspection.projects.models import InspectionArea

register = template.Library()
MOST_SHOWN = 10
MOST_OF_RECORD = 200


@register.inclusion_tag("nonconformance/rework_of_area.html")
def rework_of_area(user: Person, area: InspectionArea) -> dict[str, Any]:
    """What is open on the area, the oldest first, and how many there are."""
    rows = rework_items(user, area=area.pk).filter(state__in=("open", "done")).order_by("opened_at", "pk")
    shown = list(rows[: MOST_SHOWN + 1])
    return {"items": shown[:MOST_SHOWN], "more": len(shown) > MOST_SHOWN, "area": area, "user": user,
            "project": area.structure.project}  # fmt: skip


@register.inclusion_tag("nonconformance/rework_of_record.html")
def rework_of_record(user: Person, record: Record) -> dict[str, Any]:
    """What the record or a version before it opened to be put right; nothing is asked of a kind that opens none."""
    if record.kind not in LEAVE_SOMETHING:
        return {"items": []}
    items = rework_items(user).filter(record__in=versions_upto(record)).order_by("opened_at", "pk")
    return {"items": items[:MOST_OF_RECORD]}


@register.inclusion_tag("nonconformance/rework_today.html")
def rework_today(user: Person, shown: Iterable[Any]) -> dict[str, Any]:
    """How many items are open, and how many wait to be looked at, by project of the day: one query."""
    projects = {each.project.pk: each.project for each in shown}
    counts = ReworkItem.objects.visible_to(user).filter(project__in=projects).still_open()
    rows = counts.order_by().values_list("project", "state").annotate(many=Count("pk"))
    found: dict[Any, dict[str, Any]] = {}
    for project, state, many in rows:
        found.setdefault(project, {"project": projects[project], "open": 0, "done": 0})[state] = many
    return {"rows": [found[pk] for pk in projects if pk in found]}
