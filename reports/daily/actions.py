"""Asking for a daily report, building its draft, issuing it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from accounts import chain, journal, post, vault
from accounts.models import Person, Role, StoredFile
from accounts.rights import require
from inspection.fieldwork.kind import Discipline
from inspection.fieldwork.models import Record
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.instruments.models import Verification
from inspection.projects.models import Membership, Project
from reports.daily.diary import days_entered, diary_of, entries_of
from reports.daily.facts import DayFacts, Stamp
from reports.daily.gathering import gather
from reports.daily.models import Basis, DailyReport, ReportIssue
from reports.daily.not_conforming import arose_in
from reports.daily.parts import Part, in_words, part_of, parts_of
from reports.daily.pdf import draw
from reports.daily.reviewing import keep_review, refuse_overtaken, standing, without_review
from reports.daily.work_corrections import days_corrected
from reports.daily.works import lots_of, worked_on
from reports.work import jobs
from reports.work.models import Job

BUILD = "daily-report"
EARLIEST = date(2000, 1, 1)
LONGEST_REASON = 2000
LOOKED_BACK = 7  # days whose drafts are kept up to date by themselves


@transaction.atomic
def queue_day(by: Person | None, *, project: Project, day: date, at: datetime | None = None) -> list[Job]:
    """Have the drafts of all papers of the project's day built, as `queue_report` does."""
    return [queue_report(by, project=project, day=day, part=part.name, at=at) for part in parts_of(project, day)]


@transaction.atomic
def queue_report(by: Person | None, *, project: Project, day: date, part: str = "", at: datetime | None = None) -> Job:
    """Have the draft of the project's day, or of the shift or discipline of it so named, built, anew if there is one.

    `by` is None for the platform itself. Raises Refused where the day is not divided so.
    """
    at = at or timezone.now()
    if by:
        require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="have a daily report built")
        get_object_or_404(Project.objects.visible_to(by), pk=project.pk)
    if day > project.day_of(at):
        raise Refused(f"{day:%Y-%m-%d} has not come yet; choose today or a day before.", field="day")
    if day < EARLIEST:
        raise Refused(f"{day:%Y-%m-%d} lies too far back; choose a day of the project.", field="day")
    # Held, so that the day is not divided otherwise meanwhile.
    Project.objects.select_for_update(no_key=True).get(pk=project.pk)
    parts = parts_of(project, day)
    one = next((each for each in parts if each.name == part), None)
    if one is None:
        raise Refused(f"{project.code}, {day:%Y-%m-%d}: {in_words(parts)}; choose of these.", field="part")
    report, new = DailyReport.objects.get_or_create(project=project, day=day, part=part, defaults={"order": one.order})
    if new:
        journal.record("report.opened", report, by=by, project_id=project.pk)
    return jobs.queue(BUILD, report.pk, by=by)


@jobs.does(BUILD)
@transaction.atomic
def build_report(job: Job) -> None:
    """Build the draft a job asks for. The same facts leave the report as it is, and so does a day divided otherwise."""
    report = DailyReport.objects.select_for_update(of=("self",)).select_related("project__client").get(pk=job.about)
    # A shift that the project has no more, since when its shifts begin was corrected, leaves what it issued as it was.
    if report.overtaken_at or report.part not in {part.name for part in parts_of(report.project, report.day)}:
        return
    facts = gather(report.project, report.day, report.part)
    before, digest = report.facts_digest, facts.digest
    report.built_at = timezone.now()
    if digest != before or report.draft_id is None:
        report.draft = _store(report, draw(facts), "draft", job.asked_by)
        report.facts_digest = digest
        journal.record(
            "report.built", report, by=job.asked_by, project_id=report.project_id,
            before={"facts": before} if before else None, after={"facts": digest, "file": report.draft_id},
        )  # fmt: skip
    report.save(update_fields=["draft", "facts_digest", "built_at"])


