"""The pages and the API of reports, as each person meets them."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts import vault
from accounts.models import Person, Role
from inspection.fieldwork.models import ThicknessRecord
from inspection.standing.models import Standing
from reports.daily import actions
from reports.daily.models import DailyReport, ReportIssue
from reports.work import jobs
from reports.work.models import Job
from tests.cast import DAY, MORNING, Cast, person
from tests.reports.day import HOUR, climate, measure, worked
from tests.reports.test_issue import built


def client_of(someone: Person) -> Client:
    client = Client()
    client.force_login(someone)
    return client


def issued(cast: Cast) -> ReportIssue:
    worked(cast)
    return actions.issue_report(cast.quinn, report=built(cast))


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_each_person_lands_on_what_they_came_for(cast: Cast) -> None:
    landings = {
        someone.name: client_of(someone).get("/").headers["Location"]
        for someone in (cast.quinn, cast.ines, cast.clara, cast.audrey, cast.admin)
    }
    assert landings == {
        "Quinn Quality": reverse("decisions"),
        "Ines Inspector": reverse("today"),
        "Clara Client": reverse("board"),
        "Audrey Auditor": reverse("trace"),
        "Adam Admin": reverse("people"),
    }


def test_somebody_without_a_role_lands_on_their_own_page(cast: Cast) -> None:
    someone = person("Nora Newcomer", cast.company, Role.INSPECTOR)
    someone.grants.update(ended_at=MORNING)
    assert client_of(someone).get("/").headers["Location"] == reverse("me")


def test_an_inspector_has_a_draft_built_from_the_list(cast: Cast) -> None:
    worked(cast)
    client = client_of(cast.ines)
    answer = client.post(reverse("report_list"), {"project": cast.site.project.pk, "day": "2026-03-04"}, follow=True)
    report = DailyReport.objects.get()
    assert answer.redirect_chain == [(reverse("report", args=[report.pk]), 302)]
    assert "Waiting for a worker" in text(answer)
    job = Job.objects.get()
    jobs.run(job.pk)
    assert "Look at the draft" in text(client.get(reverse("report", args=[report.pk])))
    assert client.get(reverse("report_draft", args=[report.pk])).content.startswith(b"%PDF")


@pytest.mark.parametrize(
    ("day", "sentence"),
    [("2031-01-01", "has not come yet"), ("04.03.2026", "Give the day as 2026-03-04"), ("", "Choose the day")],
)
def test_a_day_that_cannot_be_reported_is_refused_beside_its_field(cast: Cast, day: str, sentence: str) -> None:
    answer = client_of(cast.ines).post(reverse("report_list"), {"project": cast.site.project.pk, "day": day})
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert not DailyReport.objects.exists()


def test_the_quality_manager_issues_and_the_client_reads(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    page = reverse("report", args=[report.pk])
    manager, client = client_of(cast.quinn), client_of(cast.clara)
    assert client.get(page).status_code == 404
    answer = manager.post(reverse("report_issue", args=[report.pk]), {"seen": report.facts_digest}, follow=True)
    assert "Issued. The client’s people are sent a link." in text(answer)
    assert "Revision 1" in text(client.get(page))
    assert "Draft" not in text(client.get(page))
    file = client.get(reverse("report_file", args=[report.pk, 1]))
    digest = hashlib.sha256(file.content).digest()
    assert ReportIssue.objects.get().file_id == digest.hex()
    assert file.headers["Content-Disposition"] == 'inline; filename="P-1-20260304-revision-1.pdf"'
    assert file.headers["X-Content-Type-Options"] == "nosniff"
    assert client.get(reverse("report_draft", args=[report.pk])).status_code == 404


def test_a_new_revision_without_reason_keeps_the_page_and_asks_for_it(cast: Cast) -> None:
    issue = issued(cast)
    climate(cast, MORNING + 3 * HOUR)
    report = built(cast)
    answer = client_of(cast.quinn).post(
        reverse("report_issue", args=[report.pk]), {"seen": report.facts_digest, "reason": " "}
    )
    assert answer.status_code == 422
    assert "Say why revision 1 is replaced." in text(answer)
    assert list(ReportIssue.objects.all()) == [issue]


def test_what_changed_while_the_page_was_open_is_not_issued(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    climate(cast, MORNING + 3 * HOUR)
    answer = client_of(cast.quinn).post(reverse("report_issue", args=[report.pk]), {"seen": report.facts_digest})
    assert answer.status_code == 422
    assert "build it again and look before issuing" in text(answer)


def test_an_issued_report_whose_evidence_came_into_question_is_marked(cast: Cast) -> None:
    issue = issued(cast)
    client = client_of(cast.clara)
    page, listing = reverse("report", args=[issue.report_id]), reverse("report_list")
    assert "In question" not in text(client.get(page)) + text(client.get(listing))
    Standing.objects.update(state="in_question", reasons=["The gauge fell at 10:00."])
    shown = text(client.get(page))
    assert "What the issued report rests on stands otherwise now." in shown
    assert "The thickness of A1 after Primer is in question. The gauge fell at 10:00." in shown
    assert "In question" in text(client.get(listing))


def test_a_corrected_record_is_told_on_the_issued_report(cast: Cast) -> None:
    issue = issued(cast)
    old = ThicknessRecord.objects.get(project=cast.site.project)
    measure(cast, MORNING + 2 * HOUR, seed=9, replaces=old, replacement_reason="Wrong area")
    shown = text(client_of(cast.clara).get(reverse("report", args=[issue.report_id])))
    assert "The thickness record of A1, Primer, has been corrected: Wrong area" in shown


def test_a_file_altered_by_one_byte_is_found_out(cast: Cast) -> None:
    issue = issued(cast)
    content = vault.content_of(issue.file)
    client, page = client_of(cast.clara), reverse("report_check")
    same = client.post(page, {"file": SimpleUploadedFile("r.pdf", content)})
    assert "Issued and unchanged" in text(same)
    altered = client.post(page, {"file": SimpleUploadedFile("r.pdf", content[:-1] + b"x")})
    assert "No issued report" in text(altered)


def test_a_digest_may_be_typed_instead(cast: Cast) -> None:
    issue = issued(cast)
    client, page = client_of(cast.clara), reverse("report_check")
    assert "Issued and unchanged" in text(client.post(page, {"digest": issue.file_id.upper()}))
    assert "Facts of an issued report" in text(
        client.post(page, {"digest": f" {issue.facts_digest[:32]} {issue.facts_digest[32:]}"})
    )
    wrong = client.post(page, {"digest": "abc"})
    assert (wrong.status_code, "This is no SHA-256" in text(wrong)) == (422, True)
    neither = client.post(page, {})
    assert (neither.status_code, "Choose a file or type a SHA-256" in text(neither)) == (422, True)


def test_a_report_of_a_foreign_project_is_not_confirmed(cast: Cast) -> None:
    issue = issued(cast)
    answer = client_of(cast.carl).post(reverse("report_check"), {"digest": issue.file_id})
    assert "No issued report" in text(answer)
    assert "P-1" not in text(answer)


def test_the_api_gives_issued_reports_and_their_files(cast: Cast) -> None:
    issue = issued(cast)
    client = client_of(cast.clara)
    (row,) = client.get(reverse("api_report_list")).json()["results"]
    assert (row["day"], row["project_code"], row["issues"][0]["sha256"]) == ("2026-03-04", "P-1", issue.file_id)
    assert client.get(reverse("api_report", args=[issue.report_id])).json() == row
    file = client.get(row["issues"][0]["file"], headers={"accept": "application/pdf"})
    assert hashlib.sha256(file.content).hexdigest() == issue.file_id
    gone = client.get(reverse("api_report_file", args=[issue.report_id, 7]), headers={"accept": "application/pdf"})
    assert (gone.status_code, gone.headers["Content-Type"]) == (404, "application/problem+json")


def test_lists_ask_as_often_for_thirty_reports_as_for_three(cast: Cast) -> None:
    issue = issued(cast)
    client = client_of(cast.quinn)

    def asked(address: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        return len(queries)

    addresses = [reverse(name) for name in ("report_list", "api_report_list", "decisions")]
    for number in range(3):
        _another(cast, issue, number)
    few = [asked(address) for address in addresses]
    for number in range(3, 30):
        _another(cast, issue, number)
    assert [asked(address) for address in addresses] == few


def _another(cast: Cast, issue: ReportIssue, number: int) -> None:
    report = DailyReport.objects.create(
        project=cast.site.project,
        day=DAY - timedelta(days=number + 1),
        draft=issue.file,
        facts_digest="1" * 64,
    )
    ReportIssue.objects.create(report=report, revision=1, file=issue.file, facts_digest="0" * 64, issued_by=cast.quinn)


def test_strangers_are_led_to_the_sign_in_and_foreign_people_find_nothing(cast: Cast) -> None:
    issue = issued(cast)
    addresses = [
        reverse("report", args=[issue.report_id]),
        reverse("report_file", args=[issue.report_id, 1]),
        reverse("report_draft", args=[issue.report_id]),
        reverse("api_report", args=[issue.report_id]),
        reverse("api_report_file", args=[issue.report_id, 1]),
    ]
    for someone in (cast.carl, cast.igor):
        client = client_of(someone)
        assert [client.get(address).status_code for address in addresses] == [404] * 5
        assert "2026-03-04" not in text(client.get(reverse("report_list")))
    assert [Client().get(address).status_code for address in addresses] == [302, 302, 302, 401, 401]
