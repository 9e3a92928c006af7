"""Reads of reports: the list, one report with its revisions, which file is which."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from accounts.models import Person
from reports.daily.answering import that_stand
from reports.daily.models import ClientWord, DailyReport, ReportIssue, Review, SetAside
from reports.daily.parts import Part, parts_of
from reports.daily.reviewing import standing
from reports.work.models import Job

# Where each role's work begins; a person of several roles lands on the first they hold.


def reports_seen_by(person: Person) -> QuerySet[DailyReport]:
    """Reports in the person's sight, newest day first, with `last_digest` and `last_revision` of what was issued."""
    last = ReportIssue.objects.filter(report=OuterRef("pk")).order_by("-revision")
    seen: QuerySet[DailyReport] = DailyReport.objects.visible_to(person)
    return (
        seen.select_related("project__client", "draft")
        .prefetch_related(
            Prefetch("issues", ReportIssue.objects.select_related("issued_by", "file")),
            Prefetch("reviews", Review.objects.select_related("by")),
            Prefetch("issues__words", ClientWord.objects.select_related("person")),
            Prefetch("issues__set_asides", SetAside.objects.select_related("by")),
        )
        .annotate(
            last_revision=Subquery(last.values("revision")[:1]), last_digest=Subquery(last.values("facts_digest")[:1])
        )
        .order_by("-day", "project__code", "order")
    )


def papers_of_day(person: Person, report: DailyReport) -> list[tuple[Part, DailyReport | None]]:
    """The other papers of the report's day: for the company each of them, None where no draft of it was built."""
    parts = parts_of(report.project, report.day)
    if len(parts) == 1:
        return []
    seen = {
        row.part: row for row in DailyReport.objects.visible_to(person).filter(project=report.project, day=report.day)
    }
    papers = [(part, seen.get(part.name)) for part in parts if part.name != report.part]
    return [(part, row) for part, row in papers if row or person.is_company]


def stage_of(report: DailyReport) -> str:
    """How far it has come: none, draft, reviewed, issued, commented, signed. It comes from `reports_seen_by`."""
    issues = list(report.issues.all())
    if not issues:
        reviewed = standing(report.reviews.all(), report.facts_digest)
        return "none" if report.draft_id is None else "reviewed" if reviewed else "draft"
    said = {word.what for word in that_stand(issues[-1])}
    if ClientWord.What.SIGNED in said:
        return "signed"
    return "commented" if said else "issued"


def jobs_of(reports: Iterable[DailyReport]) -> dict[UUID, Job]:
    """The newest job of each report."""
    found: dict[UUID, Job] = {}
    for job in Job.objects.filter(about__in=[str(report.pk) for report in reports]).order_by("queued_at"):
        found[UUID(job.about)] = job
    return found


def issues_seen_by(person: Person) -> QuerySet[ReportIssue]:
    return ReportIssue.objects.visible_to(person).select_related("report__project", "issued_by", "file")


def issue_with_digest(person: Person, digest: str) -> ReportIssue | None:
    """The newest issue in the person's sight whose file, or whose facts, have this SHA-256."""
    of_digest = Q(file=digest) | Q(facts_digest=digest)
    return issues_seen_by(person).filter(of_digest).order_by("-revision").first()