def _store(report: DailyReport, content: bytes, which: str, by: Person | None) -> StoredFile:
    return vault.store(content, name=report.file_name(which), media_type="application/pdf", by=by)


@transaction.atomic
def issue_report(
    by: Person, *, report: DailyReport, reason: str = "", seen: str | None = None, not_reviewed: str = "",
    at: datetime | None = None,
) -> ReportIssue:  # fmt: skip
    """Fix the report as its next revision and write to the client's people.

    What is issued is the draft that was looked at: with other facts than the draft's (or than `seen`, the digest the
    asker had before them) it is a Conflict, and so is issuing the same facts twice. A further revision needs a reason.
    Where nobody has reviewed these facts, issuing them is the review; so whoever wrote something of the day is refused,
    unless there is nobody else who could review them: then `not_reviewed` says why, and the paper tells it.
    """
    require(by, Role.QUALITY_MANAGER, to="issue a daily report")
    get_object_or_404(DailyReport.objects.visible_to(by), pk=report.pk)
    at, reason = at or timezone.now(), reason.strip()
    report = DailyReport.objects.select_for_update(of=("self",)).select_related("project__client").get(pk=report.pk)
    refuse_overtaken(report)
    facts, last = gather(report.project, report.day, report.part), report.issues.select_related("issued_by").last()
    _refuse_issue(report, facts, last, reason, seen)
    revision = last.revision + 1 if last else 1
    reviewed = standing(report.reviews.select_related("by"), facts.digest)
    not_reviewed = without_review(by, report, not_reviewed) if reviewed is None else ""
    if reviewed is None and not not_reviewed:
        reviewed = keep_review(by, report, facts, at=at)
    stamp = Stamp(
        revision, f"{by.name}, {by.organisation.name}", at, reason, str(chain.head() or ""),
        f"{reviewed.by_name}, {reviewed.by.organisation.name_at(reviewed.at)}" if reviewed else "",
        reviewed.at if reviewed else None, not_reviewed,
    )  # fmt: skip
    issue = ReportIssue.objects.create(
        report=report, revision=revision, issued_by=by, issued_at=at, reason=reason, facts_digest=facts.digest,
        file=_store(report, draw(facts, stamp), f"revision-{revision}", by), not_reviewed=not_reviewed or None,
    )  # fmt: skip
    _keep_basis(issue, facts)
    journal.record(
        "report.issued", issue, by=by, project_id=report.project_id, at=at, reason=reason,
        before={"facts": last.facts_digest} if last else None,
        after={"revision": revision, "facts": facts.digest, "file": issue.file_id, **(
            {"review": reviewed.pk} if reviewed else {"not_reviewed": not_reviewed}
        )},
    )  # fmt: skip
    _tell_client(issue, facts)
    return issue


def _keep_basis(issue: ReportIssue, facts: DayFacts) -> None:
    """Keep what the revision rests on, and how far it told that each thing can be relied on."""
    report = issue.report
    told = {row.id: row.standing for row in facts.thicknesses} | {row.id: row.standing for row in facts.observed}
    rests_on = [(kind, thing) for kind, things in asdict(facts.rests_on).items() for thing in things]
    rests_on += [(row.kind, row.id) for row in facts.observed]
    rests_on += [(Basis.LOT, lot) for lot in lots_of(report.project, part_of(report.project, report.day, report.part))]
    rests_on += diary_of(report.project, report.day, part_of(report.project, report.day, report.part))
    Basis.objects.bulk_create(
        Basis(issue=issue, kind=kind, thing=thing, told=told.get(thing)) for kind, thing in rests_on
    )


