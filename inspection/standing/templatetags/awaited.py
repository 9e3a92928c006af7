"""The checks after work that are still to be made, on the pages of rooms below this one."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import template

from accounts.models import Person
from inspection.standing.awaited import checks_awaited

register = template.Library()


@register.inclusion_tag("standing/awaited_today.html")
def checks_awaited_today(user: Person, shown: Iterable[Any], at: datetime) -> dict[str, Any]:
    """Of the projects of the day, the gauges whose records wait for a check after work, with when it falls due."""
    return {"checks": checks_awaited(user, [each.project for each in shown], at)}
