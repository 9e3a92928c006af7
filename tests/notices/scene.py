"""A plan whose primer the client holds, applied to the cast's two areas, and a notice of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from accounts.models import Organisation, Person, Role
from inspection.foundation.ids import new_id
from inspection.holdpoints import actions as holdpoints
from inspection.holdpoints.models import HoldPoint
from inspection.notices import actions
from inspection.notices.actions.giving import Sent
from inspection.notices.models import Notice
from inspection.plan.models import LeadTime, PlanLine
from inspection.projects.models import Membership
from tests.cast import MORNING, Cast, person
from tests.holdpoints.planned import a_line, plan_of

HOUR = timedelta(hours=1)
# The cast's day is a Wednesday; the inspection is on the Friday after, at 10:00.
FRIDAY = datetime(2026, 3, 6, 10, 0, tzinfo=UTC)


def planned(cast: Cast, **letters: str) -> PlanLine:
    """The line in force, its points planned on both areas."""
    line = a_line(plan_of(cast), letters=letters or {"client": "hold"})
    holdpoints.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area, cast.site.other_area])
    return line


def asked(cast: Cast, lead: int, unit: str = "hours", meaning: str = "hold") -> None:
    LeadTime.objects.create(project=cast.site.project, meaning=meaning, lead=lead, unit=unit)


def sent(cast: Cast, line: PlanLine, **more: Any) -> Sent:
    told = {
        "begins_at": FRIDAY, "ends_at": FRIDAY + HOUR, "meeting_place": "Gangway", "lines": [line],
        "areas": [cast.site.area, cast.site.other_area], **more,
    }  # fmt: skip
    return Sent(**told)


def give(cast: Cast, line: PlanLine, *, by: Person | None = None, at: datetime = MORNING, **more: Any) -> Notice:
    confirmed = more.pop("confirmed", False)
    notice, _ = actions.give_notice(
        by or cast.ines, id=new_id(), project=cast.site.project, sent=sent(cast, line, **more), at=at,
        confirmed=confirmed,
    )  # fmt: skip
    return notice


def a_painter(cast: Cast, name: str = "Pia Painter", project: Any = None) -> Person:
    """Somebody of the project's painting contractor."""
    painters = Organisation.objects.create(name=f"Painters of {name}", kind=Organisation.Kind.CONTRACTOR)
    painter = person(name, painters, Role.CONTRACTOR)
    project = project or cast.site.project
    project.contractor = painters
    project.save()
    Membership.objects.create(project=project, person=painter, organisation=painters, role=Role.CONTRACTOR)
    return painter


def lies(cast: Cast) -> list[str]:
    """Where the points of the first area and the second lie on board and matrix."""
    rows = HoldPoint.objects.filter(project=cast.site.project).order_by("area__code")
    return [str(point.get_lies_display()) for point in rows]
