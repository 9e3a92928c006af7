"""Photos on the pages of rooms below this one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import template
from django.db.models import Model

from accounts.models import Person
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.photos import queries, subjects

register = template.Library()
MOST_SHOWN = 24


@register.inclusion_tag("photos/of_thing.html")
def photos_of(user: Person, thing: Model) -> dict[str, Any]:
    """Those of the thing that the person sees, oldest first, and the way to add some: one query."""
    rows = list(queries.photos_of(user, thing)[: MOST_SHOWN + 1])
    return {"photos": rows[:MOST_SHOWN], "more": len(rows) > MOST_SHOWN, "subject": subjects.of(thing), "thing": thing,
            "may_add": queries.may_add(user, thing)}  # fmt: skip


@register.inclusion_tag("photos/of_point.html")
def photos_of_point(user: Person, point: HoldPoint, decisions: Sequence[Decision]) -> dict[str, Any]:
    """Those of all that was decided on a point, and the way to add some to the last word: one query."""
    if not decisions:
        return {}
    rows = queries.photos_seen(user, decision__point=point.pk).filter(withdrawn_at=None).order_by("received_at", "pk")
    shown = [{"photo": photo, "of": subjects.told(photo)} for photo in rows[:MOST_SHOWN]]
    last = max(decisions, key=lambda decision: decision.number)
    return {"rows": shown, "last": last, "may_add": user.has_role(*queries.SENDERS)}
