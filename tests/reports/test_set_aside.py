"""Issued reports to look at again: they come when something has changed, go when it was looked at, and come back."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry
from inspection.fieldwork.models import ThicknessRecord
from inspection.standing.models import Standing
from reports.daily import actions
from reports.daily.models import DailyReport, SetAside
from tests.cast import MORNING, Cast
from tests.reports.day import HOUR, measure, worked
from tests.reports.test_issue import built

HEAD = "Issued reports to look at again"


def moved(record: ThicknessRecord, state: str, *, later_s: int = 0, reason: str = "The gauge fell.") -> None:
    at = timezone.now() + timedelta(seconds=later_s)
    reasons = [reason] if state == "in_question" else []
    Standing.objects.filter(record=record).update(state=state, reasons=reasons, computed_at=at)


def listed(client: Client) -> bool:
    return HEAD in client.get(reverse("decisions")).content.decode()


def sent(client: Client, report: DailyReport, *, status: int = 302, **data: str) -> str:
    page = client.get(reverse("report", args=[report.pk])).content.decode()
    seen = page.split('name="seen" value="')[-1].split('"')[0]
    answer = client.post(reverse("report_set_aside", args=[report.pk]), {"seen": seen, **data})
    assert answer.status_code == status
    return answer.content.decode()


@pytest.fixture
def report(cast: Cast, client: Client) -> DailyReport:
    worked(cast)
    found = built(cast)
    actions.issue_report(cast.quinn, report=found)
    client.force_login(cast.quinn)
    return found


def test_what_came_up_is_set_aside_with_a_reason_and_comes_back_with_something_new(
    cast: Cast, client: Client, report: DailyReport
) -> None:
    record = ThicknessRecord.objects.get()
    moved(record, "in_question")
    assert listed(client)
    sent(client, report, status=422)
    assert not SetAside.objects.exists()
    sent(client, report, reason="The client knows; the area is measured again tomorrow.")
    assert not listed(client)
    page = " ".join(client.get(reverse("report", args=[report.pk])).content.decode().split())
    assert "let revision 1 stand: The client knows; the area is measured again tomorrow." in page
    assert "The gauge fell." in page
    entry = JournalEntry.objects.get(verb="report.set_aside")
    assert (entry.actor, entry.reason) == (cast.quinn, "The client knows; the area is measured again tomorrow.")
    moved(record, "in_question", later_s=5, reason="Its certificate was withdrawn.")
    assert listed(client)


def test_setting_aside_can_be_taken_back(cast: Cast, client: Client, report: DailyReport) -> None:
    moved(ThicknessRecord.objects.get(), "in_question")
    sent(client, report, reason="Known.")
    sent(client, report, reason="It was the wrong report.", back="1")
    assert listed(client)
    assert JournalEntry.objects.filter(verb="report.set_aside_taken_back").count() == 1


def test_what_came_up_after_the_page_was_shown_is_looked_at_first(
    cast: Cast, client: Client, report: DailyReport
) -> None:
    record = ThicknessRecord.objects.get()
    moved(record, "in_question")
    page = client.get(reverse("report", args=[report.pk])).content.decode()
    seen = page.split('name="seen" value="')[-1].split('"')[0]
    moved(record, "in_question", reason="Its certificate was withdrawn.")
    answer = client.post(reverse("report_set_aside", args=[report.pk]), {"seen": seen, "reason": "Known."})
    assert "Something else has come up" in answer.content.decode()
    assert not SetAside.objects.exists()


def test_a_report_that_told_the_doubt_itself_is_not_asked_about_until_the_doubt_is_gone(
    cast: Cast, client: Client
) -> None:
    record = worked(cast)
    moved(record, "in_question")
    report = built(cast)
    actions.issue_report(cast.quinn, report=report)
    client.force_login(cast.quinn)
    assert not listed(client)
    assert "stands otherwise now" not in client.get(reverse("report", args=[report.pk])).content.decode()
    moved(record, "sound", later_s=1)
    assert listed(client)
    page = client.get(reverse("report", args=[report.pk])).content.decode()
    assert "was told as in question and is sound now." in page


def test_a_record_corrected_since_is_asked_about_until_the_report_is_issued_anew(
    cast: Cast, client: Client, report: DailyReport
) -> None:
    record = ThicknessRecord.objects.get()
    measure(cast, MORNING + 2 * HOUR, mean_um=84, replaces=record, replacement_reason="Wrong area noted")
    assert listed(client)
    built(cast)
    actions.issue_report(cast.quinn, report=report, reason="Corrected")
    assert not listed(client)


def test_others_see_neither_reason_nor_way(cast: Cast, client: Client, report: DailyReport) -> None:
    moved(ThicknessRecord.objects.get(), "in_question")
    sent(client, report, reason="Between ourselves.")
    address = reverse("report_set_aside", args=[report.pk])
    for person, status in ((cast.clara, 403), (cast.ines, 403), (cast.carl, 404)):
        client.force_login(person)
        assert client.post(address, {"reason": "x"}).status_code == status
    client.force_login(cast.clara)
    page = client.get(reverse("report", args=[report.pk])).content.decode()
    assert "Between ourselves." not in page
    assert address not in page
