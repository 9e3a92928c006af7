"""What points keep of the notices that stand: for when they are called to."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.models import HoldPoint
from inspection.notices.models import Notice

AT_ONCE = 2_000


def keep_notified(points: list[UUID]) -> None:
    """Let what the points keep of their notices follow those, and where they lie on board and matrix with it."""
    for first in range(0, len(points), AT_ONCE):
        some = HoldPoint.objects.filter(pk__among=points[first : first + AT_ONCE])
        # Held in the order in which all hold points.
        list(some.select_for_update(of=("self",)).order_by("pk").values_list("pk"))
        some.update(notified_for=_called())
        keep_places(some)


def notified_otherwise() -> QuerySet[Any]:
    """The points that keep something else of their notices than those say, in `called`."""
    points: QuerySet[Any] = HoldPoint.objects.annotate(called=_called())
    neither = Q(notified_for=None, called=None)
    return points.exclude(neither | Q(notified_for__isnull=False, called__isnull=False, notified_for=F("called")))


@transaction.atomic
def put_notified_right() -> int:
    """Put right what points keep of their notices; how many kept something else."""
    wrong = list(notified_otherwise().values_list("pk", flat=True))
    keep_notified(wrong)
    return len(wrong)


def _called() -> Subquery:
    standing = Notice.objects.standing().filter(places__point=OuterRef("pk")).order_by("begins_at", "pk")
    return Subquery(standing.values("begins_at")[:1])
