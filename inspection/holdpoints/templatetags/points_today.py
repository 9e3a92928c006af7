"""The points of the day on the inspector's landing page, which lies in a room below this one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.db.models import Count

from accounts.models import Person
from inspection.holdpoints.ground import LYING, MARKS, PLACES
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.queries import points_seen_by

register = template.Library()
Lies = HoldPoint.Lies
# What wants somebody on site today, in the order of the board.
WANTED = (Lies.READY, Lies.DOUBT, Lies.PASSED_OVER, Lies.NOTIFIED, Lies.REFUSED)
NAMES = {place: name for name, place in LYING.items()}


@register.inclusion_tag("holdpoints/points_today.html")
def points_today(user: Person, shown: Iterable[Any]) -> dict[str, Any]:
    """By project of the day, how many points lie where they want somebody, each a way to the board: one query."""
    projects = {each.project.pk: each.project for each in shown}
    points = points_seen_by(user).filter(project__in=projects, lies__in=WANTED, area__retired_at=None)
    counts = dict[tuple[Any, int], int]()
    for project, lies, many in points.order_by().values_list("project", "lies").annotate(many=Count("pk")):
        counts[project, lies] = many
    rows = [
        {
            "project": project,
            "places": [
                {"key": NAMES[lies], "words": PLACES[NAMES[lies]], "mark": MARKS[lies], "many": counts[pk, lies]}
                for lies in WANTED
                if (pk, lies) in counts
            ],
        }
        for pk, project in projects.items()
    ]
    return {"rows": [row for row in rows if row["places"]]}
