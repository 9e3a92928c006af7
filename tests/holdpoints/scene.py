"""A point on the cast's first area and coat, with evidence that carries a release unless asked otherwise."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from accounts.models import Person
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.holdpoints import queries
from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance import actions as nonconformance
from inspection.nonconformance.models import Disposition, Nonconformance
from inspection.projects.models import Project
from tests.cast import PASSWORD, Cast, Site
from tests.standing.scene import clock, measure, verify


def a_point(cast: Cast, *, site: Site | None = None, coat: int = 0, kind: str = "hold", area: Any = None) -> HoldPoint:
    site = site or cast.site
    point = HoldPoint.objects.create(
        project=site.project, area=area or site.area, coat=site.coats[coat], kind=kind, title="Primer accepted"
    )
    keep_places(HoldPoint.objects.filter(pk=point.pk))
    point.refresh_from_db()
    return point


def sound_record(cast: Cast, **more: Any) -> ThicknessRecord:
    """Measured between two passing checks of the gauge."""
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40", **more)
    verify(cast, "17:30")
    return record


def board(person: Person) -> tuple[dict[str, int], list[HoldPoint]]:
    """What the board's page lists for the person."""
    return queries.board(person, list(Project.objects.visible_to(person)))


def signed(point: HoldPoint, **more: str) -> dict[str, Any]:
    """What a release needs: the point, the password, the evidence as shown now."""
    return {"point": point, "password": PASSWORD, "evidence_digest": evidence_of(point).digest, **more}


def measured_on(cast: Cast, day: int, **more: Any) -> ThicknessRecord:
    """Measured at 08:00 of a day in March 2026, between two passing checks of the gauge."""
    verify(cast, datetime(2026, 3, day, 7, 0, tzinfo=UTC))
    record = measure(cast, "", "", at=datetime(2026, 3, day, 8, 0, tzinfo=UTC), **more)
    verify(cast, datetime(2026, 3, day, 16, 0, tzinfo=UTC))
    return record


def reworked(cast: Cast, raised: Nonconformance, at: str, what: str = "Second full coat") -> Disposition:
    """A rework finished at a time of the cast's day."""
    return nonconformance.record_rework(
        cast.ines, nonconformance=raised, what=what, done_by="Painters, crew 2", done_at=clock(at)
    )


def looked_at(cast: Cast, raised: Nonconformance) -> None:
    """What its closing by hand asks for beside the rework: that it is decided, and what a second person saw."""
    nonconformance.say(cast.quinn, nonconformance=raised, kind="decision", choice="rework", text="Sand it")
    nonconformance.say(cast.quinn, nonconformance=raised, kind="effect", choice="reached", text="Clean and even")


def climate_at(cast: Cast, at: str, *, wet: str, steel: str, **more: Any) -> ClimateRecord:
    """Air at 20.0 °C with this wet bulb, and steel, at the first area and coat."""
    record, _ = fieldwork.record_climate(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=cast.site.coats[0],
        taken_at=clock(at), dry_bulb_c=Decimal("20.0"), wet_bulb_c=Decimal(wet), surface_c=Decimal(steel), **more,
    )  # fmt: skip
    return record
