"""What withdrawing a batch of paint touches: from its mixes to the lots, places, records, points and issued papers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Organisation, Person, Role
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import Record
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.models import InspectionArea, Membership
from inspection.recall.foreseen import reports_on
from inspection.trace.kinds import kind_named
from inspection.trace.known_kinds import points_over_lots, records_over_lots
from inspection.works.models import Lot, LotPlace, Mix, PaintBatch

NAMES = ("mixes", "lots", "areas", "later", "records", "points", "reports")


@dataclass(frozen=True)
class Touched:
    """What rests on a batch, by its mixes and the lots that took of them; what was done there since rests on it too."""

    mixes: Sequence[Mix]
    lots: Sequence[Lot]
    areas: Sequence[InspectionArea]
    later: Sequence[Lot]
    records: Sequence[Record]
    # Released, and after a coat that the batch is in or that lies over it.
    points: Sequence[HoldPoint]
    # By id: the issued revisions.
    reports: Sequence[UUID]

    @property
    def counts(self) -> dict[str, int]:
        """How many of each, for the journal."""
        return {name: len(getattr(self, name)) for name in NAMES}

    @property
    def ids(self) -> dict[str, list[UUID]]:
        """Which of each, for the row of a recall."""
        return {name: [getattr(row, "pk", row) for row in getattr(self, name)] for name in NAMES}


def touched_by_batch(batch: PaintBatch) -> Touched:
    """All that rests on the batch, in a number of reads that does not grow with it."""
    mixes = list(
        Mix.objects.that_count().filter(parts__batch=batch, parts__taken_out_at=None).select_related("project", "coat")
    )
    lots = list(Lot.objects.that_count().filter(mixes__mix__in=mixes).distinct().select_related("coat", "stripe"))
    ids = [lot.pk for lot in lots]
    began = {lot.pk: lot.begun_at for lot in lots}
    since: dict[UUID, datetime] = {}
    areas: dict[UUID, InspectionArea] = {}
    for place in LotPlace.objects.filter(lot__in=ids).select_related("area__structure"):
        areas[place.area_id] = place.area
        since[place.area_id] = min(since.get(place.area_id, began[place.lot_id]), began[place.lot_id])
    over = LotPlace.objects.filter(area__in=areas, lot__in=Lot.objects.that_count()).exclude(lot__in=ids)
    rows = over.exclude(lot__coat=None).select_related("lot__coat", "lot__stripe")
    later = {place.lot_id: place.lot for place in rows if place.lot.begun_at > since[place.area_id]}
    on_them = records_over_lots().filter(lot__in=ids).order_by().values("above")
    found = Record.objects.filter(pk__in=on_them, replaced_by=None).exclude(coat=None)
    records = list(found.select_related("area", "coat", "taken_by").order_by("taken_at", "pk"))
    points = list(released_over(ids).select_related("area__structure", "coat", "project"))
    return Touched(
        mixes, lots, list(areas.values()), list(later.values()), records, points,
        _reports([*ids, *later], records, points),
    )  # fmt: skip


def released_over(lots: Iterable[UUID]) -> QuerySet[HoldPoint]:
    """The released points after a coat of the lots, or after one that lies over it."""
    over = points_over_lots().filter(lot__in=list(lots)).order_by().values("above")
    points = HoldPoint.objects.filter(pk__in=over, state=HoldPoint.State.RELEASED).exclude(coat=None)
    return points.order_by("area__code", "coat__order", "pk")


def _reports(lots: Sequence[UUID], records: Sequence[Record], points: Sequence[HoldPoint]) -> list[UUID]:
    """Which issued reports tell of the lots, the records or the points."""
    below: dict[str, Sequence[UUID]] = {"lot": lots, "holdpoint": [point.pk for point in points]}
    for kind in BY_NAME:
        below[kind] = [row.pk for row in records if row.kind == kind]
    found = reports_on({kind: ids for kind, ids in below.items() if ids})
    return sorted({pk for rows in found for pk in rows})


def people_concerned(batch: PaintBatch, touched: Touched) -> list[Person]:
    """Whom a recall of the batch is told: who measured there, released, entered the lots, issued or read the reports.

    They, while they take part; the people of the party whose paint it is; and the quality managers.
    """
    named = {row.taken_by_id for row in touched.records} | {lot.entered_by_id for lot in touched.lots}
    decided = Decision.objects.filter(point__in=touched.points, outcome=Decision.Outcome.RELEASED)
    named |= set(decided.order_by().values_list("person", flat=True))
    report = kind_named("report")
    if report and touched.reports:
        named |= {pk for rows in report.told(touched.reports) for row in rows for pk in row.values()}
    part = Membership.objects.in_force().filter(project=batch.project_id)
    concerned = part.filter(Q(person__in=named) | Q(organisation=batch.party.organisation_id))
    managers = Person.objects.filter(grants__role=Role.QUALITY_MANAGER, grants__ended_at=None)
    company = Person.objects.filter(pk__in=named, organisation__kind=Organisation.Kind.COMPANY)
    ids = {*concerned.values_list("person", flat=True), *managers.values_list("pk", flat=True)}
    people = Person.objects.filter(Q(pk__in=ids) | Q(pk__in=company.values("pk")), is_active=True)
    return list(people.select_related("organisation").order_by("organisation__kind", "name", "pk"))
