"""A day's work on a site, entered through the same actions as on the pages."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from inspection.fieldwork.actions.thickness import record_thickness
from inspection.fieldwork.climate.recording import record_climate
from inspection.fieldwork.judging import ReadingSent, plan_of
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.instruments.actions import PointSent, record_verification
from inspection.instruments.models import Verification
from inspection.projects.models import InspectionArea
from tests.cast import MORNING, Cast, Site

HOUR = timedelta(hours=1)
CLOSING = MORNING + 8 * HOUR


def check(cast: Cast, purpose: str, at: datetime, *, off_um: float = 0.4) -> Verification:
    """The gauge on the 50, 125 and 250 µm shims, reading so much too high."""
    points = [
        PointSent(
            [cast.shims[nominal]], [cast.shims[nominal].nominal_nm + round(off_um * 1000) + n for n in (0, 200, 400)]
        )
        for nominal in (50, 125, 250)
    ]
    verification, _ = record_verification(
        cast.ines, id=new_id(), gauge=cast.gauge, project=cast.site.project, purpose=purpose,
        adjustment="zero" if purpose == "opening" else "none", surface="smooth", as_left=purpose == "opening",
        taken_at=at, points=points,
    )  # fmt: skip
    return verification


def climate(
    cast: Cast, at: datetime, *, dry: str = "18.0", wet: str = "14.0", steel: str = "17.0", **more: Any
) -> ClimateRecord:
    site = cast.site
    record, _ = record_climate(
        cast.ines, id=new_id(), project=site.project, area=more.pop("area", site.area),
        coat=more.pop("coat", site.coats[0]),
        taken_at=at, dry_bulb_c=Decimal(dry), wet_bulb_c=Decimal(wet), surface_c=Decimal(steel), **more,
    )  # fmt: skip
    return record


def measure(
    cast: Cast,
    at: datetime,
    *,
    area: InspectionArea | None = None,
    coat: int = 1,
    mean_um: float = 90,
    seed: int = 1,
    site: Site | None = None,
    short: int = 0,
    voided: str = "",
    **more: Any,
) -> ThicknessRecord:
    """As many readings as the coat's rule wants (less `short`), scattered about the mean; the first may be voided."""
    site = site or cast.site
    area, specified = area or site.area, site.coats[coat - 1]
    plan, hand = plan_of(specified, area), random.Random(seed)
    per_spot = 3 if plan.by_spots else 1
    readings = [
        ReadingSent(n // per_spot + 1, n % per_spot + 1, round(hand.gauss(mean_um, 4) * 10) * 100)
        for n in range(plan.readings - short)
    ]
    if voided:
        readings = _first_voided(readings, voided)
    record, _ = record_thickness(
        more.pop("by", cast.ines), id=new_id(), project=site.project, area=area, coat=specified, gauge=cast.gauge,
        profile_way="adjusted", unit="um", readings=readings, first_reading_at=at,
        last_reading_at=at + timedelta(minutes=15), **more,
    )  # fmt: skip
    return record


def _first_voided(readings: Sequence[ReadingSent], reason: str) -> list[ReadingSent]:
    first = readings[0]._replace(void_reason=reason, value_nm=400_000)
    again = first._replace(order=9, value_nm=90_000, void_reason="")
    return [first, again, *readings[1:]]


def point(
    cast: Cast, area: InspectionArea, coat: int, title: str = "Primer complete", *, planned_at: datetime | None = None,
    **more: Any,
) -> HoldPoint:  # fmt: skip
    return HoldPoint.objects.create(
        project=cast.site.project, area=area, coat=cast.site.coats[coat - 1], title=title,
        planned_at=planned_at or timezone.now(), **{"kind": "hold", **more},
    )  # fmt: skip


def decide(
    cast: Cast, row: HoldPoint, outcome: str, at: datetime, record: ThicknessRecord, reason: str = ""
) -> Decision:
    HoldPoint.objects.filter(pk=row.pk).update(state=outcome)
    return Decision.objects.create(
        point=row, number=row.decisions.count() + 1, outcome=outcome, person=cast.clara, at=at, record=record,
        signed_as="Clara Client, Owner One", reason=reason, evidence={}, evidence_digest="0" * 64,
    )  # fmt: skip


def worked(cast: Cast) -> ThicknessRecord:
    """An ordinary day: opening check, climate, one area measured, closing check."""
    check(cast, "opening", MORNING)
    climate(cast, MORNING + HOUR)
    record = measure(cast, MORNING + 2 * HOUR)
    check(cast, "closing", CLOSING)
    return record


def long_day(cast: Cast, areas: int) -> None:
    """So many areas climate-checked and measured after all three coats in turn, some of them failing."""
    check(cast, "opening", MORNING)
    for number in range(areas):
        area = InspectionArea.objects.create(
            structure=cast.site.structure,
            system=cast.site.system,
            code=f"B{number:03d}",
            name=f"Strake {number}",
            area_m2=8,
        )
        at = MORNING + HOUR + timedelta(minutes=3 * number)
        coat = number % 3 + 1
        if number % 5 == 0:
            climate(cast, at, area=area, coat=cast.site.coats[coat - 1], steel="11.0" if number % 20 == 0 else "17.0")
        thin = 0.72 if number % 11 == 0 else 1
        measure(cast, at, area=area, coat=coat, mean_um=(90, 230, 270)[coat - 1] * thin, seed=number)
    check(cast, "closing", CLOSING)
