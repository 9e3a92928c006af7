"""Whether work went on over a point that held, as the facts say, in whatever order they came.

It did where a later coat was begun by a lot, or measured, on the area before the point was released or waived, by all
the parties that hold it. Nothing is refused for it: the measurement is evidence, and so is this.
"""

from __future__ import annotations

from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce, Least

from inspection.fieldwork.models import Record, ThicknessRecord
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outcomes import LEAVES
from inspection.works.models import Lot, LotPlace

FREED = (Decision.Outcome.RELEASED, Decision.Outcome.WAIVED)
NOT_FREED = Q(stood=None) | ~Q(stood__in=FREED)


def stood(point: OuterRef, at: Any) -> Subquery:
    """How the decisions made until the moment had left the point; of several parties one alone does not free it.

    What was decided before that was kept follows its outcome, which has the same name.
    """
    decided = Decision.objects.filter(point=point, at__lte=at).exclude(outcome__in=LEAVES).order_by("-number")
    return Subquery(decided.annotate(left_as_kept=Coalesce("left", "outcome")).values("left_as_kept")[:1])


def with_passing(points: QuerySet[HoldPoint]) -> QuerySet[Any]:
    """The hold points that are not closed, with `passed_by`: when work first went on over it; None where it did not."""
    then = stood(OuterRef(OuterRef("pk")), OuterRef("taken_at"))
    later = Record.objects.annotate(stood=then).filter(
        NOT_FREED, kind=ThicknessRecord.KIND, area=OuterRef("area"), taken_at__gte=OuterRef("planned_at"),
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
    then = stood(OuterRef(OuterRef("pk")), OuterRef("lot__begun_at"))
    return LotPlace.objects.annotate(stood=then).filter(
        NOT_FREED, area=OuterRef("area"), lot__in=Lot.objects.that_count().order_by().values("pk"),
        lot__begun_at__gte=OuterRef("planned_at"), lot__coat__order__gt=Coalesce(OuterRef("coat__order"), 0),
    )  # fmt: skip
