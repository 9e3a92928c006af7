"""What somebody who leaves has begun to measure and not finished."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person, Role, RoleGrant
from accounts.signals import Unfinished, unfinished
from inspection.fieldwork.models import Sheet

MEASURERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)


@receiver(unfinished, dispatch_uid="fieldwork")
def under_way(sender: Any, by: Person, person: Person | None, project: Any, **sent: Any) -> list[Unfinished]:
    sheets = Sheet.objects.visible_to(by).filter(closed_at=None).select_related("project", "area", "coat", "person")
    if person is not None:
        sheets = sheets.filter(person=person)
    if project is not None:
        sheets = sheets.filter(project=project)
    return [
        Unfinished(
            f"Open sheet of {sheet.person.name}: {sheet.project.code}, {sheet.area} after {sheet.coat.name}",
            # Whoever does not measure is told of it, and led nowhere.
            reverse("sheet", args=[sheet.pk]) if by.has_role(*MEASURERS) else "",
        )
        for sheet in sheets.order_by("begun_at")
    ]


def left_open(sheets: QuerySet[Any]) -> QuerySet[Any]:
    """Open sheets whose measurer can no longer finish them: they have left, or hold no role to measure in."""
    may = RoleGrant.objects.filter(role__in=MEASURERS, ended_at=None, person__is_active=True)
    return sheets.filter(closed_at=None).exclude(person__in=may.values("person"))
