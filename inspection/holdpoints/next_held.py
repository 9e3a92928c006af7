"""Which point holds the next coat of an area, told to the day's work."""

from __future__ import annotations

from typing import Any

from django.db.models import OuterRef, Q, Subquery
from django.dispatch import receiver

from inspection.fieldwork.signals import held_at_asked
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.passing import FREED


@receiver(held_at_asked, dispatch_uid="holdpoints")
def held_at(sender: Any, **sent: Any) -> Subquery:
    """The first hold point, of the bare steel or after a coat measured already, that is neither released nor waived."""
    points = HoldPoint.objects.filter(
        Q(coat=None) | Q(coat__order__lte=OuterRef("last_order")), area=OuterRef("pk"), kind=HoldPoint.Kind.HOLD,
    ).exclude(state__in=(*FREED, HoldPoint.State.CLOSED))  # fmt: skip
    return Subquery(points.order_by("coat__order", "pk").values("pk")[:1])
