"""From draft to review, issue, and the client's comment or signature; each with its way back."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from accounts import vault
from accounts.models import JournalEntry, Letter, Person, Role, RoleGrant
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from reports.daily import actions, answering, reviewing
from reports.daily.models import DailyReport
from tests.cast import MORNING, Cast
from tests.reports.day import HOUR, climate, worked
from tests.reports.test_content import pages
from tests.reports.test_issue import built
from tests.works.test_lots import words

pytestmark = pytest.mark.django_db
AT = MORNING + timedelta(days=1)


def verbs() -> list[str]:
    rows = JournalEntry.objects.filter(verb__startswith="report.").order_by("pk")
    return [verb.removeprefix("report.") for verb in rows.values_list("verb", flat=True)]


def test_a_draft_is_reviewed_by_another_than_wrote_it_taken_back_and_reviewed_again(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    seen = report.facts_digest
    with pytest.raises(Refused, match="somebody else has to look"):
        reviewing.review(cast.ines, report=report, seen=seen)
    with pytest.raises(NotAllowed):
        reviewing.review(cast.clara, report=report, seen=seen)
    with pytest.raises(Conflict, match="have changed"):
        reviewing.review(cast.quinn, report=report, seen="0" * 64)
    reviewing.review(cast.quinn, report=report, seen=seen, note="Compared with the field notes", at=AT)
    with pytest.raises(Conflict, match="Quinn Quality has reviewed it already"):
        reviewing.review(cast.quinn, report=report, seen=seen)
    with pytest.raises(Refused, match="Say why"):
        reviewing.take_review_back(cast.quinn, report=report, reason=" ")
    reviewing.take_review_back(cast.quinn, report=report, reason="Page 2 not seen")
    with pytest.raises(Refused, match="No review"):
        reviewing.take_review_back(cast.quinn, report=report, reason="Again")
    reviewing.review(cast.quinn, report=report, seen=seen, at=AT)
    issue = actions.issue_report(cast.quinn, report=report, at=AT + HOUR)
    with pytest.raises(Conflict, match="has been issued"):
        reviewing.take_review_back(cast.quinn, report=report, reason="Too late")
    assert verbs() == ["opened", "built", "reviewed", "review_taken_back", "reviewed", "issued"]
    paper = " ".join(pages(vault.content_of(issue.file)))
    assert "Reviewed by Issued by For the client" in paper
    assert "Quinn Quality, The Company 2026-03-05 07:00 Quinn Quality, The Company 2026-03-05 08:00" in paper


def test_whoever_recorded_issues_only_what_another_has_reviewed(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    RoleGrant.objects.create(person=cast.ines, role=Role.QUALITY_MANAGER)
    ines = Person.objects.get(pk=cast.ines.pk)
    with pytest.raises(Refused, match="somebody else has to look"):
        actions.issue_report(ines, report=report)
    with pytest.raises(Refused, match="wrote nothing of it"):
        actions.issue_report(cast.quinn, report=report, not_reviewed="On my own")
    reviewing.review(cast.quinn, report=report, seen=report.facts_digest)
    assert actions.issue_report(ines, report=report).revision == 1
    # Other facts want another look.
    climate(cast, MORNING + 6 * HOUR)
    report = built(cast)
    assert reviewing.standing(report.reviews.all(), report.facts_digest) is None
    with pytest.raises(Refused, match="somebody else has to look"):
        actions.issue_report(ines, report=report, reason="A record came late")


def test_where_nobody_else_may_review_it_is_issued_with_a_reason_that_the_paper_tells(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    seen = report.facts_digest
    RoleGrant.objects.create(person=cast.ines, role=Role.QUALITY_MANAGER)
    ines, alone = Person.objects.get(pk=cast.ines.pk), "Only one person works here"
    with pytest.raises(Refused, match="Somebody else can review it: Quinn Quality"):
        actions.issue_report(ines, report=report, not_reviewed=alone)
    RoleGrant.objects.filter(person=cast.quinn).update(ended_at=AT)
    with pytest.raises(Refused, match="nobody else here may review it") as refused:
        actions.issue_report(ines, report=report)
    assert refused.value.faults[0].field == "not_reviewed"
    client, page = Client(), f"/reports/{report.pk}/"
    client.force_login(ines)
    assert "Why it is issued without the review of another person" in words(client.get(page))
    assert client.post(f"{page}issue/", {"seen": seen, "not_reviewed": " "}).status_code == 422
    assert client.post(f"{page}issue/", {"seen": seen, "not_reviewed": alone}).status_code == 302
    issue = report.issues.get()
    assert (issue.not_reviewed, report.reviews.count()) == (alone, 0)
    paper = " ".join(pages(vault.content_of(issue.file)))
    assert f"Not reviewed by another person: {alone}" in paper.replace("  ", " ")
    assert JournalEntry.objects.get(verb="report.issued").after["not_reviewed"] == alone
    assert f"By nobody else: {alone}" in words(client.get(page))
    (told,) = client.get(f"/api/reports/{report.pk}/").json()["issues"]
    assert (told["not_reviewed"], told["reviewed_by"], told["reviewed_at"]) == (alone, None, None)


def test_the_client_comments_signs_and_takes_back_and_the_issuer_is_told(cast: Cast) -> None:
    worked(cast)
    issue = actions.issue_report(cast.quinn, report=built(cast))
    assert verbs()[-2:] == ["reviewed", "issued"], "issuing what nobody had reviewed is the review"
    with pytest.raises(NotAllowed):
        answering.sign(cast.quinn, issue=issue)
    said = answering.comment(cast.clara, issue=issue, text=" Which tip? ")
    with pytest.raises(Conflict, match="the same"):
        answering.comment(cast.clara, issue=issue, text="Which tip?")
    signed = answering.sign(cast.clara, issue=issue)
    with pytest.raises(Conflict, match="signed this revision already"):
        answering.sign(cast.clara, issue=issue)
    assert [word.text for word in answering.that_stand(issue)] == ["Which tip?", ""]
    answering.take_back(cast.clara, word=signed, reason="Signed the wrong day")
    with pytest.raises(Conflict, match="already"):
        answering.take_back(cast.clara, word=signed, reason="Again")
    assert answering.that_stand(issue) == [said]
    told = Letter.objects.filter(kind="report-answered", person=cast.quinn).order_by("pk")
    assert [letter.subject.split(" Daily")[0] for letter in told] == [
        "Clara Client, Owner One commented on", "Clara Client, Owner One signed",
        "Clara Client, Owner One took a word back on",
    ]  # fmt: skip
    climate(cast, MORNING + 6 * HOUR)
    second = actions.issue_report(cast.quinn, report=built(cast), reason="A record came late")
    with pytest.raises(Conflict, match="replaced by revision 2"):
        answering.sign(cast.clara, issue=issue)
    assert answering.sign(cast.clara, issue=second, text="Seen").signed.startswith("Clara Client, Owner One")
    assert DailyReport.objects.count() == 1


def test_pages_and_api_lead_through_review_issue_comment_and_signature(cast: Cast) -> None:
    worked(cast)
    report = built(cast)
    quinn, ines, clara = Client(), Client(), Client()
    for client, who in ((quinn, cast.quinn), (ines, cast.ines), (clara, cast.clara)):
        client.force_login(who)
    page, api = f"/reports/{report.pk}/", f"/api/reports/{report.pk}/"
    assert "somebody else has to look the draft" in words(ines.get(page))
    assert "I have looked it through" in words(quinn.get(page))
    seen = quinn.get(api).json()["facts_sha256"]
    told = quinn.post(f"{api}review/", {"seen": seen}, content_type="application/json")
    assert (told.status_code, told.json()["stage"]) == (200, "reviewed")
    assert "Quinn Quality looked the draft through" in words(ines.get(page))
    assert quinn.post(f"{page}unreview/", {"reason": "Not all of it"}).status_code == 302
    assert quinn.post(f"{page}review/", {"seen": seen, "note": "Now all of it"}).status_code == 302
    assert clara.get(page).status_code == 404, "what is not issued is the company's own"
    issued = actions.issue_report(cast.quinn, report=report)
    assert "Comment on it" in words(clara.get(page))
    # Who had looked it through stands beside the revision, as its paper says.
    review = report.reviews.last()
    (told,) = clara.get(api).json()["issues"]
    assert (told["reviewed_by"], review.by, issued.revision) == ("Quinn Quality", cast.quinn, 1)
    assert "Reviewed Issued Why" in words(clara.get(page))
    assert f"{review.at:%Y-%m-%d %H:%M} Quinn Quality {issued.issued_at:%Y-%m-%d %H:%M} Quinn Quality" in words(
        clara.get(page)
    )
    assert clara.post(f"{page}comment/", {"text": ""}).status_code == 422
    assert clara.post(f"{page}comment/", {"text": "Which tip?"}).status_code == 302
    word = clara.get(api).json()["issues"][0]["words"][0]
    assert (word["what"], word["text"]) == ("comment", "Which tip?")
    assert clara.get(api).json()["facts_sha256"] == "", "the draft's facts are the company's own"
    assert "“Which tip?” Take it back" in words(clara.get(page))
    told = clara.post(f"{api}revisions/1/sign/", {"text": "Seen"}, content_type="application/json")
    assert (told.status_code, told.json()["stage"]) == (200, "signed")
    assert clara.post(f"/reports/words/{word['id']}/take-back/", {"reason": "Found it"}).status_code == 302
    shown = words(quinn.get(page))
    assert "comment, “Which tip?” (taken back later)" in shown
    assert "signed, “Seen”" in shown
    assert "Sign it for the client" not in words(clara.get(page))
