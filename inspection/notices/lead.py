"""Whether a notice comes in time, by the project's working calendar and the lead times asked for."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from inspection.plan.calendar import Asked, calendar_of, told
from inspection.plan.working_time import HOURS, earliest_held, latest_giving, lead_left, short_by
from inspection.projects.models import Project

LEAST = Decimal("0.01")


@dataclass(frozen=True)
class Short:
    """By how many working hours a notice is too short for what is asked, and what would be in time."""

    hours: Decimal
    asked: str
    due_by: datetime
    held_from: datetime | None

    def words(self, project: Project) -> str:
        missing = f"{hours_told(self.hours)} of the {self.asked} asked for {'is' if self.hours == 1 else 'are'} missing"
        then = f" An inspection from {_told(self.held_from, project)} on would have its time." if self.held_from else ""
        return f"The notice is short: {missing}. It was in time until {_told(self.due_by, project)}.{then}"


def short_of(project: Project, leads: Collection[Asked], given_at: datetime, begins_at: datetime) -> Short | None:
    """How short notice given then of an inspection then is, by the lead time missed most; None where it is in time."""
    calendar, missed = calendar_of(project), []
    for lead, unit in leads:
        due = latest_giving(calendar, begins_at, lead, unit)
        if due and short_by(calendar, given_at, begins_at, lead, unit):
            missed.append((due, lead, unit))
    if not missed:
        return None
    due, lead, unit = min(missed)
    hours = lead_left(calendar, due, given_at).in_unit(HOURS)
    return Short(_decimal(hours), told((lead, unit)), due, earliest_held(calendar, given_at, lead, unit))


def hours_told(hours: Decimal) -> str:
    """As 1 working hour or 7.5 working hours."""
    figure = f"{hours.normalize():f}"
    return f"{figure} working hour{'' if hours == 1 else 's'}"


def _decimal(hours: Fraction) -> Decimal:
    """To a hundredth of an hour; what is short by seconds is not told as nothing."""
    exact = Decimal(hours.numerator) / Decimal(hours.denominator)
    return max(exact.quantize(LEAST, ROUND_HALF_UP), LEAST)


def _told(at: datetime, project: Project) -> str:
    return f"{at.astimezone(project.zone):%A %Y-%m-%d %H:%M}"
