"""Two people, or two workers, at once: one consistent end and one clear sentence. Real transactions on PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from accounts.models import Letter, Person, Role
from accounts.refusals import Conflict
from reports import actions, jobs
from reports.models import DailyReport, Job, ReportIssue
from tests import cast as casting
from tests.cast import DAY, Cast
from tests.reports.day import worked
from tests.reports.test_issue import built

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast() -> Cast:
    return casting.cast()


def together(*acts: Callable[[], Any]) -> list[Any]:
    """Do all at the same moment, each on its own connection; gives what each answered or raised."""
    start = Barrier(len(acts))

    def do(act: Callable[[], Any]) -> Any:
        start.wait(10)
        try:
            return act()
        except Exception as fault:
            return fault
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(do, acts))


def test_of_two_managers_issuing_at_once_one_wins(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    other = casting.person("Quentin Quality", cast.company, Role.QUALITY_MANAGER)

    def issue(by: Person) -> Callable[[], ReportIssue]:
        return lambda: actions.issue_report(by, report=DailyReport.objects.get(pk=report.pk))

    answers = together(issue(cast.quinn), issue(other))
    (issued,) = [answer for answer in answers if isinstance(answer, ReportIssue)]
    (refused,) = [answer for answer in answers if isinstance(answer, Conflict)]
    assert f"Revision 1 was issued by {issued.issued_by.name}" in str(refused)
    assert ReportIssue.objects.get() == issued
    assert Letter.objects.filter(kind="report-issued").count() == 1


def test_of_two_workers_with_the_same_message_one_works(cast: Cast) -> None:
    worked(cast)
    job = actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)
    answers = together(*[lambda: jobs.run(job.pk)] * 4)
    done = [answer for answer in answers if answer is not None]
    assert [answer.state for answer in done] == [Job.State.DONE]
    assert Job.objects.get().attempts == 1


def test_the_same_report_asked_for_by_several_at_once_is_one_job(cast: Cast) -> None:
    worked(cast)

    def ask() -> Job:
        return actions.queue_report(cast.quinn, project=cast.site.project, day=DAY)

    answers = together(*[ask] * 4)
    assert {type(answer) for answer in answers} == {Job}, answers
    assert len({answer.pk for answer in answers}) == 1
    assert DailyReport.objects.count() == Job.objects.count() == 1


def test_reminders_written_by_two_beats_at_once_are_one_letter_each(cast: Cast) -> None:
    from reports.reminders import remind
    from tests.reports.test_reminders import on

    answers = together(*[lambda: remind(on(7))] * 3)
    assert sum(answers) == Letter.objects.filter(kind="certificate-expiry").count() == 2, answers
