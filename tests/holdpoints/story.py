"""The cast with a little of everything a board and a trace can show, for the pages in a browser."""

from __future__ import annotations

from dataclasses import dataclass

from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints import actions
from inspection.holdpoints.evidence import evidence_of
from inspection.holdpoints.models import HoldPoint
from inspection.nonconformance.models import Nonconformance
from tests.cast import PASSWORD, Cast
from tests.holdpoints.scene import a_point
from tests.standing.scene import fall, measure, verify


@dataclass
class Story:
    ready: HoldPoint
    doubted: HoldPoint
    refused: HoldPoint
    unmeasured: HoldPoint
    record: ThicknessRecord
    nonconformance: Nonconformance


def story(cast: Cast) -> Story:
    """One point ready, one released and fallen into doubt, one refused, one without a measurement; one failing area."""
    site = cast.site
    verify(cast, "06:40")
    measure(cast, "08:00", "08:20")
    measure(cast, "08:30", "08:50", coat=1)
    verify(cast, "09:00")
    record = measure(cast, "13:00", "13:40", area=site.other_area)
    measure(cast, "14:00", "14:20", area=site.other_area, coat=1, verdict="fail")
    verify(cast, "17:30")
    doubted, refused = a_point(cast), a_point(cast, coat=1)
    ready, unmeasured = a_point(cast, area=site.other_area), a_point(cast, area=site.other_area, coat=2)
    for point, act, more in ((doubted, actions.release, {}), (refused, actions.refuse, {"reason": "Sags at the edge"})):
        act(cast.clara, point=point, password=PASSWORD, evidence_digest=evidence_of(point).digest, **more)
    fall(cast, "08:10")
    return Story(ready, doubted, refused, unmeasured, record, Nonconformance.objects.get())
