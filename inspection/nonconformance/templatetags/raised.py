"""Nonconformances on the pages of what they belong to: of a record, and of an area after a coat."""

from __future__ import annotations

from typing import Any

from django import template

from accounts.models import Person
from inspection.fieldwork.models import Record
from inspection.nonconformance.models import Nonconformance
from inspection.nonconformance.queries import of_record
from inspection.projects.models import Coat, InspectionArea

register = template.Library()
MOST_SHOWN = 20
State = Nonconformance.State


@register.inclusion_tag("nonconformance/raised_of.html")
def nonconformances_of_record(user: Person, record: Record) -> dict[str, Any]:
    """Those it raised or closed, in this version or another, and those open on its area after its coat."""
    rows = Nonconformance.objects.visible_to(user)
    own = list(of_record(rows, record.pk).order_by("number")[:MOST_SHOWN])
    shown = [(row, "closed by it" if row.closing_record_id == record.pk else "raised by it") for row in own]
    if record.coat_id:
        there = rows.filter(area=record.area_id, coat=record.coat_id, state=State.OPEN)
        others = there.exclude(pk__in=[row.pk for row in own]).order_by("number")[:MOST_SHOWN]
        shown += [(row, "open on its area and coat") for row in others]
    return {"rows": shown, "title": "Nonconformances"}


@register.inclusion_tag("nonconformance/raised_of.html")
def nonconformances_not_open(user: Person, area: InspectionArea, coat: Coat | None) -> dict[str, Any]:
    """Those of an area after a coat that hold nothing back: closed, and drafts."""
    rows = Nonconformance.objects.visible_to(user).filter(area=area, coat=coat).exclude(state=State.OPEN)
    shown = [(row, "") for row in rows.order_by("-number")[:MOST_SHOWN]] if coat else []
    return {"rows": shown, "title": "Closed and drafted nonconformances"}
