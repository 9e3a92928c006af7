"""A point on the cast's first area and coat, with evidence that carries a release unless asked otherwise."""

from __future__ import annotations

from typing import Any

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import HoldPoint
from inspection.holdpoints.queries import evidence_of
from tests.cast import PASSWORD, Cast, Site
from tests.standing.scene import measure, verify


def a_point(cast: Cast, *, site: Site | None = None, coat: int = 0, kind: str = "hold", area: Any = None) -> HoldPoint:
    site = site or cast.site
    return HoldPoint.objects.create(
        project=site.project, area=area or site.area, coat=site.coats[coat], kind=kind, title="Primer accepted"
    )


def sound_record(cast: Cast, **more: Any) -> ThicknessRecord:
    """Measured between two passing checks of the gauge."""
    verify(cast, "06:40")
    record = measure(cast, "09:00", "09:40", **more)
    verify(cast, "17:30")
    return record


def signed(point: HoldPoint, **more: str) -> dict[str, Any]:
    """What a release needs: the point, the password, the evidence as shown now."""
    return {"point": point, "password": PASSWORD, "evidence_digest": evidence_of(point).digest, **more}
