"""What hold points tell of lots: which of them hold work on a place, and that work went on all the same."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, Subquery
from django.dispatch import receiver

from accounts.models import Person
from inspection.holdpoints.actions.passing_over import follow_passing_on
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.passing import FREED
from inspection.projects.models import Coat, Project
from inspection.works.lots.progress import Step, Told
from inspection.works.signals import holds_asked, lots_changed, progress_asked


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


@receiver(progress_asked, dispatch_uid="holdpoints")
def released_there(sender: Any, project: Project, **sent: Any) -> Told:
    """The places where a point was released or waived and no hold point is open, with when the last of them was."""
    freed = Decision.objects.filter(point=OuterRef("pk"), outcome__in=FREED).order_by("-at", "-pk")
    points = HoldPoint.objects.filter(project=project).exclude(state=HoldPoint.State.CLOSED)
    rows = points.annotate(freed_at=Subquery(freed.values("at")[:1])).values_list(
        "area", "coat", "kind", "state", "freed_at"
    )
    found, open_there = Told(), set[Step]()
    for area, coat, kind, state, at in rows:
        step = (area, coat)
        if state not in FREED or at is None:
            # A witness point holds nothing up.
            open_there |= {step} if kind == HoldPoint.Kind.HOLD else set()
        else:
            found.released[step] = max(at, found.released.get(step, at))
    found.released = {step: at for step, at in found.released.items() if step not in open_there}
    return found
