"""What somebody who leaves still has in hand."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person, Role, RoleGrant
from accounts.signals import Unfinished, unfinished
from inspection.instruments.models import Gauge, ReferenceStandard


@receiver(unfinished, dispatch_uid="instruments")
def in_hand(sender: Any, by: Person, person: Person | None, project: Any, **sent: Any) -> list[Unfinished]:
    """Each instrument and standard in the person's custody; none where one project alone is left: they are shared."""
    if person is None or project is not None:
        return []
    return [
        Unfinished(f"{thing.get_kind_display()} {thing}, in their hands", reverse(page, args=[thing.pk]))
        for page, model in (("gauge", Gauge), ("standard", ReferenceStandard))
        for thing in model._default_manager.visible_to(by).filter(holder=person)
    ]


def held_by_nobody_here(things: QuerySet[Any]) -> QuerySet[Any]:
    """Those in the custody of somebody who has left, or may no longer handle equipment."""
    may = RoleGrant.objects.filter(role__in=(Role.INSPECTOR, Role.QUALITY_MANAGER), ended_at=None).values("person")
    return things.exclude(holder=None).filter(Q(holder__is_active=False) | ~Q(holder__in=may))
