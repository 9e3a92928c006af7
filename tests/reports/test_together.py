"""Two people, or two workers, at once: one consistent end and one clear sentence. Real transactions on PostgreSQL."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import connection, transaction
from django.http import Http404
from django.utils import timezone

from accounts import post
from accounts.models import Letter, Person, Role
from inspection.foundation.refusals import Conflict
from inspection.instruments.models import Certificate, Gauge
from reports import tasks
from reports.attention.models import Reminded
from reports.attention.reminders import remind
from reports.daily import actions
from reports.daily.dividing import declare_reporting
from reports.daily.models import DailyReport, Reporting, ReportIssue
from reports.work import jobs
from reports.work.models import Job
from tests import cast as casting
from tests.cast import DAY, Cast
from tests.past_triggers import rewrite
from tests.reports.day import worked
from tests.reports.test_issue import built
from tests.reports.test_reminders import on
from tests.reports.test_worker import until

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


# --- reminders --------------------------------------------------------------------------------------------------------


def letters() -> list[str]:
    """Who has had a reminder; by its rows, whether each says the same."""
    told = Counter(Reminded.objects.values_list("letter__recipient", flat=True))
    written = Letter.objects.filter(kind="reminders").order_by("recipient")
    assert [told[letter.recipient] for letter in written] == [letter.body.count("\n- ") for letter in written]
    return [letter.recipient.partition("@")[0] for letter in written]


def test_reminders_written_by_several_workers_at_once_are_one_letter_each(cast: Cast) -> None:
    Gauge.objects.update(holder=cast.ines)
    answers = together(*[lambda: remind(on(-7))] * 4)
    assert sum(answers) == 3, answers
    assert letters() == ["adam", "ines", "quinn"]


def test_workers_on_either_side_of_midnight_tell_each_thing_once(cast: Cast) -> None:
    answers = together(lambda: remind(on(7)), lambda: remind(on(6)), lambda: remind(on(7)), lambda: remind(on(6)))
    assert sum(answers) == 1, answers
    assert letters() == ["quinn"]


def test_a_day_is_either_issued_whole_or_divided_never_both(cast: Cast) -> None:
    worked(cast)
    report = built(cast)

    def divide() -> Reporting:
        return declare_reporting(cast.quinn, project=cast.site.project, one_a="discipline", from_day=DAY)

    answers = together(lambda: actions.issue_report(cast.quinn, report=DailyReport.objects.get(pk=report.pk)), divide)
    (refused,) = [answer for answer in answers if isinstance(answer, Exception)]
    report.refresh_from_db()
    if ReportIssue.objects.exists():
        assert isinstance(refused, Conflict), refused
        assert (report.overtaken_at, Reporting.objects.count()) == (None, 0)
    else:
        assert isinstance(refused, Conflict | Http404), refused
        assert report.overtaken_at
        assert Reporting.objects.count() == 1


def somebody_waits_for_us() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_locks WHERE NOT granted AND pg_backend_pid() = ANY(pg_blocking_pids(pid))")
        return cursor.fetchone() is not None


@pytest.mark.worker
def test_a_worker_killed_between_a_letter_and_its_rows_tells_nobody_twice_and_nobody_never(
    cast: Cast, celery_worker_process: Any
) -> None:
    """The test holds the row that the manager's letter wants to write, and kills the worker while it waits for it."""
    Gauge.objects.update(holder=cast.ines)
    today = timezone.now().astimezone(UTC).date()
    rewrite(Certificate.objects.all(), expires=today + timedelta(days=5))
    post.write("other", "other", to=cast.quinn, subject="Another letter", body="Of another matter")
    worker = celery_worker_process()
    with transaction.atomic():
        Reminded.objects.create(
            person=cast.quinn, kind="certificate", thing=cast.gauge_certificate.pk, due=today + timedelta(days=5),
            threshold=7, day=today, letter=Letter.objects.get(),
        )  # fmt: skip
        tasks.remind.delay()
        until(somebody_waits_for_us, "the worker has written the manager's letter and waits")
        assert letters() == ["ines"]
        worker.kill()
        worker.wait()
        transaction.set_rollback(True)
    assert letters() == ["ines"]
    assert remind() == 1
    assert letters() == ["ines", "quinn"]
