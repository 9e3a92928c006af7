"""Which point holds the next coat of an area, told to the day's work."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import F
from django.dispatch import receiver

from inspection.fieldwork.signals import held_at_asked
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.passing import FREED


@receiver(held_at_asked, dispatch_uid="holdpoints")
def held_at(sender: Any, orders: dict[UUID, int], **sent: Any) -> dict[UUID, UUID]:
    """The first hold point, of the bare steel or after a coat measured already, that is neither released nor waived."""
    points = HoldPoint.objects.filter(area__among=list(orders), kind=HoldPoint.Kind.HOLD)
    points = points.exclude(state__in=(*FREED, HoldPoint.State.CLOSED))
    found: dict[UUID, UUID] = {}
    in_order = points.order_by(F("coat__order").asc(nulls_first=True), "pk")
    for pk, area, order in in_order.values_list("pk", "area", "coat__order"):
        if order is None or order <= orders[area]:
            found.setdefault(area, pk)
    return found
