"""What has come up since against issued revisions: compared with what each told, and with what was set aside."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import chain
from typing import Any
from uuid import UUID

from django.db.models import Count, DateTimeField, Exists, F, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.db.models.lookups import GreaterThan

from accounts.models import Person
from inspection.fieldwork.kind import Reliance
from inspection.fieldwork.kinds import names
from inspection.fieldwork.models import Record
from inspection.holdpoints.ground import with_since
from inspection.holdpoints.models import HoldPoint
from inspection.standing.models import Standing
from inspection.works.lots.withdrawn_paint import places_of_withdrawn_paint, withdrawn_paint_at
from inspection.works.models import LotPlace
from reports.daily.models import Basis, ReportIssue, SetAside

IN_QUESTION = Standing.State.IN_QUESTION
# The kinds of records that a revision may have told otherwise than they stand now.
RELIED_ON = names(Reliance.CERTIFIED, Reliance.CHECKED)
NEVER = datetime(1, 1, 1, tzinfo=UTC)


def changed(basis: QuerySet[Basis]) -> QuerySet[Basis]:
    """The things told otherwise than they stand now: fallen into question, out of it, or corrected; with `changed_at`.

    A revision that itself told a record as in question says nothing wrong while that record stays so. And the lots
    that took of a batch withdrawn since, with the releases over such paint that are in doubt.
    """
    questioned = Standing.objects.filter(state=IN_QUESTION).values("record")
    settled = Standing.objects.exclude(state=IN_QUESTION).values("record")
    corrected = Q(thing__in=Record.objects.filter(replaces__isnull=False).order_by().values("replaces"))
    relied = Q(kind__in=RELIED_ON)
    told = Q(told=IN_QUESTION)
    judged = Subquery(Standing.objects.filter(record=OuterRef("thing")).values("computed_at")[:1])
    received = Subquery(Record.objects.filter(replaces=OuterRef("thing")).values("received_at")[:1])
    lots, doubted = _withdrawn_in_lots(), _doubted_for_paint().filter(pk=OuterRef("thing"))
    withdrawn = Subquery(lots.order_by("-batch_withdrawn_at").values("batch_withdrawn_at")[:1])
    fallen = Exists(doubted.filter(doubted_at__gt=OuterRef("issue__issued_at")))
    return basis.filter(
        corrected
        | (relied & ~told & Q(thing__in=questioned))
        | (relied & told & Q(thing__in=settled))
        | (Q(kind=Basis.LOT) & Exists(lots))
        | (Q(kind=Basis.HOLDPOINT) & fallen)
    ).annotate(
        changed_at=Coalesce(
            received, judged, withdrawn, Subquery(doubted.values("doubted_at")[:1]), output_field=DateTimeField()
        )
    )


def over_withdrawn_paint(basis: QuerySet[Basis]) -> QuerySet[Basis]:
    """The lots among the things that took of a batch withdrawn since the revision was issued."""
    return basis.filter(Exists(_withdrawn_in_lots()), kind=Basis.LOT)


def _withdrawn_in_lots() -> QuerySet[Any]:
    """Of the outer thing, where it is a lot: what it took of batches that were withdrawn after the outer issue."""
    rows = places_of_withdrawn_paint().filter(lot=OuterRef("thing"))
    return rows.filter(batch_withdrawn_at__gt=OuterRef("issue__issued_at"))


def _doubted_for_paint() -> QuerySet[HoldPoint]:
    """Released points that are in doubt since paint under them was withdrawn."""
    doubted = HoldPoint.objects.filter(state=HoldPoint.State.RELEASED, doubted_at__isnull=False)
    over = with_since(doubted).filter(paint_withdrawn_since=True).order_by().values("pk")
    return HoldPoint.objects.filter(pk__in=over)


def to_look_at(person: Person) -> QuerySet[Any]:
    """Newest revisions against which something has come up that nobody has set aside; with `things`, how many."""
    later = ReportIssue.objects.filter(report=OuterRef("issue__report"), revision__gt=OuterRef("issue__revision"))
    last = SetAside.objects.filter(issue=OuterRef("issue")).order_by("-at", "-pk").values("covers_until")[:1]
    never = Value(NEVER, output_field=DateTimeField())
    open_rows = (
        changed(Basis.objects.filter(issue__in=ReportIssue.objects.visible_to(person).order_by().values("pk")))
        .annotate(later=Subquery(later.values("pk")[:1]), covered=Coalesce(Subquery(last), never))
        .filter(Q(later=None), GreaterThan(F("changed_at"), F("covered")))
    )
    counted = open_rows.order_by().values("issue").annotate(many=Count("pk"))
    return (
        ReportIssue.objects.filter(pk__in=open_rows.values("issue"))
        .annotate(things=Subquery(counted.filter(issue=OuterRef("pk")).values("many")))
        .select_related("report__project")
        .order_by("report__day", "pk")
    )


def doubts_of(issues: Sequence[ReportIssue]) -> dict[UUID, list[str]]:
    """What has come up since against the evidence of each issue, a sentence each, in a fixed number of queries."""
    rows = list(changed(Basis.objects.filter(issue__in=[issue.pk for issue in issues])).order_by("pk"))
    things = {row.thing for row in rows}
    standings = Standing.objects.filter(record__in=things).select_related("record__area", "record__coat")
    stands = {row.record_id: row for row in standings}
    corrections, paint = _corrections(things), _paint_told(rows)
    doubts: dict[UUID, list[str]] = {issue.pk: [] for issue in issues}
    for row in rows:
        if row.kind in RELIED_ON and row.thing in stands:
            doubts[row.issue_id] += _standing_words(stands[row.thing], row.told)
        doubts[row.issue_id] += [*corrections.get(row.thing, []), *paint.get(row.thing, [])]
    return doubts


def _paint_told(rows: Sequence[Basis]) -> dict[UUID, list[str]]:
    """By lot and by point, what withdrawn paint has done to it."""
    found: dict[UUID, list[str]] = defaultdict(list)
    lots = {row.thing for row in rows if row.kind == Basis.LOT}
    points = {row.thing for row in rows if row.kind == Basis.HOLDPOINT}
    areas = set(LotPlace.objects.filter(lot__in=lots).order_by().values_list("area", flat=True)) if lots else set()
    told = chain.from_iterable(withdrawn_paint_at(areas).values()) if areas else ()
    for lot, sentence in dict.fromkeys((each.lot.pk, each.sentence) for each in told if each.lot.pk in lots):
        found[lot].append(sentence)
    for point in HoldPoint.objects.filter(pk__in=points).select_related("area") if points else ():
        found[point.pk].append(f"The release of {point} is in doubt: paint under it is of a withdrawn batch.")
    return found


def _standing_words(standing: Standing, told: str | None) -> list[str]:
    record = standing.record
    after = f" after {record.coat.name}" if record.coat else ""
    place = f"The {record.kind} of {record.area.label}{after}"
    if standing.state == IN_QUESTION and told != IN_QUESTION:
        return [" ".join((f"{place} is in question.", *standing.reasons))]
    if standing.state != IN_QUESTION and told == IN_QUESTION:
        return [f"{place} was told as in question and is {standing.get_state_display().lower()} now."]
    return []


def _corrections(things: set[UUID]) -> dict[UUID, list[str]]:
    found: dict[UUID, list[str]] = defaultdict(list)
    for record in Record.objects.filter(replaces__in=things).select_related("area", "coat"):
        place = f"{record.area.label}, {record.coat.name}," if record.coat else record.area.label
        if record.replaces_id:
            told = f"The {record.kind} record of {place} has been corrected: {record.replacement_reason}"
            found[record.replaces_id].append(told)
    return found
