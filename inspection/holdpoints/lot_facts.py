"""What hold points tell of lots: which of them hold work on a place, and that work went on all the same."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q
from django.dispatch import receiver

from accounts.models import Person
from inspection.holdpoints.actions.passing_over import follow_passing_on
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.passing import FREED
from inspection.projects.models import Coat
from inspection.works.signals import holds_asked, lots_changed


@receiver(holds_asked, dispatch_uid="holdpoints")
def holding(sender: Any, areas: Collection[UUID], coat: Coat, at: datetime, **sent: Any) -> list[tuple[UUID, str]]:
    """The hold points before the coat that nobody had freed by then."""
    freed = Decision.objects.filter(point=OuterRef("pk"), outcome__in=FREED, at__lte=at)
    points = HoldPoint.objects.filter(
        Q(coat=None) | Q(coat__order__lt=coat.order), ~Exists(freed), kind=HoldPoint.Kind.HOLD,
        area__among=list(areas), planned_at__lte=at,
    ).exclude(state=HoldPoint.State.CLOSED)  # fmt: skip
    return list(points.order_by("area", "coat__order", "pk").values_list("area", "title"))


@receiver(lots_changed, dispatch_uid="holdpoints")
def follow_lots(sender: Any, by: Person, areas: Collection[UUID], **sent: Any) -> None:
    follow_passing_on(by, areas)
