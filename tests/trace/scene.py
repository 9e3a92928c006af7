"""An issued report that rests on records, made straight from the models; the letters that a recall writes."""

from __future__ import annotations

from django.db.models import QuerySet

from accounts import vault
from accounts.models import Letter
from inspection.fieldwork.models import ThicknessRecord
from inspection.instruments.models import Verification
from reports.daily.models import Basis, DailyReport, ReportIssue
from tests.cast import DAY, Cast, Site


def issued(cast: Cast, site: Site, *records: ThicknessRecord) -> ReportIssue:
    file = vault.store(b"%PDF-1.4 " + site.project.code.encode(), name="r.pdf", media_type="application/pdf", by=None)
    report = DailyReport.objects.create(project=site.project, day=DAY, draft=file, facts_digest="1" * 64)
    issue = ReportIssue.objects.create(
        report=report, revision=1, file=file, facts_digest="1" * 64, issued_by=cast.quinn
    )
    checks = Verification.objects.filter(gauge__in=[record.gauge_id for record in records])
    Basis.objects.bulk_create(
        [Basis(issue=issue, kind="thickness", thing=record.pk) for record in records]
        + [Basis(issue=issue, kind="verification", thing=check.pk) for check in checks]
    )
    return issue


def written() -> QuerySet[Letter]:
    """The letters, but for those that tell whoever decided of their decision."""
    return Letter.objects.exclude(kind="decision")
