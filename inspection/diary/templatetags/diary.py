"""The diary on the pages of rooms below this one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils import timezone

from inspection.diary import queries

register = template.Library()


@register.inclusion_tag("diary/notes_today.html", takes_context=True)
def notes_today(context: Any, shown: Iterable[Any]) -> dict[str, Any]:
    """Of the projects of the day: notes to the next shift that the person has not read, days they have not signed."""
    projects, user = [each.project for each in shown], context["user"]
    return {
        "notes": queries.notes_for(user, projects), "unsigned": queries.unsigned_days(user, projects, timezone.now()),
        "csrf_token": context.get("csrf_token"),
    }  # fmt: skip
