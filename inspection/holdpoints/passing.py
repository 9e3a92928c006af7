"""Whether work went on over a point that held, as the facts say, in whatever order they came.

It did where a later coat was begun by a lot, or measured, on the area that nobody had released or waived the point
for by then. Nothing is
refused for it: the measurement is evidence, and so is this.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce, Least

from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.works.models import Lot, LotPlace

FREED = (Decision.Outcome.RELEASED, Decision.Outcome.WAIVED)


def with_passing(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The hold points that are not closed, with `passed_by`: when work first went on over it; None where it did not."""
    freed = Decision.objects.filter(point=OuterRef(OuterRef("pk")), outcome__in=FREED, at__lte=OuterRef("taken_at"))
    later = Record.objects.filter(
        ~Exists(freed), kind=ThicknessRecord.KIND, area=OuterRef("area"), taken_at__gte=OuterRef("planned_at"),
        coat__order__gt=Coalesce(OuterRef("coat__order"), 0),
    )  # fmt: skip
    measured = Subquery(later.current().that_count().order_by("taken_at").values("taken_at")[:1])
    begun = Subquery(_begun_over().order_by("lot__begun_at").values("lot__begun_at")[:1])
    # SQLite finds no least of two where one is missing.
    first = Coalesce(Least(measured, begun), measured, begun)
    holding = points.filter(kind=HoldPoint.Kind.HOLD).exclude(state=HoldPoint.State.CLOSED)
    found: QuerySet[Any] = holding.annotate(passed_by=first)
    return found


def _begun_over() -> QuerySet[LotPlace]:
    """Where a lot of a later coat was begun on the outer point's area that nobody had freed the point for by then."""
    freed = Decision.objects.filter(
        point=OuterRef(OuterRef("pk")), outcome__in=FREED, at__lte=OuterRef("lot__begun_at")
    )
    return LotPlace.objects.filter(
        ~Exists(freed), area=OuterRef("area"), lot__in=Lot.objects.that_count().order_by().values("pk"),
        lot__begun_at__gte=OuterRef("planned_at"), lot__coat__order__gt=Coalesce(OuterRef("coat__order"), 0),
    )  # fmt: skip
