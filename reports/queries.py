"""Reads of reports: the list, one report with its revisions, what has fallen into doubt, which file is which."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from accounts.models import Person, Role
from inspection.fieldwork.models import ClimateRecord, ThicknessRecord
from inspection.standing.models import Standing
from reports.models import Basis, DailyReport, Job, ReportIssue

# Where each role's work begins; a person of several roles lands on the first they hold.
LANDING = (
    (Role.QUALITY_MANAGER, "decisions"),
    (Role.INSPECTOR, "today"),
    (Role.CLIENT, "board"),
    (Role.AUDITOR, "trace"),
    (Role.ADMINISTRATOR, "people"),
)


def landing_of(person: Person) -> str:
    """The name of the page a person lands on."""
    return next((page for role, page in LANDING if person.has_role(role)), "me")


def reports_seen_by(person: Person) -> QuerySet[DailyReport]:
    """Reports in the person's sight, newest day first, with `last_digest` and `last_revision` of what was issued."""
    last = ReportIssue.objects.filter(report=OuterRef("pk")).order_by("-revision")
    seen: QuerySet[DailyReport] = DailyReport.objects.visible_to(person)
    return (
        seen.select_related("project__client", "draft")
        .prefetch_related(Prefetch("issues", ReportIssue.objects.select_related("issued_by", "file")))
        .annotate(
            last_revision=Subquery(last.values("revision")[:1]), last_digest=Subquery(last.values("facts_digest")[:1])
        )
        .order_by("-day", "project__code")
    )


def jobs_of(reports: Iterable[DailyReport]) -> dict[UUID, Job]:
    """The newest job of each report."""
    found: dict[UUID, Job] = {}
    for job in Job.objects.filter(about__in=[str(report.pk) for report in reports]).order_by("queued_at"):
        found[UUID(job.about)] = job
    return found


def issues_seen_by(person: Person) -> QuerySet[ReportIssue]:
    return ReportIssue.objects.visible_to(person).select_related("report__project", "issued_by", "file")  # type: ignore[return-value]


def issue_with_digest(person: Person, digest: str) -> ReportIssue | None:
    """The newest issue in the person's sight whose file, or whose facts, have this SHA-256."""
    of_digest = Q(file=digest) | Q(facts_digest=digest)
    return issues_seen_by(person).filter(of_digest).order_by("-revision").first()


def doubts_of(issues: Sequence[ReportIssue]) -> dict[UUID, list[str]]:
    """What has come up since against the evidence of each issue, a sentence each, in a fixed number of queries."""
    basis = Basis.objects.filter(issue__in=[issue.pk for issue in issues])
    against = _questioned(basis)
    for thing, sentences in _corrected(basis).items():
        against.setdefault(thing, []).extend(sentences)
    doubts: dict[UUID, list[str]] = {issue.pk: [] for issue in issues}
    for issue, thing in basis.filter(thing__in=list(against)).order_by("pk").values_list("issue", "thing"):
        doubts[issue] += against[thing]
    return doubts


def _questioned(basis: QuerySet[Basis]) -> dict[UUID, list[str]]:
    records = basis.filter(kind=Basis.Kind.THICKNESS).values("thing")
    rows = Standing.objects.filter(record__in=records, state=Standing.State.IN_QUESTION)
    return {
        row.record_id: [" ".join((_words(row.record), *row.reasons))]
        for row in rows.select_related("record__area", "record__coat")
    }


def _words(record: ThicknessRecord) -> str:
    return f"The thickness of {record.area.label} after {record.coat.name} is in question."


def _corrected(basis: QuerySet[Basis]) -> dict[UUID, list[str]]:
    found: dict[UUID, list[str]] = defaultdict(list)
    kinds: tuple[tuple[Any, str], ...] = ((ThicknessRecord, Basis.Kind.THICKNESS), (ClimateRecord, Basis.Kind.CLIMATE))
    for model, kind in kinds:
        later = model.objects.filter(replaces__in=basis.filter(kind=kind).values("thing"))
        for record in later.select_related("area", "coat"):
            found[record.replaces_id].append(
                f"The {kind} record of {record.area.label}, {record.coat.name}, has been corrected: "
                f"{record.replacement_reason}"
            )
    return found
