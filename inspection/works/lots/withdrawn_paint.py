"""Where paint of a withdrawn batch lies: by the mixes made of it and the lots that took of them. One rule.

A mix and a lot count while nobody withdrew or replaced them. A lot that names no mix cannot be found this way.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import F, QuerySet

from inspection.projects.models import Coat
from inspection.works.models import Lot, LotPlace, PaintBatch


@dataclass(frozen=True)
class PaintWithdrawn:
    """That a lot at a place took of a mix of a withdrawn batch; `order` is that of its coat, from 1 on the steel."""

    order: int
    lot: Lot
    batch: PaintBatch

    @property
    def known_from(self) -> datetime:
        """From when on whoever looked could know it: the batch was withdrawn, and the lot told as it is now."""
        return max(self.batch.withdrawn_at or self.lot.entered_at, self.lot.entered_at)

    @property
    def sentence(self) -> str:
        on = self.batch.withdrawn_at
        day = f" on {on.astimezone(self.lot.project.zone):%Y-%m-%d}" if on else ""
        return f"{self.lot} ({self.lot.of}) took of {self.batch}, which was withdrawn{day}: {self.batch.withdrawn_why}"


def places_of_withdrawn_paint() -> QuerySet[Any]:
    """Places of lots that took of a withdrawn batch, once for each `batch`, with when it was `batch_withdrawn_at`."""
    part = "lot__mixes__mix__parts__"
    rows: QuerySet[Any] = LotPlace.objects.filter(**{
        "lot__in": Lot.objects.that_count().order_by().values("pk"), "lot__mixes__mix__withdrawn_at": None,
        f"{part}taken_out_at": None, f"{part}batch__withdrawn_at__isnull": False,
    })  # fmt: skip
    found: QuerySet[Any] = rows.annotate(batch=F(f"{part}batch"), batch_withdrawn_at=F(f"{part}batch__withdrawn_at"))
    return found


def withdrawn_paint_of(lot: Lot) -> list[PaintWithdrawn]:
    """What the lot took of withdrawn batches, each named once, however many places it has."""
    named = places_of_withdrawn_paint().filter(lot=lot.pk).order_by().values("batch")
    return [PaintWithdrawn(0, lot, batch) for batch in PaintBatch.objects.filter(pk__in=named).order_by("number", "pk")]


def withdrawn_paint_at(areas: Collection[UUID]) -> dict[UUID, list[PaintWithdrawn]]:
    """By area what lies there of withdrawn batches, the lowest coat first; two reads where there is any, else one."""
    rows = (
        places_of_withdrawn_paint().filter(area__among=list(areas)).select_related("lot__project", "lot__coat__system")
    )
    lying = list(rows.select_related("lot__stripe").order_by("lot__coat__order", "lot__number", "pk").distinct())
    batches = PaintBatch.objects.in_bulk({row.batch for row in lying}) if lying else {}
    found: dict[UUID, list[PaintWithdrawn]] = defaultdict(list)
    for row in lying:
        order = row.lot.coat.order if row.lot.coat else 0
        found[row.area_id].append(PaintWithdrawn(order, row.lot, batches[row.batch]))
    return found


def under(coat: Coat | None, paint: Iterable[PaintWithdrawn]) -> tuple[PaintWithdrawn, ...]:
    """Of what lies on an area, what is of the coat or of one below it; under the first coat lies none."""
    return tuple(each for each in paint if coat and each.order <= coat.order)


def areas_of_mixes(mixes: Any) -> list[UUID]:
    """Where the lots lie that took of the mixes."""
    rows = LotPlace.objects.filter(lot__mixes__mix__in=mixes)
    return list(rows.order_by().values_list("area", flat=True).distinct())
