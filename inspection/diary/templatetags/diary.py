"""The diary on the pages of rooms below this one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template

from inspection.diary import queries

register = template.Library()


@register.inclusion_tag("diary/notes_today.html", takes_context=True)
def notes_today(context: Any, shown: Iterable[Any]) -> dict[str, Any]:
    """Notes to the next shift that the person has not read, of the projects of the day: one query."""
    notes = queries.notes_for(context["user"], [each.project for each in shown])
    return {"notes": notes, "csrf_token": context.get("csrf_token")}
