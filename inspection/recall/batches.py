"""What withdrawing a batch of paint touches: from its mixes to the lots, places, records, points and issued papers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import Record
from inspection.holdpoints.models import HoldPoint
from inspection.projects.models import InspectionArea
from inspection.trace.kinds import links
from inspection.works.models import Lot, LotPlace, Mix, PaintBatch


@dataclass(frozen=True)
class Touched:
    """What rests on a batch, by its mixes and the lots that took of them; what was done there since rests on it too."""

    mixes: Sequence[Mix]
    lots: Sequence[Lot]
    areas: Sequence[InspectionArea]
    later: Sequence[Lot]
    records: Sequence[Record]
    points: Sequence[HoldPoint]
    reports: int

    @property
    def counts(self) -> dict[str, int]:
        """How many of each, for the journal."""
        names = ("mixes", "lots", "areas", "later", "records", "points")
        return {**{name: len(getattr(self, name)) for name in names}, "reports": self.reports}


def touched_by_batch(batch: PaintBatch) -> Touched:
    """All that rests on the batch, in a number of reads that does not grow with it."""
    mixes = list(
        Mix.objects.that_count().filter(parts__batch=batch, parts__taken_out_at=None).select_related("project", "coat")
    )
    lots = list(Lot.objects.that_count().filter(mixes__mix__in=mixes).distinct().select_related("coat", "stripe"))
    began = {lot.pk: lot.begun_at for lot in lots}
    since: dict[UUID, datetime] = {}
    areas: dict[UUID, InspectionArea] = {}
    for place in LotPlace.objects.filter(lot__in=lots).select_related("area__structure"):
        areas[place.area_id] = place.area
        since[place.area_id] = min(since.get(place.area_id, began[place.lot_id]), began[place.lot_id])
    over = LotPlace.objects.filter(area__in=areas, lot__in=Lot.objects.that_count()).exclude(lot__in=lots)
    rows = over.select_related("lot__coat", "lot__stripe")
    later = {place.lot_id: place.lot for place in rows if place.lot.begun_at > since[place.area_id]}
    taken = Record.objects.filter(area__in=areas, replaced_by=None).exclude(coat=None).select_related("area", "coat")
    records = [row for row in taken.order_by("taken_at", "pk") if row.taken_at >= since[row.area_id]]
    coats = {lot.coat_id for lot in (*lots, *later.values()) if lot.coat_id}
    points = HoldPoint.objects.filter(area__in=areas, coat__in=coats, state=HoldPoint.State.RELEASED)
    released = list(points.select_related("area__structure", "coat", "project").order_by("area__code", "coat__order"))
    return Touched(
        mixes, lots, list(areas.values()), list(later.values()), records, released, _reports(records, released)
    )  # fmt: skip


def _reports(records: Sequence[Record], points: Sequence[HoldPoint]) -> int:
    """How many issued reports rest on the records or the points."""
    found: set[UUID] = set()
    for link in links():
        if link.above != "report":
            continue
        of_kind = [row.pk for row in records if row.kind == link.below] if link.below in BY_NAME else []
        below = [point.pk for point in points] if link.below == "holdpoint" else of_kind
        if below:
            found |= set(link.resting_on(below))
    return len(found)
