"""What hold points tell of lots: which of them hold work on a place, and that work went on all the same."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.dispatch import receiver

from accounts.models import Person
from inspection.holdpoints.actions.keeping import follow_evidence
from inspection.holdpoints.actions.passing_over import follow_passing_on
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.passing import FREED, NOT_FREED, stood
from inspection.projects.models import Coat, Project
from inspection.works.lots.progress import Step, Told
from inspection.works.signals import holds_asked, lots_changed, paint_about_to_move, paint_moved, progress_asked


@receiver(holds_asked, dispatch_uid="holdpoints")
def holding(sender: Any, areas: Collection[UUID], coat: Coat, at: datetime, **sent: Any) -> list[tuple[UUID, str]]:
    """The hold points before the coat that nobody had freed by then."""
    points = HoldPoint.objects.annotate(stood=stood(OuterRef("pk"), at)).filter(
        NOT_FREED, Q(coat=None) | Q(coat__order__lt=coat.order), kind=HoldPoint.Kind.HOLD,
        area__among=list(areas), planned_at__lte=at,
    ).exclude(state=HoldPoint.State.CLOSED)  # fmt: skip
    return list(points.order_by("area", "coat__order", "pk").values_list("area", "title"))


@receiver(lots_changed, dispatch_uid="holdpoints")
def follow_lots(sender: Any, by: Person, areas: Collection[UUID], **sent: Any) -> None:
    follow_passing_on(by, areas)
    if HoldPoint.objects.filter(area__among=list(areas), state=HoldPoint.State.RELEASED).exists():
        # A lot told otherwise may have taken of a withdrawn batch, or no longer.
        follow_evidence(by=by, areas=areas, because="What was painted there is told otherwise than before.")


@receiver(paint_about_to_move, dispatch_uid="holdpoints")
def hold_points(sender: Any, areas: Collection[UUID], **sent: Any) -> None:
    points = HoldPoint.objects.filter(area__among=list(areas)).order_by("pk")
    list(points.select_for_update(of=("self",)).values_list("pk"))


@receiver(paint_moved, dispatch_uid="holdpoints")
def follow_paint(sender: Any, by: Person, areas: Collection[UUID], because: str, **sent: Any) -> set[UUID]:
    """Releases over the paint fall into doubt, or out of it."""
    return follow_evidence(by=by, areas=areas, because=because)


@receiver(progress_asked, dispatch_uid="holdpoints")
def released_there(sender: Any, project: Project, until: datetime | None, **sent: Any) -> Told:
    """The places where a point was released or waived and no hold point is open, with when the last of them was.

    With a moment, as the decisions until then had left the points that were planned then.
    """
    by_then = {"at__lt": until} if until else {}
    freed = Decision.objects.filter(point=OuterRef("pk"), outcome__in=FREED, **by_then).order_by("-at", "-pk")
    points = HoldPoint.objects.filter(project=project).exclude(state=HoldPoint.State.CLOSED)
    rows: Iterable[tuple[Any, ...]] = points.annotate(freed_at=Subquery(freed.values("at")[:1])).values_list(
        "area", "coat", "kind", "state", "freed_at"
    )
    if until:
        rows = _stood(points, until, freed)
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


def _stood(points: QuerySet[HoldPoint], until: datetime, freed: QuerySet[Decision]) -> Iterator[tuple[Any, ...]]:
    """Area, coat, kind, state at the moment, and when it was freed last before it, of each point planned by then."""
    last = Decision.objects.filter(point=OuterRef("pk"), at__lt=until).order_by("-number")
    rows = points.filter(planned_at__lt=until).annotate(
        freed_at=Subquery(freed.values("at")[:1]), left=Subquery(last.values("left")[:1]),
        outcome=Subquery(last.values("outcome")[:1]),
    )  # fmt: skip
    for area, coat, kind, freed_at, left, outcome in rows.values_list(
        "area", "coat", "kind", "freed_at", "left", "outcome"
    ):
        state = Decision(left=left, outcome=outcome).left_as if outcome else HoldPoint.State.WAITING
        yield area, coat, kind, state, freed_at