def _refuse_issue(
    report: DailyReport, facts: DayFacts, last: ReportIssue | None, reason: str, seen: str | None
) -> None:
    if report.draft_id is None:
        raise Refused("The draft has not been built yet; build it, look at it, then issue it.")
    if last and last.facts_digest == facts.digest:
        when = timezone.localtime(last.issued_at, report.project.zone)
        raise Conflict(
            f"Revision {last.revision} was issued by {last.by_name} on {when:%Y-%m-%d %H:%M} with the same "
            "facts; there is nothing new to issue."
        )
    if facts.digest != report.facts_digest or (seen is not None and seen != facts.digest):
        raise Conflict("The records have changed since this draft was built; build it again and look before issuing.")
    faults = []
    if last and not reason:
        faults.append(Fault(f"Say why revision {last.revision} is replaced.", "reason"))
    if len(reason) > LONGEST_REASON:
        faults.append(Fault(f"Give the reason in at most {LONGEST_REASON} characters.", "reason"))
    if faults:
        raise Refused(faults)


def _tell_client(issue: ReportIssue, facts: DayFacts) -> None:
    """One letter to each of the client's people on the project, with a link; the file itself stays behind sign-in."""
    report = issue.report
    address = f"{settings.SITE_URL}{reverse('report', args=[report.pk])}"
    what = f"Daily report {facts.number}, revision {issue.revision}"
    body = (
        f"{what}, of {facts.project_name} on {report.of} has been issued by {issue.by_name}.\n\n"
        f"{f'Why there is a new revision: {issue.reason}' if issue.reason else 'It is the first revision.'}\n\n"
        f"Read it here (you will be asked to sign in):\n{address}\n"
    )
    members = Membership.objects.in_force().filter(project=report.project, role=Role.CLIENT)
    for member in members.select_related("person"):
        post.write(
            "report-issued", str(issue.pk), to=member.person, project=report.project_id, subject=f"{what} issued",
            body=body,
        )  # fmt: skip


def queue_daily_reports(at: datetime | None = None) -> list[Job]:
    """Have the drafts of the last days built, for open projects on which something was recorded.

    Run by the scheduler. It looks back some days, for workers that were down, and at whatever day something belongs to
    that came in on one of them; a draft that already tells the same facts is left alone.
    """
    at = at or timezone.now()
    queued = []
    for project in Project.objects.filter(closed_at=None).select_related("client", "contractor"):
        today = project.day_of(at)
        last = [today - timedelta(days=back) for back in range(1, LOOKED_BACK + 1)]
        for day in [*last, *_days_of_late_records(project, before=last[-1], at=at)]:
            for part in parts_of(project, day):
                if anything_recorded(project, day, part) and not _is_up_to_date(project, day, part.name):
                    queued.append(queue_report(None, project=project, day=day, part=part.name, at=at))
    return queued


def _days_of_late_records(project: Project, *, before: date, at: datetime) -> list[date]:
    """The days before `before` to which records belong that came in within the days looked back, the latest first."""
    received = (at - timedelta(days=LOOKED_BACK), at)
    begins = project.day_bounds(before)[0]
    late = [
        model.objects.filter(project=project, received_at__range=received, taken_at__lt=begins).values_list("taken_at")
        for model in (Record, Verification)
    ]
    days = {project.day_of(at) for rows in late for (at,) in rows.order_by().distinct()}
    entered = days_entered(project, *received) | days_corrected(project, *received)
    days |= {day for day in entered if day < before}
    return sorted((day for day in days if day >= EARLIEST), reverse=True)


def _is_up_to_date(project: Project, day: date, part: str) -> bool:
    built = DailyReport.objects.filter(project=project, day=day, part=part).exclude(draft=None).first()
    return built is not None and built.facts_digest == gather(project, day, part).digest


def anything_recorded(project: Project, day: date, of: Part) -> bool:
    """Whether the part of the day has anything to report."""
    then = Q(project=project, taken_at__gte=of.begins, taken_at__lt=of.ends)
    return (
        Record.objects.filter(then, kind__in=of.kinds).exists()
        or (of.tells(Discipline.INSPECTION) and Verification.objects.filter(then).exists())
        or worked_on(project, of)
        or arose_in(project, of)
        or bool(entries_of(project, day, of))
    )
