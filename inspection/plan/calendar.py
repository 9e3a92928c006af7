"""The working calendar of a project, and the lead times asked for: read as one, put as one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time

from django.db import transaction

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Fault, Refused
from inspection.plan.models import ClosedDay, LeadTime, LeadUnit, Meaning, PlanLine, WorkingCalendar
from inspection.plan.working_time import DAYS, Calendar
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, row_faults

# Those whose people come, and so get notice.
NOTIFIED = (Meaning.HOLD, Meaning.WITNESS)
MOST_CLOSED = 400
Asked = tuple[int, str]
"""A lead time: how much, and its unit."""


def calendar_of(project: Project) -> Calendar:
    """The project's calendar; where none is declared, Monday to Friday with all their hours."""
    kept = WorkingCalendar.objects.filter(project=project).first() or WorkingCalendar(project=project)
    closed = frozenset(project.closed_days.values_list("day", flat=True))
    return Calendar(project.zone, frozenset(map(int, kept.weekdays)), kept.begins, kept.ends, closed)


def lead_times_of(project: Project) -> dict[str, Asked]:
    return {row.meaning: (row.lead, row.unit) for row in project.lead_times.all()}


def lead_asked(line: PlanLine, meaning: str, leads: Mapping[str, Asked]) -> Asked | None:
    """The notice asked for at a line by what a party's letter means: the line's own, else the project's for it."""
    return (line.lead, line.lead_unit) if line.lead else leads.get(meaning)


def told(lead: Asked) -> str:
    amount, unit = lead
    return f"{amount} working {'day' if unit == DAYS else 'hour'}{'' if amount == 1 else 's'}"


@transaction.atomic
def put_calendar(
    by: Person, *, project: Project, weekdays: str, begins: time | None = None, ends: time | None = None,
    closed: Mapping[date, str], leads: Mapping[str, Asked],
) -> WorkingCalendar:  # fmt: skip
    """Put the whole calendar: days worked as 12345, working hours, closed days with why, lead times by meaning."""
    in_sight(by, project)
    require(by, Role.QUALITY_MANAGER, to="change the working calendar")
    if faults := _faults(weekdays, begins, ends, closed, leads):
        raise Refused(faults)
    Project.objects.select_for_update().get(pk=project.pk)
    before = as_journalled(project)
    kept, _ = WorkingCalendar.objects.update_or_create(
        project=project, defaults={"weekdays": "".join(sorted(weekdays)), "begins": begins, "ends": ends}
    )
    days = [ClosedDay(project=project, day=day, why=why) for day, why in sorted(closed.items())]
    times = [
        LeadTime(project=project, meaning=meaning, lead=lead, unit=unit) for meaning, (lead, unit) in leads.items()
    ]
    if faults := [fault for row in (*days, *times) for fault in row_faults(row)]:
        raise Refused(faults)
    project.closed_days.all().delete()
    project.lead_times.all().delete()
    ClosedDay.objects.bulk_create(days)
    LeadTime.objects.bulk_create(times)
    journal.record(
        "calendar.changed", project, by=by, project_id=project.pk, before=before, after=as_journalled(project)
    )
    return kept


def as_journalled(project: Project) -> dict[str, object]:
    kept = WorkingCalendar.objects.filter(project=project).first() or WorkingCalendar(project=project)
    return {
        "weekdays": kept.weekdays, "begins": kept.begins and f"{kept.begins:%H:%M}",
        "ends": kept.ends and f"{kept.ends:%H:%M}",
        "closed": {f"{row.day}": row.why for row in project.closed_days.all()},
        "leads": {meaning: list(lead) for meaning, lead in sorted(lead_times_of(project).items())},
    }  # fmt: skip


def _faults(
    weekdays: str, begins: time | None, ends: time | None, closed: Mapping[date, str], leads: Mapping[str, Asked]
) -> list[Fault]:
    faults = []
    if not weekdays or not set(weekdays) <= set("1234567") or len(set(weekdays)) != len(weekdays):
        faults.append(Fault("Choose at least one day that is worked; Monday is 1 and Sunday 7.", "weekdays"))
    if (begins is None) != (ends is None):
        faults.append(Fault("Give both the begin and the end of the working hours, or neither.", "ends"))
    if begins and ends and begins >= ends:
        faults.append(Fault("The working hours end before they begin; give them within one day.", "ends"))
    if len(closed) > MOST_CLOSED:
        faults.append(Fault(f"{len(closed)} closed days; at most {MOST_CLOSED} can be kept.", "closed"))
    for meaning, (lead, unit) in leads.items():
        if meaning not in NOTIFIED:
            faults.append(Fault("Only those who hold or witness are given notice.", f"lead_{meaning}"))
        elif not 1 <= lead <= 1000 or unit not in LeadUnit.values:
            faults.append(Fault("A lead time is 1 to 1000 working hours or working days.", f"lead_{meaning}"))
    return faults
