"""From asking for a report to its issued revisions, and who hears of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.http import Http404
from django.utils import timezone

from accounts import vault
from accounts.models import JournalEntry, Letter
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from reports.daily import actions
from reports.daily.models import DailyReport, ReportIssue
from reports.work import jobs
from reports.work.models import Job
from tests.cast import DAY, MORNING, Cast
from tests.reports.day import HOUR, climate, worked


def built(cast: Cast) -> DailyReport:
    job = actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    ended = jobs.run(job.pk)
    assert ended is not None
    assert ended.state == Job.State.DONE, ended.last_error
    return DailyReport.objects.get(project=cast.site.project, day=DAY)


def test_a_draft_is_built_from_the_days_records(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    assert report.draft is not None
    assert report.draft.name == "P-1-20260304-draft.pdf"
    assert vault.content_of(report.draft).startswith(b"%PDF")


def test_building_again_from_the_same_facts_changes_nothing(cast: Cast) -> None:
    worked(cast)
    draft = built(cast).draft_id
    entries = JournalEntry.objects.filter(verb="report.built")
    assert entries.count() == 1
    assert built(cast).draft_id == draft
    assert entries.count() == 1


def test_a_day_to_come_has_no_report(cast: Cast) -> None:
    tomorrow = cast.site.project.day_of(timezone.now()) + timedelta(days=1)
    with pytest.raises(Refused, match="has not come yet"):
        actions.queue_report(cast.quinn, project=cast.site.project, day=tomorrow)


def test_issuing_fixes_file_digest_and_revision(cast: Cast) -> None:
    record = worked(cast)
    report = built(cast)
    issue = actions.issue_report(cast.quinn, report=report)
    assert (issue.revision, issue.facts_digest) == (1, report.facts_digest)
    assert issue.basis.get(kind="thickness").thing == record.pk
    assert issue.basis.filter(kind="verification").count() == 2
    entry = JournalEntry.objects.get(verb="report.issued")
    told = {"revision": 1, "facts": issue.facts_digest, "file": issue.file_id}
    assert entry.after == {**told, "review": str(report.reviews.get().pk)}


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_refuses_to_change_an_issue(cast: Cast, change: str) -> None:
    worked(cast)
    issue = actions.issue_report(cast.quinn, report=built(cast))
    rows = ReportIssue.objects.filter(pk=issue.pk)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        rows.update(revision=9) if change == "update" else rows._raw_delete(rows.db)
    assert ReportIssue.objects.get(pk=issue.pk).revision == 1


def test_the_same_facts_are_not_issued_twice(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    actions.issue_report(cast.quinn, report=report, at=MORNING)
    with pytest.raises(Conflict, match=r"Revision 1 was issued by Quinn Quality on 2026-03-04 07:00 .* nothing new"):
        actions.issue_report(cast.quinn, report=report)
    assert ReportIssue.objects.count() == 1


def test_changed_facts_make_a_new_revision_that_needs_a_reason(cast: Cast) -> None:
    worked(cast)
    first = actions.issue_report(cast.quinn, report=built(cast))
    climate(cast, MORNING + 3 * HOUR)
    report = built(cast)
    with pytest.raises(Refused, match="Say why revision 1 is replaced") as refused:
        actions.issue_report(cast.quinn, report=report)
    assert refused.value.faults[0].field == "reason"
    second = actions.issue_report(cast.quinn, report=report, reason="A climate record came late")
    assert (second.revision, second.reason) == (2, "A climate record came late")
    assert second.file_id != first.file_id
    assert vault.content_of(first.file) != vault.content_of(second.file)


def test_records_that_came_after_the_draft_are_not_issued_unseen(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    climate(cast, MORNING + 3 * HOUR)
    with pytest.raises(Conflict, match="build it again and look"):
        actions.issue_report(cast.quinn, report=report)


def test_a_draft_rebuilt_since_the_page_was_opened_is_not_issued_unseen(cast: Cast) -> None:
    worked(cast)
    seen = built(cast).facts_digest
    climate(cast, MORNING + 3 * HOUR)
    report = built(cast)
    with pytest.raises(Conflict, match="build it again and look"):
        actions.issue_report(cast.quinn, report=report, seen=seen)


def test_what_was_never_built_is_not_issued(cast: Cast) -> None:
    worked(cast)
    actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    with pytest.raises(Refused, match="not been built yet"):
        actions.issue_report(cast.quinn, report=DailyReport.objects.get())


def test_the_clients_people_are_sent_a_link_and_no_one_else(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    actions.issue_report(cast.quinn, report=report)
    letter = Letter.objects.get()
    assert letter.recipient == cast.clara.email
    assert f"/reports/{report.pk}/" in letter.body
    assert letter.subject == "Daily report P-1-20260304, revision 1 issued"


def test_only_a_quality_manager_issues(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    for someone in (cast.ines, cast.clara, cast.audrey, cast.admin):
        with pytest.raises(NotAllowed):
            actions.issue_report(someone, report=report)


def test_a_stranger_cannot_ask_for_a_report(cast: Cast) -> None:
    with pytest.raises(Http404):
        actions.queue_report(cast.igor, project=cast.site.project, day=DAY)
    for outsider in (cast.clara, cast.audrey):
        with pytest.raises(NotAllowed):
            actions.queue_report(outsider, project=cast.site.project, day=DAY)


def test_the_day_that_ended_gets_its_draft_by_itself_once(cast: Cast) -> None:
    worked(cast)
    next_morning = MORNING + timedelta(days=1)
    (job,) = actions.queue_daily_reports(next_morning)
    jobs.run(job.pk)
    report = DailyReport.objects.get()
    assert (report.project, report.day) == (cast.site.project, DAY)
    assert actions.queue_daily_reports(next_morning) == []
    climate(cast, MORNING + 3 * HOUR)
    assert len(actions.queue_daily_reports(next_morning)) == 1


def test_days_without_a_worker_are_made_up_for_a_week(cast: Cast) -> None:
    worked(cast)
    assert len(actions.queue_daily_reports(MORNING + timedelta(days=7))) == 1
    assert actions.queue_daily_reports(MORNING + timedelta(days=8)) == []


def test_what_comes_in_weeks_late_has_the_draft_of_its_own_day_built_again(cast: Cast) -> None:
    worked(cast)
    built(cast)
    late = MORNING + timedelta(days=30)
    assert actions.queue_daily_reports(late) == []
    with time_machine.travel(late, tick=False):
        climate(cast, MORNING + 3 * HOUR)
    (job,) = actions.queue_daily_reports(late + HOUR)
    assert DailyReport.objects.get(pk=job.about).day == DAY
    jobs.run(job.pk)
    assert actions.queue_daily_reports(late + 2 * HOUR) == []
    assert actions.queue_daily_reports(late + timedelta(days=9)) == []


def test_outsiders_see_a_report_only_once_it_is_issued(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    everyone = (cast.quinn, cast.ines, cast.igor, cast.clara, cast.carl, cast.audrey)

    def sight() -> list[str]:
        return [someone.name for someone in everyone if DailyReport.objects.visible_to(someone).exists()]

    assert sight() == ["Quinn Quality", "Ines Inspector"]
    actions.issue_report(cast.quinn, report=report)
    assert sight() == ["Quinn Quality", "Ines Inspector", "Clara Client", "Audrey Auditor"]
