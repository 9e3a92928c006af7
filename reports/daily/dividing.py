"""Declaring how the days of a project are reported, from one of them on; and taking such a declaration back.

What is issued stays the paper that it is: a day of which something is issued is not divided otherwise any more. Drafts
of papers into which their day is not divided any more are kept out of sight, and come back when it is divided so again.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.shortcuts import get_object_or_404
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line, wrong_in_a_note
from inspection.projects.actions import goes_on
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, save_new, snapshot
from reports.daily.actions import EARLIEST, LONGEST_REASON, anything_recorded, queue_report
from reports.daily.models import DailyReport, Reporting, ReportIssue
from reports.daily.naming import slug_of
from reports.daily.parts import in_force, parts_of, rules_of

LONGEST_NAME = 40
# What lies further ahead is a slip of the year (a declared limit).
FURTHEST = timedelta(days=366)
OneA = Reporting.OneA


@transaction.atomic
def declare_reporting(
    by: Person, *, project: Project, one_a: str, from_day: date, shift_names: Sequence[str] = (), reason: str = "",
    at: datetime | None = None,
) -> Reporting:  # fmt: skip
    """Have the days from `from_day` on told in one paper each, or in one a shift or a discipline.

    Of shifts each of the project's is named, in their order. Raises Conflict where a paper of these days is issued that
    would not be one of theirs any more.
    """
    held = _held(by, project, to="declare how its days are reported")
    at, names, faults = at or timezone.now(), *_names(held, one_a, shift_names)
    if one_a not in OneA.values:
        faults.append(Fault("Choose one paper a day, a shift or a discipline.", "one_a"))
    if not EARLIEST <= from_day <= held.day_of(at) + FURTHEST:
        faults.append(Fault("Give a day of the project, at most a year ahead.", "from_day"))
    faults += _reason_faults(reason)
    if faults:
        raise Refused(faults)
    before = rules_of(held)
    now = in_force(before, from_day)
    later = [rule for rule in before if rule.from_day > from_day]
    if not later and ((now.one_a, now.shift_names) if now else (OneA.DAY, "")) == (one_a, names):
        raise Refused("The days from then on are reported so already.")
    row = Reporting(
        project=held, one_a=one_a, shift_names=names, from_day=from_day, reason=reason.strip(), entered_by=by,
        entered_at=at,
    )  # fmt: skip
    save_new(row, already="This has just been declared.")
    overtaken = divide_again(by, held, before=before, at=at, refuse=True)
    journal.record(
        "reporting.declared", row, by=by, project_id=held.pk, at=at, reason=row.reason,
        before=snapshot(now) if now else None, after={**snapshot(row), "drafts_overtaken": overtaken},
    )  # fmt: skip
    return row


@transaction.atomic
def take_reporting_back(by: Person, *, reporting: Reporting, reason: str, at: datetime | None = None) -> Reporting:
    """Take a declaration back: the days are reported as they were before it. Raises Conflict as declaring does."""
    rows = Reporting.objects.visible_to(by)
    held = _held(by, get_object_or_404(rows, pk=reporting.pk).project, to="take such a declaration back")
    if not reason.strip():
        raise Refused([Fault("Say why.", "reason")])
    if faults := _reason_faults(reason):
        raise Refused(faults)
    before = rules_of(held)
    if reporting.pk not in {rule.pk for rule in before}:
        raise Conflict("This has been taken back already.")
    at = at or timezone.now()
    row = Reporting(
        project=held, one_a=reporting.one_a, shift_names=reporting.shift_names, from_day=reporting.from_day,
        reason=reason.strip(), entered_by=by, entered_at=at, withdraws=reporting,
    )  # fmt: skip
    save_new(row, already="This has been taken back already.")
    overtaken = divide_again(by, held, before=before, at=at, refuse=True)
    journal.record(
        "reporting.taken_back", row, by=by, project_id=held.pk, at=at, reason=row.reason,
        before={"reporting": reporting.pk}, after={**snapshot(row), "drafts_overtaken": overtaken},
    )  # fmt: skip
    return row


def divide_again(
    by: Person, project: Project, *, before: Sequence[Reporting] | None = None, at: datetime, refuse: bool
) -> list[UUID]:
    """Let the drafts be those of the papers into which their days are divided now; answers those overtaken.

    With `refuse` raises Conflict where something issued would be overtaken: `before` is how the days were divided.
    """
    rules, overtaken, anew = rules_of(project), [], set()
    rows = DailyReport.objects.select_for_update(of=("self",)).select_related("project").filter(project=project)
    # Held before it is asked which are issued, so that none is issued meanwhile.
    reports = list(rows.order_by("day", "order", "pk"))
    issued = set(ReportIssue.objects.filter(report__project=project).order_by().values_list("report", flat=True))
    for report in reports:
        order = {part.name: part.order for part in parts_of(project, report.day, rules)}
        stands = report.part in order
        if report.pk in issued:
            if refuse and [*order] != [part.name for part in parts_of(project, report.day, before or ())]:
                raise Conflict(f"{report} is issued, so its day stays divided as it is; declare it from a later day.")
            continue
        if not stands and report.overtaken_at is None:
            overtaken.append(report.pk)
            anew.add(report.day)
        was = (report.overtaken_at, report.order)
        report.overtaken_at = None if stands else report.overtaken_at or at
        report.order = order.get(report.part, report.order)
        if was != (report.overtaken_at, report.order):
            report.save(update_fields=["overtaken_at", "order"])
    for day in sorted(anew):
        for part in (each for each in parts_of(project, day, rules) if anything_recorded(project, day, each)):
            queue_report(by, project=project, day=day, part=part.name, at=at)
    return overtaken


def _held(by: Person, project: Project, *, to: str) -> Project:
    require(by, Role.QUALITY_MANAGER, to=to)
    in_sight(by, project)
    goes_on(project)
    return Project.objects.select_for_update(no_key=True, of=("self",)).get(pk=project.pk)


def _names(project: Project, one_a: str, given: Sequence[str]) -> tuple[str, list[Fault]]:
    """The names of the project's shifts, one a line, and what is wrong with them."""
    if one_a != OneA.SHIFT:
        return "", []
    field, starts = "shift_names", [f"{start:%H:%M}" for start in project.shift_times]
    if len(starts) == 1:
        return "", [Fault(
            f"{project.code} has one shift a day, from {starts[0]}; enter first on the project’s page when its shifts "
            "begin.", field,
        )]  # fmt: skip
    faults, names = [], []
    for number, name in enumerate((each for each in given if each.strip()), 1):
        try:
            names.append(line(name, field=field, most=LONGEST_NAME))
        except Refused as refusal:
            faults += [Fault(f"Line {number}: {fault.message}", field) for fault in refusal.faults]
    if not faults and len(names) != len(starts):
        faults.append(
            Fault(f"Name each shift: {len(starts)} begin a day, at {', '.join(starts)}; {len(names)} are named.", field)
        )
    slugs = [slug_of(name) for name in names]
    faults += [
        Fault(f"“{name}” has no letter or digit, by which a file could be called.", field)
        for name, slug in zip(names, slugs, strict=True)
        if not slug
    ]
    if len(set(slugs)) < len(slugs):
        faults.append(Fault("Two shifts have the same name; name each otherwise.", field))
    return "\n".join(names), faults


def _reason_faults(reason: str) -> list[Fault]:
    if wrong := wrong_in_a_note(reason):
        return [Fault(wrong, "reason")]
    if len(reason.strip()) > LONGEST_REASON:
        return [Fault(f"Give the reason in at most {LONGEST_REASON} characters.", "reason")]
    return []
